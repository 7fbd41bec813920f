"""Plan bins in which the covers of two bodies may cross, and the corners there that no raster sees: compiled, exact.

Compiled functions carry no types: the compiler infers them, and a checker cannot see through it.
"""

import numpy as np
from numba import njit

from seatwright.mesh._column_bins import bin_of, cut_at, is_covered
from seatwright.mesh._column_settle import is_free_way, settle_unblocked
from seatwright.mesh._column_walk import AT_LEVEL, foot_on_line

__all__ = ["NO_KNOTS", "find_knots", "mark_folds", "try_knots"]

NO_KNOTS = (np.zeros((0, 2), dtype=np.float64), np.zeros(0, dtype=np.uint8))
"""Of a surface of one body: nothing to look for."""
_MOST_EDGES = 64  # judgement: edges of covers in one bin; more are not paired
_NEARER = 1.0 - 1e-6  # judgement: a gain of less than 2 nm over 2 mm is rounding
_STEP, _CORNER_STEP = 100.0, 1000.0  # judgement: in lengths of rounding, past an edge and into a corner of 1 degree


@njit(cache=True)
def _pair_levels(corners, folds, f, g):  # type: ignore[no-untyped-def]
    """Levels between which covers that end on faces f and g of two bodies may cross; empty when low > high."""
    top_f = max(corners[f, 2], corners[f, 5], corners[f, 8])
    top_g = max(corners[g, 2], corners[g, 5], corners[g, 8])
    low_f = low_g = -np.inf
    if corners[f, 11] > 0.0:
        low_f = min(corners[f, 2], corners[f, 5], corners[f, 8])
    elif not folds[f]:
        low_f = np.inf
    if corners[g, 11] > 0.0:
        low_g = min(corners[g, 2], corners[g, 5], corners[g, 8])
    elif not folds[g]:
        low_g = np.inf
    return max(low_f, low_g), min(top_f, top_g)


@njit(cache=True)
def find_knots(corners, starts, items, folds, body_of_face):  # type: ignore[no-untyped-def]
    """Lowest and highest level at which covers of two bodies may cross in each bin, (n_bins, 2); empty: inf, -inf."""
    n = len(starts) - 1
    knots = np.empty((n, 2))
    for place in range(n):
        knots[place, 0], knots[place, 1] = np.inf, -np.inf
        for at in range(starts[place], starts[place + 1]):
            f = items[at]
            for to in range(starts[place], at):
                g = items[to]
                if body_of_face[f] == body_of_face[g]:
                    continue
                low, high = _pair_levels(corners, folds, f, g)
                if low <= high:
                    knots[place, 0], knots[place, 1] = min(knots[place, 0], low), max(knots[place, 1], high)
    return knots


@njit(cache=True)
def mark_folds(corners, faces, n_vertices):  # type: ignore[no-untyped-def]
    """Return which edges of each face may be folds of the surface seen from above, (m,), bit k for edge k.

    Only faces that look down or stand on edge are marked, at edges of which both ends also belong to a face that looks
    up: every fold, and a few more.
    """
    is_up = np.zeros(n_vertices, dtype=np.bool_)
    for f in range(faces.shape[0]):
        if corners[f, 11] > 0.0:
            for k in range(3):
                is_up[faces[f, k]] = True
    folds = np.zeros(faces.shape[0], dtype=np.uint8)
    for f in range(faces.shape[0]):
        if corners[f, 11] <= 0.0:
            for k in range(3):
                if is_up[faces[f, k]] and is_up[faces[f, (k + 1) % 3]]:
                    folds[f] |= 1 << k
    return folds


@njit(cache=True)
def _edge_of(columns, f, side, level, edge):  # type: ignore[no-untyped-def]
    """Write one edge of face f that may end the cover above a level into `edge`; False where it cannot."""
    corners = columns.corners
    if side == AT_LEVEL:
        if corners[f, 11] <= 0.0 or min(corners[f, 2], corners[f, 5], corners[f, 8]) > level:
            return False
        edge[0], edge[1], edge[2], edge[3] = cut_at(corners, f, level)
        return True
    j = (side + 1) % 3
    if not columns.folds[f] & (1 << side) or max(corners[f, 3 * side + 2], corners[f, 3 * j + 2]) <= level:
        return False
    edge[0], edge[1], edge[2], edge[3] = (
        corners[f, 3 * side], corners[f, 3 * side + 1], corners[f, 3 * j], corners[f, 3 * j + 1],
    )  # fmt: skip
    return True


@njit(cache=True)
def _try_from(columns, p, q, level, to_x, to_y, best, tiny):  # type: ignore[no-untyped-def]
    """As `settle_unblocked`, from a place; `best` when that is covered, hidden or no nearer."""
    dx, dy = to_x - p[0], to_y - p[1]
    d = np.hypot(dx, dy)
    if d <= tiny or is_covered(columns, to_x, to_y, level):
        return best, 0.0, 0.0
    if not is_free_way(columns, p, q, dx / d, dy / d, d, True):
        return best, 0.0, 0.0
    return settle_unblocked(columns, p, q, level, dx / d, dy / d, d, best, tiny, True)


