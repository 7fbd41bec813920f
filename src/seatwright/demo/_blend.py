"""Smooth unions and intersections of fields, and small solids. Values in mm, negative inside."""

import numpy as np

from seatwright.quantities import FloatArray

__all__ = [
    "box_distance",
    "capsule_distance",
    "ease",
    "frustum_distance",
    "join_smoothly",
    "meet_smoothly",
    "oval_distance",
]


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


def oval_distance(x_mm: FloatArray, y_mm: FloatArray, half_mm: tuple[float, float], corner_mm: float) -> FloatArray:
    """Distance in plan to a rounded rectangle about the origin with half widths and corner radius, mm."""
    qx, qy = np.abs(x_mm) - half_mm[0] + corner_mm, np.abs(y_mm) - half_mm[1] + corner_mm
    outside: FloatArray = np.hypot(np.maximum(qx, 0.0), np.maximum(qy, 0.0))
    inside: FloatArray = np.minimum(np.maximum(qx, qy), 0.0)
    return outside + inside - corner_mm


def frustum_distance(
    points_mm: FloatArray,
    *,
    half_mm: tuple[float, float],
    corner_mm: float,
    height_mm: float,
    taper_rad: float,
    round_mm: float,
) -> FloatArray:
    """Field of an oval cone cut at the top, standing on z = 0 and narrowing upwards; it goes on below, mm.

    `half_mm` and `corner_mm` are those of its outline at z = 0. The wall leans by the same angle all round, and the
    distance is exact on wall and top away from the rounded edge.

    Examples
    --------
    >>> import numpy as np
    >>> at = np.array([[4.0, 0.0, 0.0], [4.0 - np.tan(0.1), 0.0, 1.0]])
    >>> on_wall = frustum_distance(at, half_mm=(4, 4.5), corner_mm=3, height_mm=6, taper_rad=0.1, round_mm=0.5)
    >>> bool(np.abs(on_wall).max() < 1e-12)
    True
    """
    outline = oval_distance(points_mm[:, 0], points_mm[:, 1], half_mm, corner_mm)
    wall = outline * np.cos(taper_rad) + points_mm[:, 2] * np.sin(taper_rad)
    return meet_smoothly(wall, points_mm[:, 2] - height_mm, round_mm)
