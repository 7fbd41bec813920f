"""Rigid motions as 4x4 matrices named ``T_target_source``: they map source coordinates to target."""

import numpy as np
import scipy
from numpy.typing import NDArray

from seatwright.errors import ValueOutOfRange

__all__ = [
    "FloatArray",
    "Transform",
    "apply_transform",
    "invert_transform",
    "make_transform",
    "rotation_vector_rad",
]

FloatArray = NDArray[np.float64]
Transform = NDArray[np.float64]
"""Array of shape (4, 4): a rotation block, a translation in mm, and the row 0 0 0 1."""


def make_transform(rotation_vector_rad: FloatArray, translation_mm: FloatArray) -> Transform:
    """Build a 4x4 transform: rotate by a rotation vector (rad), then translate (mm).

    Examples
    --------
    >>> import numpy as np
    >>> T = make_transform(np.array([0, 0, np.pi / 2]), np.array([1.0, 0, 0]))
    >>> np.round(apply_transform(T, np.array([[1.0, 0, 0]])), 12) + 0.0
    array([[1., 1., 0.]])
    """
    transform = np.eye(4)
    rotation = scipy.spatial.transform.Rotation.from_rotvec(np.asarray(rotation_vector_rad, dtype=float))
    transform[:3, :3] = rotation.as_matrix()
    transform[:3, 3] = translation_mm
    return transform


def invert_transform(T_target_source: Transform) -> Transform:
    """Return ``T_source_target``, exactly rigid."""
    _require_rigid(T_target_source)
    inverse = np.eye(4)
    inverse[:3, :3] = T_target_source[:3, :3].T
    inverse[:3, 3] = -T_target_source[:3, :3].T @ T_target_source[:3, 3]
    return inverse


def apply_transform(T_target_source: Transform, points_mm: FloatArray) -> FloatArray:
    """Map points of shape (n, 3) from the source frame to the target frame, mm."""
    moved: FloatArray = np.asarray(points_mm, dtype=float) @ T_target_source[:3, :3].T + T_target_source[:3, 3]
    return moved


def rotation_vector_rad(T_target_source: Transform) -> FloatArray:
    """Return the rotation part as a rotation vector of shape (3,), rad."""
    return np.asarray(scipy.spatial.transform.Rotation.from_matrix(T_target_source[:3, :3]).as_rotvec(), dtype=float)


def _require_rigid(transform: Transform) -> None:
    rotation = transform[:3, :3]
    off = float(np.abs(rotation @ rotation.T - np.eye(3)).max())
    if transform.shape != (4, 4) or off > 1e-6 or np.linalg.det(rotation) < 0:
        raise ValueOutOfRange("the matrix is not a rigid motion (rotation and translation only)")
