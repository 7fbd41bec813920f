"""Faces sorted into square plan bins, and what one column or one horizontal line meets: compiled, exact to rounding.

Compiled functions carry no types: the compiler infers them, and a checker cannot see through it.
"""

import numpy as np
from numba import njit

from seatwright.mesh._column_raster import row_span

__all__ = ["NO_FACE", "count_in_bins", "cut_at", "find_first_crossing", "find_top", "is_covered", "list_in_bins"]

NO_FACE = -1


@njit(cache=True)
def _bin_rows(corners, f, bottom, cell, n_rows):  # type: ignore[no-untyped-def]
    low = min(corners[f, 1], corners[f, 4], corners[f, 7])
    high = max(corners[f, 1], corners[f, 4], corners[f, 7])
    first = min(max(int((low - bottom) / cell), 0), n_rows - 1)
    return first, min(max(int((high - bottom) / cell), 0), n_rows - 1)


@njit(cache=True)
def _bin_columns(corners, f, left, y_low, y_high, cell, n_columns):  # type: ignore[no-untyped-def]
    """First and last bin that face f reaches between two heights of the plan."""
    low, high = np.inf, -np.inf
    for k in range(3):
        if y_low <= corners[f, 3 * k + 1] <= y_high:
            low, high = min(low, corners[f, 3 * k]), max(high, corners[f, 3 * k])
    for y in (y_low, y_high):
        one, two = row_span(corners, f, y)
        low, high = min(low, one), max(high, two)
    if low > high:
        return 0, -1
    first = min(max(int((low - left) / cell), 0), n_columns - 1)
    return first, min(max(int((high - left) / cell), 0), n_columns - 1)


@njit(cache=True)
def count_in_bins(corners, left, bottom, cell, n_rows, n_columns):  # type: ignore[no-untyped-def]
    """Return the start of each bin's list, (n_rows * n_columns + 1,), the lists still empty."""
    starts = np.zeros(n_rows * n_columns + 1, dtype=np.int64)
    slack = 1e-9 * cell
    for f in range(corners.shape[0]):
        first_row, last_row = _bin_rows(corners, f, bottom, cell, n_rows)
        for row in range(first_row, last_row + 1):
            low, high = bottom + row * cell - slack, bottom + (row + 1) * cell + slack
            first, last = _bin_columns(corners, f, left, low, high, cell, n_columns)
            for column in range(first, last + 1):
                starts[row * n_columns + column + 1] += 1
    return np.cumsum(starts)


@njit(cache=True)
def list_in_bins(corners, starts, left, bottom, cell, n_rows, n_columns):  # type: ignore[no-untyped-def]
    """Return the faces of all bins, one list after the other."""
    items = np.empty(starts[-1], dtype=np.int32)
    at = starts[:-1].copy()
    slack = 1e-9 * cell
    for f in range(corners.shape[0]):
        first_row, last_row = _bin_rows(corners, f, bottom, cell, n_rows)
        for row in range(first_row, last_row + 1):
            low, high = bottom + row * cell - slack, bottom + (row + 1) * cell + slack
            first, last = _bin_columns(corners, f, left, low, high, cell, n_columns)
            for column in range(first, last + 1):
                place = row * n_columns + column
                items[at[place]] = f
                at[place] += 1
    return items


@njit(cache=True)
def bin_of(columns, x, y):  # type: ignore[no-untyped-def]
    """Place of the bin that holds a plan point, -1 outside."""
    column = int(np.floor((x - columns.left) / columns.cell))
    row = int(np.floor((y - columns.bottom) / columns.cell))
    if column < 0 or row < 0 or column >= columns.n_bin_columns or row >= columns.n_bin_rows:
        return -1
    return row * columns.n_bin_columns + column


@njit(cache=True)
def height_on(corners, f, x, y):  # type: ignore[no-untyped-def]
    """Height of face f over a plan point, -inf where the face does not reach."""
    sign = corners[f, 11]
    if sign == 0.0:
        return -np.inf
    ax, ay, bx, by = corners[f, 0], corners[f, 1], corners[f, 3], corners[f, 4]
    cx, cy = corners[f, 6], corners[f, 7]
    if (
        sign * ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) < 0.0
        or sign * ((cx - bx) * (y - by) - (cy - by) * (x - bx)) < 0.0
        or sign * ((ax - cx) * (y - cy) - (ay - cy) * (x - cx)) < 0.0
    ):
        return -np.inf
    z = corners[f, 2] + corners[f, 9] * (x - ax) + corners[f, 10] * (y - ay)
    low = min(corners[f, 2], corners[f, 5], corners[f, 8])
    return min(max(z, low), max(corners[f, 2], corners[f, 5], corners[f, 8]))


