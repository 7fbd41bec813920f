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


def across(axis: FloatArray, towards: FloatArray | None = None) -> FloatArray:
    """Return two orthonormal rows across a unit axis, shape (2, 3), right-handed with it.

    The first one points `towards` (its part across the axis), so that the pair turns with the case; without it, or when
    it lies along the axis, the pair is fixed by the frame.

    Examples
    --------
    >>> across([0.0, 0.0, 1.0], [3.0, 0.0, 4.0])
    array([[1., 0., 0.],
           [0., 1., 0.]])
    """
    along = np.asarray(axis, dtype=float)
    if towards is not None:
        first = np.asarray(towards, dtype=float) - along * float(np.dot(along, towards))
        size = float(np.linalg.norm(first))
        if size > 1e-6 * max(float(np.linalg.norm(towards)), 1e-9):
            first = first / size
            return np.array([first, cross(along, first)])
    first = cross(np.array([1.0, 0.0, 0.0]) if abs(along[0]) < 0.9 else np.array([0.0, 1.0, 0.0]), along)
    first /= np.linalg.norm(first)
    return np.array([first, cross(along, first)])


def skew(arm: FloatArray) -> FloatArray:
    """Return the matrix (3, 3) that turns a rotation vector into the shift of a point at `arm`: omega x arm."""
    x, y, z = arm
    return np.array([[0, z, -y], [-z, 0, x], [y, -x, 0]])
