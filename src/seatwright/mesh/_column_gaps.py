"""Air under overhangs, column by column: where it begins and ends. Compiled, exact on triangles."""

from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from seatwright.errors import ValueOutOfRange
from seatwright.mesh._column_bins import NO_FACE, bin_of, height_on
from seatwright.mesh._columns import ColumnModel
from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.quantities import FloatArray

__all__ = ["CLEAR_OF_NODES", "GapGrid", "find_gap_ends", "find_gaps"]

_MOST_HITS = 64  # judgement: crossings of one column; a cast has two to six
_LAYERS = 3  # judgement: gaps above each other in one column; more are counted, not kept
_HALVINGS = 24  # judgement: a tenth of a millimeter to 6 nm
CLEAR_OF_NODES = 0.01
"""Share of a pitch that an end is kept away from nodes: ends that meet at a node would pinch the solid there."""
_MOST_NODES = 25_000_000  # judgement: .1 mm over half a meter square


class GapGrid(NamedTuple):
    """Gaps over a plan grid of nodes; node (row, column) lies at left + column * pitch, bottom + row * pitch.

    Attributes
    ----------
    left, bottom, pitch : float
        mm.
    low, high : ndarray of shape (layers, rows, columns)
        Where each gap begins and ends, topmost first; NaN where there is none.
    face : ndarray of shape (layers, rows, columns), int32
        Face whose underside ends the gap, -1 where there is none.
    top : ndarray of shape (rows, columns)
        Highest surface, -inf where there is none.
    n_more : int
        Gaps beyond the layers kept.
    """

    left: float
    bottom: float
    pitch: float
    low: FloatArray
    high: FloatArray
    face: NDArray[np.int32]
    top: FloatArray
    n_more: int


@njit(cache=True)
def _hits_from_top(columns, x, y, heights, signs, faces):  # type: ignore[no-untyped-def]
    """List what a column meets, highest first; a shared edge counts once. Returns how many."""
    n = 0
    place = bin_of(columns, x, y)
    if place < 0:
        return n
    for i in range(columns.starts[place], columns.starts[place + 1]):
        f = columns.items[i]
        z = height_on(columns.corners, f, x, y)
        if z == -np.inf or n == _MOST_HITS:
            continue
        k = n
        while k > 0 and heights[k - 1] < z:
            heights[k], signs[k], faces[k] = heights[k - 1], signs[k - 1], faces[k - 1]
            k -= 1
        heights[k], signs[k], faces[k] = z, columns.corners[f, 11], f
        n += 1
    return n


@njit(cache=True)
def gaps_at(columns, x, y, tiny, work, low, high, face):  # type: ignore[no-untyped-def]
    """Write the gaps of one column into low, high, face, topmost first; return how many, and the top height.

    A gap begins under an underside, where no solid is left above, and ends on the next upper side below. Air that has
    nothing below it is no gap.
    """
    heights, signs, faces = work[0], work[1], work[2]
    n_hits = _hits_from_top(columns, x, y, heights, signs, faces)
    depth, n, pending = 0, 0, NO_FACE
    ceiling = 0.0
    for i in range(n_hits):
        if i > 0 and signs[i] == signs[i - 1] and heights[i - 1] - heights[i] <= tiny:
            continue
        if signs[i] > 0.0:
            if depth == 0 and pending != NO_FACE:
                if n < low.shape[0]:
                    low[n], high[n], face[n] = heights[i], ceiling, pending
                n += 1
                pending = NO_FACE
            depth += 1
        elif depth > 0:
            depth -= 1
            if depth == 0:
                ceiling, pending = heights[i], int(faces[i])
    return n, heights[0] if n_hits > 0 else -np.inf


@njit(cache=True, parallel=True)
def _fill_gaps(columns, left, bottom, pitch, n_rows, n_columns, tiny):  # type: ignore[no-untyped-def]
    low = np.full((_LAYERS, n_rows, n_columns), np.nan)
    high = np.full((_LAYERS, n_rows, n_columns), np.nan)
    face = np.full((_LAYERS, n_rows, n_columns), np.int32(NO_FACE))
    top = np.full((n_rows, n_columns), -np.inf)
    more = np.zeros(n_rows, dtype=np.int64)
    for row in prange(n_rows):
        work = np.empty((3, _MOST_HITS))
        one_low, one_high = np.empty(_LAYERS), np.empty(_LAYERS)
        one_face = np.empty(_LAYERS, dtype=np.int32)
        for column in range(n_columns):
            x, y = left + column * pitch, bottom + row * pitch
            n, top[row, column] = gaps_at(columns, x, y, tiny, work, one_low, one_high, one_face)
            more[row] += max(n - _LAYERS, 0)
            for k in range(min(n, _LAYERS)):
                low[k, row, column], high[k, row, column] = one_low[k], one_high[k]
                face[k, row, column] = one_face[k]
    return low, high, face, top, more.sum()


