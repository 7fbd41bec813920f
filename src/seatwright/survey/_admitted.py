"""The paths among which the best is sought: what guides admit, and a rigid part's own window, intersected.

Owns the intersection on the sphere and the even spread of directions over it. Refuses to know what a path costs.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPoint, Polygon

from seatwright.arch import OcclusalFrame
from seatwright.errors import CannotCompute
from seatwright.quantities import FloatArray
from seatwright.survey._cone import Cone, angle_between_rad, pair_across
from seatwright.survey._cones import intersect_cones, reach_towards
from seatwright.survey._part_window import PartRegion, make_regions
from seatwright.survey._plane import from_plane, to_plane
from seatwright.survey._window import lies_inside, rays_around, turned

__all__ = ["Admitted", "Between", "admit_part", "even_directions", "measure_between"]

_TRIED = 1000  # judgement: a grid of about a degree in 20 degrees
_RAYS = 180  # judgement: chords of a circle of 20 degrees then lie within 0.004 degree of it
_EDGE_RAD = 2e-6  # judgement: a ten-thousandth of a degree; lets a window without width count


@dataclass(frozen=True, slots=True, eq=False)
class Admitted:
    """Directions that are admitted.

    Attributes
    ----------
    cones : tuple of Cone
        Of attachments, guide planes and the search; at least one.
    regions : tuple of PartRegion or None
        What the cones and a rigid part admit together, widest first; None where there is no part.
    is_free : callable or None
        Whether the part leaves along a direction: exact, asked beside the regions as drawn.
    frame : OcclusalFrame or None
        Of the regions' plane.
    """

    cones: tuple[Cone, ...]
    regions: tuple[PartRegion, ...] | None = None
    is_free: Callable[[FloatArray], bool] | None = None
    frame: OcclusalFrame | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing is admitted."""
        return intersect_cones(self.cones).is_empty if self.regions is None else not self.regions

    def admits(self, direction: FloatArray) -> bool:
        """Whether a direction of shape (3,) is admitted by the cones, and by the part where there is one."""
        within = 0.0 if self.regions is None else _EDGE_RAD
        inside = lies_inside(self.cones, direction, within_rad=max(within, 1e-9))
        return inside and (self.is_free is None or self.is_free(direction))

    def spread(self) -> tuple[FloatArray, float]:
        """Return about 1000 directions evenly over what is admitted, shape (k, 3), and their spacing in radians.

        Raises
        ------
        CannotCompute
            If nothing is admitted.
        """
        if self.regions is None or self.frame is None:
            return even_directions(self.cones)
        if not self.regions:
            raise CannotCompute("no direction is left to search", hint="see what leaves none: the window is empty")
        centers = np.array([r.center for r in self.regions])
        area = shapely.union_all([r.area for r in self.regions])
        step = math.sqrt(area.area / _TRIED / math.sqrt(0.75))
        low, high = np.array(area.bounds[:2]), np.array(area.bounds[2:])
        n = np.ceil((high - low) / step / [1.0, math.sqrt(0.75)]).astype(int) + 1
        i, j = np.meshgrid(np.arange(n[0]), np.arange(n[1]))
        points = low + step * np.column_stack([(i + 0.5 * (j % 2)).ravel(), math.sqrt(0.75) * j.ravel()])
        inside = shapely.contains_xy(area, points[:, 0], points[:, 1])
        return np.vstack([centers, from_plane(points[inside], self.frame)]), step


@dataclass(frozen=True, slots=True, eq=False)
class Between:
    """Where what guides admit and a part's window come nearest to each other, when they do not meet.

    Attributes
    ----------
    guided, parted : ndarray of shape (3,)
        The nearest direction that the guides admit, and the nearest along which the part leaves.
    angle_deg : float
    """

    guided: FloatArray
    parted: FloatArray
    angle_deg: float


def admit_part(
    cones: Sequence[Cone],
    regions: Sequence[PartRegion],
    is_free: Callable[[FloatArray], bool],
    frame: OcclusalFrame,
) -> Admitted:
    """Intersect what cones admit with a part's regions, of any shape."""
    mine = _area_of_cones(cones, frame)
    shared = mine.intersection(shapely.union_all([r.area for r in regions])) if regions else Polygon()
    return Admitted(tuple(cones), make_regions(shared, frame), is_free, frame)


def measure_between(cones: Sequence[Cone], regions: Sequence[PartRegion], frame: OcclusalFrame) -> Between:
    """Return where guides and part come nearest to each other in the plane; both leave something."""
    pair = shapely.shortest_line(_area_of_cones(cones, frame), shapely.union_all([r.area for r in regions]))
    guided, parted = from_plane(shapely.get_coordinates(pair), frame)
    return Between(guided, parted, math.degrees(angle_between_rad(guided, parted)))


def _area_of_cones(cones: Sequence[Cone], frame: OcclusalFrame) -> shapely.Geometry:
    """Return what cones of at most 90 degrees admit: convex in the plane, so the hull of its edge."""
    region = intersect_cones(cones)
    if region.is_empty:
        return Polygon()
    around = rays_around(region.center, _RAYS)
    edge = [turned(region.center, e, reach_towards(cones, region.center, e).angle_rad) for e in around]
    return MultiPoint(to_plane(np.array([*edge, *region.corners]), frame)).convex_hull.buffer(0.5 * _EDGE_RAD)


def even_directions(cones: Sequence[Cone]) -> tuple[FloatArray, float]:
    """Return about 1000 directions evenly over the window of cones, its center first, and their spacing in radians.

    Raises
    ------
    CannotCompute
        If the cones leave no direction.
    """
    region = intersect_cones(cones)
    if region.is_empty:
        raise CannotCompute("no direction is left to search", hint="see what leaves none: the window is empty")
    step = math.sqrt(max(region.area_sr, 1e-12) / _TRIED / math.sqrt(0.75))
    corners = [region.center @ c for c in region.corners]
    reach = math.acos(max(-1.0, min([*corners, math.cos(max(region.depth_rad, 1e-6))])))
    n = int(1.3 * reach / step) + 2
    first, second = pair_across(region.center)
    i, j = np.meshgrid(np.arange(-2 * n, 2 * n + 1), np.arange(-2 * n, 2 * n + 1))
    x, y = step * (i + 0.5 * j).ravel(), step * math.sqrt(0.75) * j.ravel()
    near = np.argsort(np.hypot(x, y), kind="stable")
    near = near[np.hypot(x, y)[near] <= 1.3 * reach + step]
    lean = np.hypot(x, y)[near]
    across = x[near, None] * first + y[near, None] * second
    share = np.divide(np.sin(lean), lean, out=np.ones_like(lean), where=lean > 0)
    ways = np.cos(lean)[:, None] * region.center + share[:, None] * across
    inside = np.all([ways @ c.pole >= math.cos(c.half_angle_rad) - 1e-12 for c in cones], axis=0)
    return np.vstack([region.center, ways[inside & (lean > 0)]]), step