@njit(cache=True)
def find_top(columns, x, y):  # type: ignore[no-untyped-def]
    """Height of the highest face over a plan point and the face; -inf and `NO_FACE` where there is none."""
    top, face = -np.inf, NO_FACE
    place = bin_of(columns, x, y)
    if place >= 0:
        for i in range(columns.starts[place], columns.starts[place + 1]):
            z = height_on(columns.corners, columns.items[i], x, y)
            if z > top:
                top, face = z, columns.items[i]
    return top, face


@njit(cache=True)
def is_covered(columns, x, y, level):  # type: ignore[no-untyped-def]
    """Whether any face lies over a plan point above a level."""
    place = bin_of(columns, x, y)
    if place < 0:
        return False
    corners = columns.corners
    for i in range(columns.starts[place], columns.starts[place + 1]):
        f = columns.items[i]
        if max(corners[f, 2], corners[f, 5], corners[f, 8]) > level and height_on(corners, f, x, y) > level:
            return True
    return False


@njit(cache=True)
def cut_at(corners, f, level):  # type: ignore[no-untyped-def]
    """Cut face f, which must reach from below to above, at a level; return both ends of the line in plan."""
    ends = np.empty(4)
    n = 0
    for k in range(3):
        j = (k + 1) % 3
        z0, z1 = corners[f, 3 * k + 2] - level, corners[f, 3 * j + 2] - level
        if (z0 > 0.0) != (z1 > 0.0) and n < 2:
            t = z0 / (z0 - z1)
            ends[2 * n] = corners[f, 3 * k] + t * (corners[f, 3 * j] - corners[f, 3 * k])
            ends[2 * n + 1] = corners[f, 3 * k + 1] + t * (corners[f, 3 * j + 1] - corners[f, 3 * k + 1])
            n += 1
    return ends[0], ends[1], ends[2], ends[3]


@njit(cache=True)
def _crossing_on(corners, f, x, y, level, ex, ey, limit):  # type: ignore[no-untyped-def]
    """Distance at which a horizontal line from (x, y) along (ex, ey) meets face f, `limit` where it does not."""
    z0, z1, z2 = corners[f, 2], corners[f, 5], corners[f, 8]
    if min(z0, z1, z2) > level or max(z0, z1, z2) <= level:
        return limit
    ax, ay, bx, by = cut_at(corners, f, level)
    along_a, along_b = (ax - x) * ex + (ay - y) * ey, (bx - x) * ex + (by - y) * ey
    aside_a, aside_b = (ay - y) * ex - (ax - x) * ey, (by - y) * ex - (bx - x) * ey
    if (aside_a > 0.0 and aside_b > 0.0) or (aside_a < 0.0 and aside_b < 0.0):
        return limit
    if aside_a == aside_b:
        distance = min(along_a, along_b)
    else:
        distance = along_a + (along_b - along_a) * (aside_a / (aside_a - aside_b))
    return distance if 0.0 <= distance < limit else limit


@njit(cache=True)
def find_first_crossing(columns, x, y, level, ex, ey, limit):  # type: ignore[no-untyped-def]
    """Distance at which a horizontal line at a level first meets a face; `limit` when it does not before.

    Parameters
    ----------
    columns : Columns
    x, y, level : float
        Where the line starts.
    ex, ey : float
        Its direction, of unit length.
    limit : float
        How far it is followed.
    """
    cell = columns.cell
    column = int(np.floor((x - columns.left) / cell))
    row = int(np.floor((y - columns.bottom) / cell))
    step_x, step_y = (1 if ex > 0.0 else -1), (1 if ey > 0.0 else -1)
    next_x, next_y, per_x, per_y = np.inf, np.inf, np.inf, np.inf
    if ex != 0.0:
        per_x = cell / abs(ex)
        next_x = (columns.left + (column + (step_x > 0)) * cell - x) / ex
    if ey != 0.0:
        per_y = cell / abs(ey)
        next_y = (columns.bottom + (row + (step_y > 0)) * cell - y) / ey
    best, reached = limit, 0.0
    while reached < best:
        if column < 0 or row < 0 or column >= columns.n_bin_columns or row >= columns.n_bin_rows:
            break
        place = row * columns.n_bin_columns + column
        for i in range(columns.starts[place], columns.starts[place + 1]):
            best = _crossing_on(columns.corners, columns.items[i], x, y, level, ex, ey, best)
        if next_x < next_y:
            reached, next_x, column = next_x, next_x + per_x, column + step_x
        else:
            reached, next_y, row = next_y, next_y + per_y, row + step_y
    return best
