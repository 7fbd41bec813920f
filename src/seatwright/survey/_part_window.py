"""The window of a whole rigid part: every straight way out of the cast up to a tilt, as regions on the sphere.

Owns the search over directions. Whether one direction is free is the mesh room's exact test.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Point, Polygon

from seatwright.arch import OcclusalFrame
from seatwright.errors import ValueOutOfRange
from seatwright.mesh import Block, Withdrawal, find_block
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._march import Edge, FindEdge, Lattice, Node, refine_edge
from seatwright.survey._part_edge import edge_between, edge_tolerance_deg, reach_of_part
from seatwright.survey._plane import (
    find_deepest,
    from_plane,
    measure_depth_rad,
    measure_solid_angle_sr,
    polygons_of,
    ring_directions,
    to_plane,
)
from seatwright.survey._window import rays_around, search_cone, turned

__all__ = ["PartRegion", "PartWindow", "find_part_window", "make_regions"]

_GRID_DEG = 2.0  # judgement: coarse grid; windows narrower than this are found from the seeds
_WIDEST_DEG = 60.0  # definition: the search is drawn in a plane; nothing surveyed leans so far
_ENOUGH = 7  # judgement: a grid point and its six neighbors; fewer are looked at on a grid of their own
_RAYS = 24  # judgement: one every 15 degrees tells how long and wide a small region is
_ACROSS = 8  # judgement: steps across a small region, along and across it
_MOST = 1500  # judgement: points of one small region's grid
_WIDENINGS = 4  # judgement: doublings of a grid that turns out too small
_POINT_RAD = 1e-6  # judgement: a window without width is drawn so wide


@dataclass(frozen=True, slots=True, eq=False)
class PartRegion:
    """One connected region of free directions, of any shape.

    Attributes
    ----------
    center : ndarray of shape (3,)
        Withdraw direction deepest inside.
    in_radius_deg : float
        From there to the nearest edge.
    outline : ndarray of shape (k, 3)
        Directions on its outer edge, in order around; straight (great circles) between them.
    holes : tuple of ndarray of shape (k, 3)
        The same for what is blocked inside.
    solid_angle_deg2 : float
        Square degrees, holes taken out.
    area : Polygon
        In the plane that touches the sphere at the occlusal normal.
    """

    center: FloatArray
    in_radius_deg: float
    outline: FloatArray
    holes: tuple[FloatArray, ...]
    solid_angle_deg2: float
    area: Polygon

    def contains(self, direction: FloatArray, frame: OcclusalFrame) -> bool:
        """Whether a direction lies inside the region as drawn."""
        return bool(self.area.covers(Point(to_plane(direction, frame))))


@dataclass(frozen=True, slots=True, eq=False)
class PartWindow:
    """Every straight way out of the cast.

    Attributes
    ----------
    regions : tuple of PartRegion
        Widest first; empty when no direction tried is free.
    n_tried, n_free : int
        Points of the grid and seeds.
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
        Above 0 and below 60.
    seeds : sequence of ndarray of shape (3,)
        Withdraw directions tried first: attachment axes and the middle of their window, since a slide's window is
        narrower than any grid.

    Raises
    ------
    ValueOutOfRange
        If the tilt is out of range.

    Notes
    -----
    A grid of triangles of 2 degrees and the seeds are tried. In each triangle that is free in part, the edge is closed
    in on along its sides; what is free is joined, and the edge between is refined until chords lie within 0.04 degree
    (4 % of the width of a narrow region, not below 0.01 degree); sharp corners lose up to twice that. Regions of a few
    points get a finer grid of their own. So a region may have any shape, holes, and several pieces; what is narrower
    than its grid can be missed.
    """
    if not 0.0 < max_tilt_deg < _WIDEST_DEG:
        raise ValueOutOfRange(f"a tilt of {max_tilt_deg:g} degrees is not between 0 and {_WIDEST_DEG:g}")
    asked = _Asked(pair, frame, max_tilt_deg)
    blocks: list[Block] = []
    given = [s for s in seeds if asked.within(to_plane(s, frame)) and float(np.dot(s, frame.occlusal)) > 0]
    free_seeds = []
    for way in given or [frame.occlusal]:
        block = find_block(pair, way)
        if block is None:
            free_seeds.append(to_plane(way, frame))
        else:
            blocks.append(block)
    grid = asked.grid()
    nodes = _nodes_within(grid, asked.edge)
    for k, node in enumerate(nodes):
        progress.report(0.5 * k / len(nodes), "trying directions")
        grid.is_free(node)
    n_free = len(free_seeds) + sum(grid.answers.values())
    progress.report(0.5, "closing in on the edge")
    area = _join_groups(asked, grid, free_seeds)
    progress.report(0.8, "refining the edge")
    regions = make_regions(_refined(asked, area), frame)
    return PartWindow(regions, len(nodes) + len(given), n_free, () if regions else tuple(blocks))


def make_regions(area: shapely.Geometry, frame: OcclusalFrame) -> tuple[PartRegion, ...]:
    """Return the pieces of an area of the plane as regions, widest first."""
    regions = []
    for piece in polygons_of(area):
        center, depth = find_deepest(piece, frame)
        rings = ring_directions(piece, frame)
        squared = measure_solid_angle_sr(piece, frame) * math.degrees(1.0) ** 2
        regions.append(PartRegion(center, math.degrees(depth), rings[0], rings[1:], squared, piece))
    return tuple(sorted(regions, key=lambda r: -r.in_radius_deg))


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    pair: Withdrawal
    frame: OcclusalFrame
    max_tilt_deg: float

    @property
    def edge(self) -> float:
        return math.tan(math.radians(self.max_tilt_deg))

    def within(self, point: FloatArray) -> bool:
        return float(np.hypot(point[0], point[1])) <= self.edge * (1 + 1e-12)

    def is_free(self, point: FloatArray) -> bool:
        return self.within(point) and find_block(self.pair, from_plane(point, self.frame)) is None

    def grid(self) -> Lattice:
        return Lattice(np.zeros(2), math.tan(math.radians(_GRID_DEG)) * np.eye(2), self.is_free)

    def edge_finder(self, tolerance_deg: float) -> FindEdge:
        """Return where the edge lies between a free point and one that is blocked or beyond the search."""

        def find(free: FloatArray, other: FloatArray) -> FloatArray:
            end = other
            if not self.within(other):
                end = free + _share_to_circle(free, other, self.edge) * (other - free)
            one, two = (self.frame.occlusal + p[0] * self.frame.posterior + p[1] * self.frame.left for p in (free, end))
            share = edge_between(self.pair, one, two, math.radians(tolerance_deg))
            return np.asarray(free + share * (end - free))

        return find


def _share_to_circle(inside: FloatArray, outside: FloatArray, radius: float) -> float:
    way = outside - inside
    a, b, c = float(way @ way), float(inside @ way), float(inside @ inside) - radius**2
    return float(np.clip((-b + math.sqrt(max(b * b - a * c, 0.0))) / a, 0.0, 1.0))


def _nodes_within(grid: Lattice, edge: float) -> list[Node]:
    """Nodes of the grid inside the search, nearest to the middle first."""
    n = int(edge / float(grid.basis[0, 0])) + 2
    nodes = [(i, j) for i in range(-2 * n, 2 * n + 1) for j in range(-2 * n, 2 * n + 1)]
    size = [float(np.linalg.norm(grid.place(node))) for node in nodes]
    near = sorted((s, node) for s, node in zip(size, nodes, strict=True) if s <= edge * (1 + 1e-12))
    return [node for _, node in near]


def _join_groups(asked: _Asked, grid: Lattice, free_seeds: Sequence[FloatArray]) -> shapely.Geometry:
    """Outline the grid's groups; few points, and seeds that no group holds, on a finer grid of their own."""
    groups = grid.groups()
    wide = [node for group in groups if len(group) >= _ENOUGH for node in group]
    area = grid.outline(wide, asked.edge_finder(edge_tolerance_deg(_GRID_DEG)))
    small = [grid.place(node) for group in groups if len(group) < _ENOUGH for node in group]
    for point in [*free_seeds, *small]:
        if not area.covers(Point(point)):
            area = shapely.union_all([area, _outline_small(asked, point)])
    return area


