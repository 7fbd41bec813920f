"""Where the columns along one plan line stop being covered: compiled, exact to rounding on triangles."""

import numpy as np
from numba import njit

from seatwright.mesh._column_bins import NO_FACE

__all__ = ["AT_LEVEL", "back_to_cover", "foot_on_edge", "foot_on_line"]

AT_LEVEL = 3
"""Which side ended the cover: 0 to 2 an edge of the face, 3 the line in which the face sinks below the level."""


@njit(cache=True)
def _cover_on(corners, f, x, y, level, ex, ey):  # type: ignore[no-untyped-def]
    """Where face f, as far as it lies above a level, covers a plan line: from, to, and by which side it ends."""
    sign = corners[f, 11]
    start, end, side = 0.0, np.inf, AT_LEVEL
    for k in range(3):
        j = (k + 1) % 3
        dx, dy = corners[f, 3 * j] - corners[f, 3 * k], corners[f, 3 * j + 1] - corners[f, 3 * k + 1]
        inside = sign * (dx * (y - corners[f, 3 * k + 1]) - dy * (x - corners[f, 3 * k]))
        rate = sign * (dx * ey - dy * ex)
        if rate < 0.0:
            if inside < -rate * end:
                end, side = -inside / rate, k
        elif rate > 0.0:
            if inside < -rate * start:
                start = -inside / rate
        elif inside < 0.0:
            return 0.0, -1.0, side
    if end <= start or min(corners[f, 2], corners[f, 5], corners[f, 8]) > level:
        return start, end, side
    return _keep_above(corners, f, x, y, level, ex, ey, start, end, side)


@njit(cache=True)
def _keep_above(corners, f, x, y, level, ex, ey, start, end, side):  # type: ignore[no-untyped-def]
    """Keep of a stretch of a plan line the part over which the plane of face f lies above a level."""
    over = corners[f, 2] + corners[f, 9] * (x - corners[f, 0]) + corners[f, 10] * (y - corners[f, 1]) - level
    rate = corners[f, 9] * ex + corners[f, 10] * ey
    if rate < 0.0 and over < -rate * end:
        end, side = -over / rate, AT_LEVEL
    elif rate > 0.0 and over < -rate * start:
        start = -over / rate
    elif rate == 0.0 and over <= 0.0:
        end = -1.0
    return start, end, side


@njit(cache=True)
def _last_cover_in_bin(columns, place, x, y, level, ex, ey, s, tiny):  # type: ignore[no-untyped-def]
    """Last end of cover at or before s within one bin's faces, with face and side; infinity when s is covered."""
    last, face, side = -np.inf, NO_FACE, AT_LEVEL
    corners = columns.corners
    for i in range(columns.starts[place], columns.starts[place + 1]):
        f = columns.items[i]
        if corners[f, 11] == 0.0 or max(corners[f, 2], corners[f, 5], corners[f, 8]) <= level:
            continue
        start, end, by = _cover_on(corners, f, x, y, level, ex, ey)
        if end <= start or end <= last or start > s - tiny:
            continue
        if end > s + tiny:
            return np.inf, f, by
        last, face, side = end, f, by
    return last, face, side


@njit(cache=True)
def back_to_cover(columns, x, y, level, ex, ey, s, tiny):  # type: ignore[no-untyped-def]
    """Follow a plan line from an open column at distance s back towards (x, y), to where cover ends.

    Parameters
    ----------
    columns : Columns
    x, y, level : float
        The line starts at (x, y); faces above the level cover.
    ex, ey : float
        Direction, of unit length.
    s : float
        Distance of a column that is thought to be open.
    tiny : float
        Lengths below this are rounding.

    Returns
    -------
    reached, face, side
        Distance of the open column nearest to (x, y) that is joined to the one at s, and which side of which face ends
        the cover (`NO_FACE` when all is open); infinity when the column at s is covered.
    """
    while s > 0.0:
        # the bin that the line runs through just before s, and where it enters that bin
        probe = max(s - tiny, 0.0)
        column = int(np.floor((x + probe * ex - columns.left) / columns.cell))
        row = int(np.floor((y + probe * ey - columns.bottom) / columns.cell))
        entry = -np.inf
        if ex != 0.0:
            entry = max(entry, (columns.left + (column + (ex < 0.0)) * columns.cell - x) / ex)
        if ey != 0.0:
            entry = max(entry, (columns.bottom + (row + (ey < 0.0)) * columns.cell - y) / ey)
        if 0 <= column < columns.n_bin_columns and 0 <= row < columns.n_bin_rows:
            place = row * columns.n_bin_columns + column
            last, face, side = _last_cover_in_bin(columns, place, x, y, level, ex, ey, s, tiny)
            if last > max(entry, 0.0):
                return last, face, side
        s = min(entry, s - 2.0 * tiny)
    return 0.0, NO_FACE, AT_LEVEL


@njit(cache=True)
def foot_on_edge(corners, f, side, x, y, is_clamped):  # type: ignore[no-untyped-def]
    """Plan point that is nearest to (x, y) on an edge of face f, or on the whole line through that edge."""
    j = (side + 1) % 3
    ax, ay = corners[f, 3 * side], corners[f, 3 * side + 1]
    return foot_on_line(ax, ay, corners[f, 3 * j] - ax, corners[f, 3 * j + 1] - ay, x, y, is_clamped)


@njit(cache=True)
def foot_on_line(ax, ay, dx, dy, x, y, is_clamped):  # type: ignore[no-untyped-def]
    """Plan point that is nearest to (x, y) on the stretch from (ax, ay) along (dx, dy), or on its whole line."""
    squared = dx * dx + dy * dy
    t = 0.0 if squared <= 0.0 else ((x - ax) * dx + (y - ay) * dy) / squared
    if is_clamped:
        t = min(1.0, max(0.0, t))
    return ax + t * dx, ay + t * dy
