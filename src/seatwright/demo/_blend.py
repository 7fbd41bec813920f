"""Smooth unions and intersections of fields, and small solids. Values in mm, negative inside."""

import numpy as np

from seatwright.quantities import FloatArray

__all__ = ["box_distance", "capsule_distance", "ease", "frustum_distance", "join_smoothly", "meet_smoothly"]


def join_smoothly(first: FloatArray, second: FloatArray, radius_mm: float) -> FloatArray:
    """Return the union of two fields, rounded where they lie within `radius_mm` of each other and exact elsewhere.

    Examples
    --------
    >>> import numpy as np
    >>> join_smoothly(np.array([0.0, 0.0]), np.array([0.0, 2.0]), 1.0)
    array([-0.25,  0.  ])
    """
    blend: FloatArray = np.maximum(radius_mm - np.abs(first - second), 0.0)
    return np.minimum(first, second) - blend**2 / (4 * radius_mm)


def meet_smoothly(first: FloatArray, second: FloatArray, radius_mm: float) -> FloatArray:
    """Return the intersection of two fields, rounded in the same way as `join_smoothly`."""
    return -join_smoothly(-first, -second, radius_mm)


def ease(x: FloatArray) -> FloatArray:
    """Return the smooth step 0 to 1 for x from 0 to 1, flat outside."""
    t = np.clip(x, 0.0, 1.0)
    return t * t * (3 - 2 * t)


def capsule_distance(points_mm: FloatArray, start_mm: FloatArray, end_mm: FloatArray, radius_mm: float) -> FloatArray:
    """Distance of points (n, 3) to a round-ended rod, mm."""
    along = end_mm - start_mm
    fraction = np.clip((points_mm - start_mm) @ along / (along @ along), 0.0, 1.0)
    away: FloatArray = np.linalg.norm(points_mm - start_mm - fraction[:, None] * along, axis=1)
    return away - radius_mm


def box_distance(points_mm: FloatArray, half_mm: FloatArray, round_mm: float) -> FloatArray:
    """Distance of points (n, 3) to a box about the origin with half edges (3,) and rounded edges, mm."""
    q = np.abs(points_mm) - (half_mm - round_mm)
    outside: FloatArray = np.linalg.norm(np.maximum(q, 0.0), axis=1)
    inside: FloatArray = np.minimum(q.max(axis=1), 0.0)
    return outside + inside - round_mm


def frustum_distance(
    points_mm: FloatArray, *, base_radius_mm: float, height_mm: float, taper_rad: float, round_mm: float
) -> FloatArray:
    """Field of a cone cut at the top, standing on z = 0 and narrowing upwards; open below into the ground, mm.

    Exact distance on the wall and on the flat top away from the rounded edge.
    """
    radius = np.hypot(points_mm[:, 0], points_mm[:, 1])
    wall = (radius - base_radius_mm) * np.cos(taper_rad) + points_mm[:, 2] * np.sin(taper_rad)
    return meet_smoothly(wall, points_mm[:, 2] - height_mm, round_mm)