@njit(cache=True)
def _try_foot(columns, p, q, level, edge, found, tiny):  # type: ignore[no-untyped-def]
    """Try the foot on one edge, a small step beyond it; `found` holds distance and direction.

    Returns whether the edge comes nearer than what was found before.
    """
    foot_x, foot_y = foot_on_line(edge[0], edge[1], edge[2] - edge[0], edge[3] - edge[1], p[0], p[1], True)
    d = np.hypot(foot_x - p[0], foot_y - p[1])
    if d >= found[0] * _NEARER:
        return False
    if d <= tiny:
        return True
    step = 1.0 + _STEP * tiny / d
    to_x, to_y = p[0] + step * (foot_x - p[0]), p[1] + step * (foot_y - p[1])
    r, sx, sy = _try_from(columns, p, q, level, to_x, to_y, found[0], tiny)
    if r < found[0]:
        found[0], found[1], found[2] = r, sx, sy
    return True


@njit(cache=True)
def _try_corner(columns, place, p, q, level, one, two, found, tiny):  # type: ignore[no-untyped-def]
    """Try the place in one bin where two edges cross: an open corner between two covers ends there."""
    ax, ay, bx, by = one[2] - one[0], one[3] - one[1], two[2] - two[0], two[3] - two[1]
    turn = ax * by - ay * bx
    size_a, size_b = np.hypot(ax, ay), np.hypot(bx, by)
    if abs(turn) <= 1e-9 * size_a * size_b or turn == 0.0:
        return
    t = ((two[0] - one[0]) * by - (two[1] - one[1]) * bx) / turn
    s = ((two[0] - one[0]) * ay - (two[1] - one[1]) * ax) / turn
    if t <= 0.0 or t >= 1.0 or s <= 0.0 or s >= 1.0:
        return
    x, y = one[0] + t * ax, one[1] + t * ay
    if np.hypot(x - p[0], y - p[1]) >= found[0] * _NEARER or bin_of(columns, x, y) != place:
        return
    for sign in (-1.0, 1.0):
        wx, wy = ax / size_a + sign * bx / size_b, ay / size_a + sign * by / size_b
        ahead = _CORNER_STEP * tiny / np.hypot(wx, wy)
        if wx * (x - p[0]) + wy * (y - p[1]) < 0.0:
            ahead = -ahead
        r, sx, sy = _try_from(columns, p, q, level, x + ahead * wx, y + ahead * wy, found[0], tiny)
        if r < found[0]:
            found[0], found[1], found[2] = r, sx, sy


@njit(cache=True)
def _try_bin(columns, place, p, q, level, edges, owners, found, tiny):  # type: ignore[no-untyped-def]
    """Try the feet on the edges in one bin, and the corners where edges of two bodies cross."""
    corners = columns.corners
    n = 0
    for at in range(columns.starts[place], columns.starts[place + 1]):
        f = columns.items[at]
        if max(corners[f, 2], corners[f, 5], corners[f, 8]) <= level:
            continue
        for side in range(4):
            if n == len(owners) or not _edge_of(columns, f, side, level, edges[n]):
                continue
            if _try_foot(columns, p, q, level, edges[n], found, tiny):
                owners[n] = columns.body_of_face[f]
                n += 1
    for i in range(n):
        for k in range(i):
            if owners[i] != owners[k]:
                _try_corner(columns, place, p, q, level, edges[i], edges[k], found, tiny)


@njit(cache=True)
def _bin_distance(columns, row, column, p):  # type: ignore[no-untyped-def]
    """Plan distance from a point to one bin."""
    low_x, low_y = columns.left + column * columns.cell, columns.bottom + row * columns.cell
    dx = max(low_x - p[0], 0.0, p[0] - low_x - columns.cell)
    dy = max(low_y - p[1], 0.0, p[1] - low_y - columns.cell)
    return np.hypot(dx, dy)


@njit(cache=True)
def try_knots(columns, p, q, level, best, best_x, best_y, tiny):  # type: ignore[no-untyped-def]
    """Try what may end the cover nearer than the best found where two bodies reach over the level in one bin.

    An opening between the covers of two bodies may be narrower than a cell of the raster, which then misses it or its
    corner. Within one body's cover the raster's answer is followed to the foot on its edge.
    """
    cell = columns.cell
    first_row = max(int((p[1] - best - columns.bottom) / cell), 0)
    last_row = min(int((p[1] + best - columns.bottom) / cell), columns.n_bin_rows - 1)
    first, last = int((p[0] - best - columns.left) / cell), int((p[0] + best - columns.left) / cell)
    first, last = max(first, 0), min(last, columns.n_bin_columns - 1)
    found = np.array([best, best_x, best_y])
    edges, owners, is_made = np.empty((0, 4)), np.empty(0, dtype=np.int64), False
    for row in range(first_row, last_row + 1):
        for column in range(first, last + 1):
            place = row * columns.n_bin_columns + column
            if not columns.knots[place, 0] <= level <= columns.knots[place, 1]:
                continue
            if _bin_distance(columns, row, column, p) < found[0]:
                if not is_made:
                    edges, owners, is_made = np.empty((_MOST_EDGES, 4)), np.empty(_MOST_EDGES, dtype=np.int64), True
                _try_bin(columns, place, p, q, level, edges, owners, found, tiny)
    return found[0], found[1], found[2]