@njit(cache=True, parallel=True)
def _bisect_ends(columns, inside, outside, layer, tiny):  # type: ignore[no-untyped-def]
    """For each pair of plan points: the last point towards `outside` that has the gap, (n, 4): x, y, low, high."""
    n = inside.shape[0]
    ends = np.empty((n, 4))
    for i in prange(n):
        work = np.empty((3, _MOST_HITS))
        low, high = np.empty(_LAYERS), np.empty(_LAYERS)
        face = np.empty(_LAYERS, dtype=np.int32)
        a, b = 0.0, 1.0
        for _ in range(_HALVINGS):
            t = 0.5 * (a + b)
            x = inside[i, 0] + t * (outside[i, 0] - inside[i, 0])
            y = inside[i, 1] + t * (outside[i, 1] - inside[i, 1])
            found, _top = gaps_at(columns, x, y, tiny, work, low, high, face)
            if found > layer:
                a = t
            else:
                b = t
        x = inside[i, 0] + a * (outside[i, 0] - inside[i, 0])
        y = inside[i, 1] + a * (outside[i, 1] - inside[i, 1])
        gaps_at(columns, x, y, tiny, work, low, high, face)
        a = min(max(a, CLEAR_OF_NODES), 1.0 - CLEAR_OF_NODES)
        ends[i, 0] = inside[i, 0] + a * (outside[i, 0] - inside[i, 0])
        ends[i, 1] = inside[i, 1] + a * (outside[i, 1] - inside[i, 1])
        ends[i, 2], ends[i, 3] = low[layer], high[layer]
    return ends


def find_gaps(model: ColumnModel, *, pitch_mm: float) -> GapGrid:
    """Find the air under overhangs over a plan grid, in the columns' frame.

    Parameters
    ----------
    model : ColumnModel
        Built with bins; faces look outwards.
    pitch_mm : float
        Distance of the nodes, > 0.

    Raises
    ------
    ValueOutOfRange
        If the grid would need more than 25 million nodes.
    """
    if not model.is_exact:
        raise ValueOutOfRange("the columns were built without bins, so nothing exact can be asked of them")
    low, high = model.vertices_mm[:, :2].min(axis=0), model.vertices_mm[:, :2].max(axis=0)
    # an odd share of a pitch keeps nodes off edges that were modelled on round numbers
    left, bottom = (float(low[0] - 1.4142 * pitch_mm), float(low[1] - 1.6180 * pitch_mm))
    n_columns, n_rows = (int((high[k] - low[k]) / pitch_mm) + 5 for k in (0, 1))
    if not pitch_mm > 0 or n_rows * n_columns > _MOST_NODES:
        raise ValueOutOfRange(
            f"a grid of {pitch_mm:g} mm over {high[0] - low[0]:.0f} x {high[1] - low[1]:.0f} mm has too many nodes",
            hint="give a wider grid",
        )
    with KERNEL_LOCK:
        found = _fill_gaps(model.columns, left, bottom, pitch_mm, n_rows, n_columns, _tiny(model))
    gap_low, gap_high, face, top, n_more = found
    return GapGrid(left, bottom, pitch_mm, gap_low, gap_high, face, top, int(n_more))


def find_gap_ends(model: ColumnModel, inside_mm: FloatArray, outside_mm: FloatArray, *, layer: int) -> FloatArray:
    """Find where, between a plan point with a gap and one without, the gap ends: rows of x, y, low, high.

    Parameters
    ----------
    model : ColumnModel
    inside_mm, outside_mm : ndarray of shape (n, 2)
        In the columns' frame.
    layer : int
        Which gap of the column, topmost 0.
    """
    with KERNEL_LOCK:
        return np.asarray(
            _bisect_ends(
                model.columns, np.ascontiguousarray(inside_mm), np.ascontiguousarray(outside_mm), layer, _tiny(model)
            )
        )


def _tiny(model: ColumnModel) -> float:
    return 1e-9 * float(np.abs(model.vertices_mm).max())
