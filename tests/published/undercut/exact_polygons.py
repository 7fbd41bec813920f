"""The undercut of convex bodies from exact polygons, by a general-purpose geometry library: no raster, no rays.

Of a convex body, what lies above a level covers the convex hull of its plan points; the columns that hold nothing above
it are the complement of the union. A level line from a corner leaves its own body by the outer side of the section's
wedge there, and must meet no other body's section before its end.
"""

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, Point, Polygon
from shapely.ops import nearest_points, unary_union

from seatwright.mesh import Surface

__all__ = ["reach_exactly"]

Array = np.ndarray
_END = 2e-4  # a line may touch a section in its last share of this much: the corner of an opening


def _crossings(body: Surface, level: float) -> list[Array]:
    tri = body.vertices_mm[body.faces]
    a, b = tri.reshape(-1, 3), tri[:, [1, 2, 0]].reshape(-1, 3)
    cut = (a[:, 2] > level) != (b[:, 2] > level)
    a, b = a[cut], b[cut]
    share = (level - a[:, 2]) / (b[:, 2] - a[:, 2])
    return list((a + share[:, None] * (b - a))[:, :2])


def _hull(points: list[Array]) -> Polygon:
    made = MultiPoint(points).convex_hull if len(points) > 2 else Polygon()
    return made if isinstance(made, Polygon) else Polygon()


def _cover(body: Surface, level: float) -> Polygon:
    above = body.vertices_mm[body.vertices_mm[:, 2] > level][:, :2]
    return _hull([*above, *_crossings(body, level)])


def _own_wedge(section: Polygon, at: Array, size: float) -> Polygon:
    """Directions that would lead into the body, from one corner of its section, as a wide triangle fan."""
    if section.is_empty or section.area < 1e-9 or section.distance(Point(at)) > 1e-7:
        return Polygon()
    away = np.array(section.exterior.coords)[:-1] - at
    away = away[np.linalg.norm(away, axis=1) > 1e-6]
    if len(away) < 2:
        return Polygon()
    angles = np.sort(np.arctan2(away[:, 1], away[:, 0]))
    gaps = np.diff(np.append(angles, angles[0] + 2 * np.pi))
    widest = int(np.argmax(gaps))
    low = angles[(widest + 1) % len(angles)]
    fan = np.linspace(low, low + 2 * np.pi - gaps[widest], 9)
    return Polygon([at, *(at + size * np.column_stack([np.cos(fan), np.sin(fan)]))])


def reach_exactly(bodies: list[Surface], own: int, p: Array, slack: float, limit: float) -> tuple[float, bool]:
    """Plan distance from corner p of body `own` to the nearest open column, and whether no other body hides that one.

    Capped at `limit`; 0 where p's own column is open. Hidden, the distance is only a lower bound.
    """
    level, at = p[2] + slack, p[:2]
    covers = unary_union([_cover(body, level) for body in bodies])
    if not covers.contains(Point(at)):
        return 0.0, True
    wedge = _own_wedge(_hull(_crossings(bodies[own], p[2])), at, 4 * limit)
    free = Point(at).buffer(1.5 * limit, quad_segs=64).difference(covers).difference(wedge)
    reach = free.distance(Point(at)) if not free.is_empty else np.inf
    if reach >= limit or reach == 0.0:
        return min(reach, limit), True
    nearest = np.array(nearest_points(free, Point(at))[0].coords[0])
    line = LineString([at + 1e-6 * (nearest - at), nearest - _END * (nearest - at)])
    others = [_hull(_crossings(body, p[2])) for k, body in enumerate(bodies) if k != own]
    return reach, not any(shapely.intersects(line, section) for section in others)
