"""The window of a whole rigid part: every straight way out of the cast up to a tilt, as regions on the sphere.

Owns the search over directions. Whether one direction is free is the mesh room's exact test.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from seatwright.arch import OcclusalFrame
from seatwright.mesh import Block, Withdrawal, find_block, follow_block, map_blocks
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._cone import Cone, angle_between_rad
from seatwright.survey._cones import reach_towards
from seatwright.survey._window import SEARCH, centroid_of, lies_inside, rays_around, turned

__all__ = ["PartLimit", "PartRegion", "PartWindow", "find_part_window", "reach_of_part"]

_GRID_DEG = 2.0  # judgement: coarse grid; windows narrower than this are found from the seeds
_EDGE_DEG = 0.04  # judgement: below the 0.05 degree to which edges are promised
_EDGE_SHARE = 0.04  # judgement: of the width, for windows narrower than a degree
_FINEST_DEG = 0.01  # judgement: finer than any bench sets
_ENOUGH = 7  # judgement: a grid point and its six neighbors tell the middle well enough
_RAYS, _FIRST_RAYS = 24, 12  # judgement: one every 15 degrees draws the outline; half of them find the middle
_BEYOND_RAD = 1e-5  # judgement: 0.0006 degree past the edge only what limits is blocked
_HALVINGS = 24  # judgement: a bracket of 2 degrees ends below a millionth of a degree
_TRIES = 40  # judgement: more than any bracket needs


@dataclass(frozen=True, slots=True)
class PartLimit:
    """Where the window ends along one ray, and what the part meets there.

    Attributes
    ----------
    reach_deg : float
        From the direction looked from; half the bracket's width is its uncertainty.
    at_mm : (float, float, float) or None
        Place on the cast that the part meets; None at the limit of the search.
    travel_mm : float
        Travel after which it does.
    opening_um_per_deg : float or None
        Gap that one degree more would take there: travel times one degree.
    """

    reach_deg: float
    at_mm: tuple[float, float, float] | None
    travel_mm: float
    opening_um_per_deg: float | None


@dataclass(frozen=True, slots=True, eq=False)
class PartRegion:
    """One connected region of free directions.

    Attributes
    ----------
    center : ndarray of shape (3,)
        Withdraw direction near its middle, itself free.
    in_radius_deg : float
        Least reach from the center over the rays.
    outline : ndarray of shape (k, 3)
        Directions on its edge as seen from the center, in order around.
    limits : tuple of PartLimit
        One for each of them.
    """

    center: FloatArray
    in_radius_deg: float
    outline: FloatArray
    limits: tuple[PartLimit, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PartWindow:
    """Every straight way out of the cast.

    Attributes
    ----------
    regions : tuple of PartRegion
        Widest first; empty when no direction tried is free.
    n_tried, n_free : int
    blocked_by : tuple of Block
        For an empty window: what blocks each seed.
    """

    regions: tuple[PartRegion, ...]
    n_tried: int
    n_free: int
    blocked_by: tuple[Block, ...]

    @property
    def is_empty(self) -> bool:
        """Whether no direction tried is free."""
        return not self.regions


def find_part_window(
    pair: Withdrawal,
    frame: OcclusalFrame,
    max_tilt_deg: float,
    *,
    seeds: Sequence[FloatArray] = (),
    progress: Progress = SILENT,
) -> PartWindow:
    """Map the free directions of a part up to a tilt from the occlusal normal.

    Parameters
    ----------
    pair : Withdrawal
        Cast and part at seat, the part already offset by its clearance.
    frame : OcclusalFrame
    max_tilt_deg : float
        Below 60.
    seeds : sequence of ndarray of shape (3,)
        Withdraw directions tried first: attachment axes and the middle of their window, since a slide's window is
        narrower than any grid.

    Notes
    -----
    A hexagonal grid of 2 degrees and the seeds are tried; free neighbors make regions. From the middle of each region,
    24 rays are bracketed by the grid and closed in on: the point that is blocked is followed inwards to where it comes
    free, and the whole part is tried there. A region that is not star-shaped about its middle is drawn too small.
    """
    search = Cone(frame.occlusal, math.radians(max_tilt_deg), SEARCH, f"tilt limit of {max_tilt_deg:g} degrees")
    nodes = _hexagons(max_tilt_deg)
    given = [_flatten(s, frame) for s in seeds if angle_between_rad(s, frame.occlusal) < math.radians(max_tilt_deg)]
    points = np.array([*given, *nodes]).reshape(-1, 2)
    free = np.zeros(len(points), dtype=bool)
    blocks: list[Block] = []
    for k, point in enumerate(points):
        progress.report(0.6 * k / len(points), "trying directions")
        block = find_block(pair, _direction(point, frame))
        free[k] = block is None
        if block is not None and k < max(len(given), 1):
            blocks.append(block)
    groups = _connect(points, free, math.tan(math.radians(_GRID_DEG)) * 1.2)
    regions = []
    for k, group in enumerate(groups):
        progress.report(0.6 + 0.4 * k / len(groups), "closing in on the edge")
        regions.append(_draw_region(pair, frame, points, group, search))
    regions.sort(key=lambda r: -r.in_radius_deg)
    return PartWindow(tuple(regions), len(points), int(free.sum()), () if regions else tuple(blocks))


def reach_of_part(
    pair: Withdrawal,
    from_direction: FloatArray,
    towards: FloatArray,
    search: Cone,
    *,
    expected_rad: float | None = None,
    locate: bool = False,
) -> PartLimit:
    """Turn from a free direction until the part meets the cast, or the limit of the search is reached.

    Parameters
    ----------
    pair : Withdrawal
    from_direction, towards : ndarray of shape (3,)
    search : Cone
    expected_rad : float, optional
        Angle up to which the way is expected to be free: a hint for speed; it is tried, not believed.
    locate : bool
        Also find the place that limits most, by looking at every block just beyond the edge.

    Notes
    -----
    Between a free and a blocked angle, the point that is blocked is followed inwards to where it comes free, and the
    whole part is tried just inside of that; every second time halfway.
    """
    start = from_direction / np.linalg.norm(from_direction)
    ahead = towards - start * float(np.dot(start, towards))
    ahead /= np.linalg.norm(ahead)

    def at(angle: float) -> FloatArray:
        return np.asarray(start * math.cos(angle) + ahead * math.sin(angle))

    end = max(reach_towards([search], start, ahead).angle_rad, 0.0) if lies_inside([search], start) else 0.0
    low, high, block = _bracket(pair, at, end, expected_rad)
    if block is None:
        return PartLimit(math.degrees(end), None, 0.0, None)
    halve = False
    for _ in range(_TRIES):
        high = _lets_go(pair, block, at, low, high)
        tolerance = math.radians(max(_FINEST_DEG, min(_EDGE_DEG, _EDGE_SHARE * math.degrees(high))))
        if high - low <= tolerance:
            break
        probe = 0.5 * (low + high) if halve else max(high - 0.9 * tolerance, low)
        halve = not halve
        new = find_block(pair, at(probe))
        if new is None:
            low = probe
        else:
            high, block = probe, new
    if locate:
        beyond = map_blocks(pair, at(high + _BEYOND_RAD))
        block = max(beyond, key=lambda b: b.height_mm, default=block)
    opening = block.height_mm * math.radians(1.0) * 1000.0
    return PartLimit(math.degrees(0.5 * (low + high)), block.at_mm, block.height_mm, opening)


def _bracket(
    pair: Withdrawal, at: Callable[[float], FloatArray], end: float, expected: float | None
) -> tuple[float, float, Block | None]:
    """Last free and first blocked angle, in steps of the grid, and what blocks; no block up to the end: (end, end)."""
    low, step = 0.0, math.radians(_GRID_DEG)
    if expected is not None and 0.0 < expected < end and find_block(pair, at(expected)) is None:
        low = expected
    while low < end:
        high = min(low + step, end)
        block = find_block(pair, at(high))
        if block is not None:
            return low, high, block
        low = high
    return end, end, None


def _lets_go(pair: Withdrawal, block: Block, at: Callable[[float], FloatArray], low: float, high: float) -> float:
    """Angle down to which one pair of triangles keeps blocking, to a thousandth of the bracket or better."""
    ask = follow_block(pair, block)
    inside, outside = high, low
    for _ in range(_HALVINGS):
        middle = 0.5 * (inside + outside)
        if ask(at(middle)):
            inside = middle
        else:
            outside = middle
    return inside


def _draw_region(
    pair: Withdrawal, frame: OcclusalFrame, points: FloatArray, group: NDArray[np.int64], search: Cone
) -> PartRegion:
    mine = points[group]
    center = _direction(mine[int(np.argmin(np.linalg.norm(mine - mine.mean(axis=0), axis=1)))], frame)
    if len(mine) < _ENOUGH:
        first = rays_around(center, _FIRST_RAYS)
        reach = [reach_of_part(pair, center, e, search) for e in first]
        edge = [turned(center, e, math.radians(r.reach_deg)) for e, r in zip(first, reach, strict=True)]
        middle = centroid_of(edge, center)
        center = middle if find_block(pair, middle) is None else center
    rays = rays_around(center, _RAYS)
    hints = [_expected(center, e, mine, frame) for e in rays]
    limits = tuple(reach_of_part(pair, center, e, search, expected_rad=h) for e, h in zip(rays, hints, strict=True))
    outline = np.array([turned(center, e, math.radians(r.reach_deg)) for e, r in zip(rays, limits, strict=True)])
    return PartRegion(center, min(r.reach_deg for r in limits), outline, limits)


def _expected(center: FloatArray, towards: FloatArray, mine: FloatArray, frame: OcclusalFrame) -> float:
    """How far the free points of the grid reach along a ray."""
    spread = math.tan(math.radians(_GRID_DEG))
    start, end = _flatten(center, frame), _flatten(turned(center, towards, 0.01), frame)
    along = (end - start) / max(float(np.linalg.norm(end - start)), 1e-15)
    offset = mine - start
    near = np.abs(offset @ np.array([-along[1], along[0]])) <= 0.5 * spread
    reach = float(np.max(offset[near] @ along, initial=0.0))
    return math.atan(reach)


def _hexagons(max_tilt_deg: float) -> FloatArray:
    """Grid in the tangent plane of the occlusal normal, nearest to the middle first, shape (n, 2)."""
    step, edge = math.tan(math.radians(_GRID_DEG)), math.tan(math.radians(max_tilt_deg))
    n = int(edge / step) + 2
    i, j = np.meshgrid(np.arange(-2 * n, 2 * n + 1), np.arange(-2 * n, 2 * n + 1))
    points = np.column_stack([(step * (i + 0.5 * j)).ravel(), (step * math.sqrt(0.75) * j).ravel()])
    size = np.linalg.norm(points, axis=1)
    kept = np.flatnonzero(size <= edge * (1 + 1e-12))
    return np.asarray(points[kept[np.argsort(size[kept], kind="stable")]])


def _direction(point: FloatArray, frame: OcclusalFrame) -> FloatArray:
    direction = frame.occlusal + point[0] * frame.posterior + point[1] * frame.left
    return np.asarray(direction / np.linalg.norm(direction))


def _flatten(direction: FloatArray, frame: OcclusalFrame) -> FloatArray:
    up = float(np.dot(direction, frame.occlusal))
    return np.array([float(np.dot(direction, frame.posterior)), float(np.dot(direction, frame.left))]) / up


def _connect(points: FloatArray, free: NDArray[np.bool_], reach: float) -> list[NDArray[np.int64]]:
    """Return groups of free points that are linked by steps of at most `reach`."""
    ids = np.flatnonzero(free)
    if not len(ids):
        return []
    links = cKDTree(points[ids]).sparse_distance_matrix(cKDTree(points[ids]), reach, output_type="coo_matrix")
    n_groups, labels = connected_components(links, directed=False)
    return [ids[labels == g] for g in range(n_groups)]