def _outline_small(asked: _Asked, point: FloatArray) -> shapely.Geometry:
    """Outline the region about a free point on a grid that follows its length and width."""
    here = from_plane(point, asked.frame)
    search = search_cone(asked.frame, asked.max_tilt_deg)
    rays = rays_around(here, _RAYS)
    reach = [math.radians(reach_of_part(asked.pair, here, e, search).reach_deg) for e in rays]
    star = Polygon(
        [to_plane(turned(here, e, max(r, _POINT_RAD)), asked.frame) for e, r in zip(rays, reach, strict=True)]
    )
    if star.area <= math.pi * (10 * _POINT_RAD) ** 2:
        return star
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(star))
    basis = np.column_stack([corners[1] - corners[0], corners[2] - corners[1]]) / _ACROSS
    narrow = math.degrees(float(np.linalg.norm(basis, axis=0).min())) * _ACROSS
    for _ in range(_WIDENINGS):
        lattice = Lattice(point, basis, asked.is_free)
        free = lattice.flood(_MOST)
        if free is not None:
            found = lattice.outline(free, asked.edge_finder(edge_tolerance_deg(narrow)))
            return found if found.area > star.area / 2 else star
        basis = 2 * basis
    return star


def _refined(asked: _Asked, area: shapely.Geometry) -> shapely.Geometry:
    pieces = []
    for piece in polygons_of(area):
        rings = ring_directions(piece, asked.frame)
        middle = from_plane(shapely.get_coordinates(shapely.maximum_inscribed_circle(piece))[0], asked.frame)
        width = 2 * math.degrees(measure_depth_rad(rings, middle))
        tolerance = edge_tolerance_deg(width)
        if width < tolerance:
            pieces.append(piece)
            continue
        at = math.tan(math.radians(tolerance))
        pieces.append(refine_edge(piece, Edge(asked.is_free, asked.edge_finder(tolerance), at)))
    return shapely.union_all(pieces) if pieces else Polygon()
