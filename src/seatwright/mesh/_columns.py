"""A surface seen along z as columns: heights of the highest face, and the way to where nothing lies above.

Knows nothing of teeth. `z` is up; turn the surface first to look along another direction.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import ValueOutOfRange
from seatwright.mesh import _column_search as search
from seatwright.mesh._column_bins import count_in_bins, find_top, list_in_bins
from seatwright.mesh._column_estimate import estimate_reaches
from seatwright.mesh._column_knots import NO_KNOTS, find_knots, mark_folds
from seatwright.mesh._column_raster import fill_heights, find_block_lows, prepare_corners
from seatwright.mesh._kernels import KERNEL_LOCK, add_at_vertices, find_bounds, move_rows, rotate_rows
from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray, Transform

__all__ = ["ColumnModel", "Reach", "ReachWord", "build_columns", "find_heights", "measure_reach"]

_MAX_CELLS = 12_000_000  # judgement: 48 MB of heights; a larger surface gets coarser cells
_MAX_LISTED = 8  # judgement: bins a face on average before bins are made larger
_BIN_PER_EDGE = 1.3  # judgement: fastest of 0.8 to 3 on 200k triangles


class Columns(NamedTuple):
    """Arrays and numbers that the compiled loops take; see `ColumnModel`."""

    corners: FloatArray
    body_of_face: NDArray[np.int64]
    knots: FloatArray
    folds: NDArray[np.uint8]
    starts: NDArray[np.int64]
    items: NDArray[np.int32]
    heights: NDArray[np.float32]
    lows: NDArray[np.float32]
    left: float
    bottom: float
    pitch: float
    cell: float
    n_bin_rows: int
    n_bin_columns: int


@dataclass(frozen=True, slots=True, eq=False)
class ColumnModel:
    """A surface prepared for questions about its columns.

    Attributes
    ----------
    columns : Columns
        Raster of heights, and faces sorted into plan bins; in the columns' own frame.
    T_columns_surface : Transform
        Rotation and shift from the surface's frame into the columns' frame.
    vertices_mm : ndarray of shape (n, 3)
        The surface's vertices in the columns' frame.
    normals : ndarray of shape (n, 3)
        Angle-weighted vertex normals in the columns' frame; not of unit length, zero where no face has an area.
    is_exact : bool
        Whether the bins are there; without them only estimates from the raster are to be had.
    """

    columns: Columns
    T_columns_surface: Transform
    vertices_mm: FloatArray
    normals: FloatArray
    is_exact: bool

    @property
    def pitch_mm(self) -> float:
        """Width of a cell of the raster, mm."""
        return self.columns.pitch


class ReachWord:
    """What `Reach.found` holds."""

    OPEN, MEASURED, BEYOND, INSIDE = search.OPEN, search.MEASURED, search.BEYOND, search.INSIDE


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """Plan distances from n points to the nearest open column.

    Attributes
    ----------
    distance_mm : ndarray of shape (n,)
        0 where open or inside a body; the limit where nothing was found within it.
    direction : ndarray of shape (n, 2)
        Plan unit vector towards the open column, zero where there is none to go to.
    found : ndarray of shape (n,), uint8
        One of `ReachWord`.
    """

    distance_mm: FloatArray
    direction: FloatArray
    found: NDArray[np.uint8]


def build_columns(
    surface: Surface,
    T_columns_surface: Transform,
    *,
    pitch_mm: float,
    with_bins: bool = True,
    body_of_face: NDArray[np.integer] | None = None,
) -> ColumnModel:
    """Prepare a surface for looking down its columns.

    Parameters
    ----------
    surface : Surface
    T_columns_surface : Transform
        Turns the direction that is to be up into z. The plan's origin is moved to the middle of the surface.
    pitch_mm : float
        Width of a cell of the raster, > 0; made larger when the plan would need more than 12 million cells.
    with_bins : bool
        Also sort the faces into bins, as exact answers need.
    body_of_face : ndarray of shape (m,), optional
        Of a surface of several bodies: then openings between two of them are found however narrow. Needs bins.

    Notes
    -----
    O(m + cells). Heights are kept in single precision about the middle; exact answers come from the faces themselves.
    """
    if not (np.isfinite(pitch_mm) and pitch_mm > 0):
        raise ValueOutOfRange(f"cells need a width above zero, got {pitch_mm}")
    T = np.array(T_columns_surface, dtype=np.float64)
    middle = find_bounds(surface.vertices_mm).mean(axis=0)
    T[:3, 3] = -(T[:3, :3] @ middle)
    vertices = move_rows(surface.vertices_mm, T)
    normals = rotate_rows(add_at_vertices(surface.vertices_mm, surface.faces), T)
    low, high = find_bounds(vertices)[:, :2]
    extent = high - low
    pitch = max(pitch_mm, float(np.sqrt(extent[0] * extent[1] / _MAX_CELLS)), float(extent.max()) / _MAX_CELLS)
    left, bottom = (float(k) for k in low - 2.5 * pitch)
    n_columns, n_rows = (int(np.ceil(k / pitch)) + 6 for k in extent)
    with KERNEL_LOCK:
        corners = prepare_corners(vertices, surface.faces)
        heights = fill_heights(corners, n_rows, n_columns, left, bottom, pitch)
        lows = find_block_lows(heights)
    cell, rows, wide, starts, items = pitch, 0, 0, np.zeros(1, dtype=np.int64), np.zeros(0, dtype=np.int32)
    if with_bins:
        cell, rows, wide, starts, items = _sort_into_bins(corners, left, bottom, (n_columns * pitch, n_rows * pitch))
    of_face, knots, folds = np.zeros(0, dtype=np.int64), *NO_KNOTS
    if with_bins and body_of_face is not None:
        of_face = np.ascontiguousarray(body_of_face, dtype=np.int64)
        folds = mark_folds(corners, surface.faces, len(vertices))
        knots = find_knots(corners, starts, items, folds, of_face)
    columns = Columns(
        corners, of_face, knots, folds, starts, items, heights, lows, left, bottom, pitch, cell, rows, wide
    )
    return ColumnModel(columns, T, vertices, normals, with_bins)


def _sort_into_bins(
    corners: FloatArray, left: float, bottom: float, size: tuple[float, float]
) -> tuple[float, int, int, NDArray[np.int64], NDArray[np.int32]]:
    m = len(corners)
    typical = float(np.median(np.hypot(corners[:, 3] - corners[:, 0], corners[:, 4] - corners[:, 1])))
    cell = max(_BIN_PER_EDGE * typical, float(np.sqrt(size[0] * size[1] / (4.0 * m + 64))))
    while True:
        wide, rows = (max(int(np.ceil(k / cell)), 1) for k in size)
        starts = count_in_bins(corners, left, bottom, cell, rows, wide)
        if starts[-1] <= _MAX_LISTED * m + 100_000:
            return cell, rows, wide, starts, list_in_bins(corners, starts, left, bottom, cell, rows, wide)
        cell *= 1.5


def find_heights(model: ColumnModel, plan_mm: FloatArray) -> FloatArray:
    """Height of the highest face over plan points, exact; -inf where there is none.

    Parameters
    ----------
    model : ColumnModel
        Built with bins.
    plan_mm : ndarray of shape (k, 2)
        In the columns' frame, mm.
    """
    _require_bins(model)
    return np.array([find_top(model.columns, float(x), float(y))[0] for x, y in np.asarray(plan_mm, dtype=float)])


def measure_reach(
    model: ColumnModel,
    points_mm: FloatArray,
    normals: FloatArray,
    *,
    limit_mm: float,
    slack_mm: float,
    is_inside: NDArray[np.bool_] | None = None,
    exact: bool = True,
) -> Reach:
    """Plan distance from each point to the nearest column that holds nothing above it and can be reached level.

    Parameters
    ----------
    model : ColumnModel
    points_mm, normals : ndarray of shape (n, 3)
        In the columns' frame. The level line starts `slack_mm` off the surface along the normal.
    limit_mm : float
        Farther columns are not looked for; > 0.
    slack_mm : float
        A column is open when its highest face lies at most this much above the point; >= 0.
    is_inside : ndarray of shape (n,), bool, optional
        Points within another body: no distance is looked for.
    exact : bool
        On triangles, and the level line must not cross the surface; else from the raster, to about half a cell, and
        only columns behind a point's own wall are left out.

    Notes
    -----
    u(p) = inf { |c - p| : H(c) <= z_p + slack, the level line from p to c stays outside }. Deterministic. Openings
    narrower than a cell of the raster are found between two bodies only, where the model knows them.
    """
    if not (np.isfinite(limit_mm) and limit_mm > 0) or not (np.isfinite(slack_mm) and slack_mm >= 0):
        raise ValueOutOfRange(f"needs a limit above zero and a slack of at least zero, got {limit_mm} and {slack_mm}")
    points = np.ascontiguousarray(points_mm, dtype=np.float64)
    inside = np.zeros(len(points), dtype=np.bool_) if is_inside is None else np.ascontiguousarray(is_inside)
    if not exact:
        with KERNEL_LOCK:
            reach, found = estimate_reaches(model.columns, points, normals, inside, slack_mm, limit_mm)
    else:
        _require_bins(model)
        length = np.linalg.norm(normals, axis=1, keepdims=True)
        off = max(slack_mm, 1e-9) * np.divide(normals, length, out=np.zeros_like(points), where=length > 0)
        tiny = 1e-9 * float(np.abs(find_bounds(model.vertices_mm)).max())
        with KERNEL_LOCK:
            reach, found = search.measure_reaches(model.columns, points, points + off, inside, slack_mm, limit_mm, tiny)
    distance = np.where(found == search.BEYOND, limit_mm, reach[:, 0])
    return Reach(distance, reach[:, 1:], found)


def _require_bins(model: ColumnModel) -> None:
    if not model.is_exact:
        raise ValueOutOfRange("the columns were built without bins, so nothing exact can be asked of them")
