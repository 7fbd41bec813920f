"""Small vector algebra for single points: plain arithmetic, many times faster than the general array routine."""

import numpy as np

from seatwright.quantities import FloatArray

__all__ = ["across", "cross", "skew"]


def cross(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the cross product of two vectors of shape (3,).

    Examples
    --------
    >>> cross([1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    array([0., 0., 1.])
    """
    ax, ay, az = a
    bx, by, bz = b
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def across(axis: FloatArray) -> FloatArray:
    """Return two orthonormal rows across a unit axis, shape (2, 3), right-handed with it.

    Examples
    --------
    >>> across([0.0, 0.0, 1.0])
    array([[ 0., -1.,  0.],
           [ 1.,  0.,  0.]])
    """
    helper = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first = cross(helper, np.asarray(axis))
    first /= np.linalg.norm(first)
    return np.array([first, cross(np.asarray(axis), first)])


def skew(arm: FloatArray) -> FloatArray:
    """Return the matrix (3, 3) that turns a rotation vector into the shift of a point at `arm`: omega x arm."""
    x, y, z = arm
    return np.array([[0, z, -y], [-z, 0, x], [y, -x, 0]])
