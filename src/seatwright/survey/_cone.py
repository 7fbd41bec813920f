"""One cone of directions: a pole and a half angle; a half-space is a cone of 90 degrees."""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.quantities import FloatArray

__all__ = ["Cone", "angle_between_rad", "half_space", "pair_across", "point_on_cone"]


@dataclass(frozen=True, slots=True, eq=False)
class Cone:
    """All directions within a half angle of a pole.

    Attributes
    ----------
    pole : ndarray of shape (3,)
        Unit vector.
    half_angle_rad : float
        0 to pi; pi/2 is a half-space whose inward normal is the pole.
    feature : str
        What it belongs to, such as ``slide-35``.
    limit : str
        Which limit of it, in words.
    """

    pole: FloatArray
    half_angle_rad: float
    feature: str = ""
    limit: str = ""


def angle_between_rad(one: FloatArray, other: FloatArray) -> float:
    """Angle between two vectors of shape (3,), 0 to pi, exact near 0 and pi.

    Examples
    --------
    >>> round(math.degrees(angle_between_rad(np.array([0, 0, 2.0]), np.array([0, 1.0, 1.0]))), 6)
    45.0
    """
    return float(math.atan2(float(np.linalg.norm(np.cross(one, other))), float(np.dot(one, other))))


def half_space(inward_normal: FloatArray, feature: str = "", limit: str = "") -> Cone:
    """Return the directions d with n . d >= 0.

    Parameters
    ----------
    inward_normal : ndarray of shape (3,)
        Of any length but zero.
    feature, limit : str
        What it belongs to and which limit of it, in words.
    """
    return Cone(inward_normal / np.linalg.norm(inward_normal), math.pi / 2, feature, limit)


def point_on_cone(cone: Cone, azimuth_rad: float) -> FloatArray:
    """Direction on a cone's edge at an azimuth about its pole, shape (3,)."""
    pole = cone.pole / np.linalg.norm(cone.pole)
    first, second = pair_across(pole)
    around = first * math.cos(azimuth_rad) + second * math.sin(azimuth_rad)
    return np.asarray(pole * math.cos(cone.half_angle_rad) + around * math.sin(cone.half_angle_rad))


def pair_across(pole: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two unit vectors across a unit vector, right-handed with it, fixed by the frame alone."""
    side = np.array([1.0, 0.0, 0.0]) if abs(pole[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first = np.cross(side, pole)
    first /= np.linalg.norm(first)
    return first, np.cross(pole, first)
