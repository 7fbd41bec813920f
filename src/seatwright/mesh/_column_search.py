"""Plan distance from a point to the nearest open column: raster search, then exact steps to the cover's edge."""

import numpy as np
from numba import njit, prange

from seatwright.mesh._column_bins import NO_FACE, bin_of, find_first_crossing, is_covered
from seatwright.mesh._column_knots import try_knots
from seatwright.mesh._column_raster import BLOCK
from seatwright.mesh._column_settle import settle_unblocked
from seatwright.mesh._column_walk import AT_LEVEL, back_to_cover

__all__ = ["BEYOND", "INSIDE", "MEASURED", "OCTANTS", "OPEN", "measure_reaches", "search_cells"]

OPEN, MEASURED, BEYOND, INSIDE = 0, 1, 2, 3
"""What was found: nothing above the point; a distance; no column to be reached within the limit; a point in a body."""
OCTANTS = 8
_MARGIN = 0.75  # judgement: an edge may lie this many cells before the nearest open middle (half a diagonal is .71)
_RAYS = 72  # judgement: 5 degrees apart, narrowed where one is the shortest
_WORTH = 1.3  # judgement: a ray longer than the best by more does not become the best within half a step
_FINEST_TURN = 1e-4  # judgement: rad; .2 µm over 2 mm
_BEYOND = 2.0  # judgement: in cells; a step is half of one, and one open point may lie in a cell whose middle is not
_FLAT = -0.94  # judgement: cosine of 160 degrees; on a flatter wall nothing is gained along it
_SAME_SIDE = 0.9  # judgement: cosine of 26 degrees; nearer candidates lead to the same foot


@njit(cache=True)
def _scan_block(columns, block_row, block_column, px, py, level, best, near):  # type: ignore[no-untyped-def]
    """Note the open cells of one block in `near` (8, 3): squared distance, offset x, y; return the least distance."""
    heights = columns.heights
    bound = (np.sqrt(best) + _MARGIN) ** 2
    for row in range(block_row * BLOCK, min((block_row + 1) * BLOCK, heights.shape[0])):
        dy = row - py
        for column in range(block_column * BLOCK, min((block_column + 1) * BLOCK, heights.shape[1])):
            if heights[row, column] > level:
                continue
            dx = column - px
            squared = dx * dx + dy * dy
            if squared > bound:
                continue
            octant = (1 if dx > 0 else 0) + (2 if dy > 0 else 0) + (4 if abs(dx) > abs(dy) else 0)
            if squared < near[octant, 0]:
                near[octant, 0], near[octant, 1], near[octant, 2] = squared, dx, dy
                if squared < best:
                    best = squared
                    bound = (np.sqrt(best) + _MARGIN) ** 2
    return best


@njit(cache=True)
def _outside_squared(first, last, p):  # type: ignore[no-untyped-def]
    d = max(first - p, 0.0, p - last)
    return d * d


@njit(cache=True)
def search_cells(columns, x, y, level, limit, near):  # type: ignore[no-untyped-def]
    """Find the nearest open cells of the raster, in each octant those not much farther than the nearest of all."""
    px, py = (x - columns.left) / columns.pitch - 0.5, (y - columns.bottom) / columns.pitch - 0.5
    lows = columns.lows
    home_row = min(max(int(py + 0.5), 0), columns.heights.shape[0] - 1) // BLOCK
    home_column = min(max(int(px + 0.5), 0), columns.heights.shape[1] - 1) // BLOCK
    best = (limit / columns.pitch + 1.0) ** 2
    near[:, 0] = np.inf
    ring = 0
    while ring <= max(lows.shape) and (ring - 1) * BLOCK <= np.sqrt(best) + _MARGIN:
        for row in range(max(home_row - ring, 0), min(home_row + ring, lows.shape[0] - 1) + 1):
            step = 1 if abs(row - home_row) == ring else max(2 * ring, 1)
            aside = _outside_squared(row * BLOCK, row * BLOCK + BLOCK - 1, py)
            for column in range(home_column - ring, home_column + ring + 1, step):
                if column < 0 or column >= lows.shape[1] or lows[row, column] > level:
                    continue
                squared = aside + _outside_squared(column * BLOCK, column * BLOCK + BLOCK - 1, px)
                if squared <= (np.sqrt(best) + _MARGIN) ** 2:
                    best = _scan_block(columns, row, column, px, py, level, best, near)
        ring += 1
    return best


@njit(cache=True)
def _shoot(columns, p, q, level, angle, limit, tiny):  # type: ignore[no-untyped-def]
    """Distance at which the line from p at a plan angle first finds an open column; `limit` when it is blocked."""
    ex, ey = np.cos(angle), np.sin(angle)
    # the step that lands in the open may lie beyond the limit although the edge before it does not
    clear = find_first_crossing(columns, q[0], q[1], q[2], ex, ey, limit + _BEYOND * columns.pitch)
    s = _first_open_cell(columns, p[0], p[1], level, ex, ey, clear)
    if s >= clear:
        return limit
    r, face, side = back_to_cover(columns, p[0], p[1], level, ex, ey, s, tiny)
    if r >= min(clear, limit) or (face != NO_FACE and side == AT_LEVEL and columns.corners[face, 11] > 0.0):
        return limit
    return r


@njit(cache=True)
def _look_around(columns, p, q, level, limit, tiny):  # type: ignore[no-untyped-def]
    """Shoot rays all round: the slow way, for a point that the solid hides open columns from.

    The nearest column in sight often lies at the edge of the sector that the solid leaves free: from each ray that is
    the shortest of its neighbors the angle is narrowed by halves.
    """
    step = 2.0 * np.pi / _RAYS
    reach = np.empty(_RAYS)
    best, best_angle = limit, 0.0
    for k in range(_RAYS):
        reach[k] = _shoot(columns, p, q, level, k * step, min(limit, _WORTH * best), tiny)
        if reach[k] < best:
            best, best_angle = reach[k], k * step
    bound = min(limit, _WORTH * best)
    for k in range(_RAYS):
        r, angle, turn = reach[k], k * step, step
        if r >= bound or r > reach[k - 1] or r > reach[(k + 1) % _RAYS]:
            continue
        while turn > _FINEST_TURN:
            turn *= 0.5
            for side in (-1.0, 1.0):
                tried = _shoot(columns, p, q, level, angle + side * turn, r, tiny)
                if tried < r:
                    r, angle = tried, angle + side * turn
                    break
        if r < best:
            best, best_angle = r, angle
    return best, np.cos(best_angle), np.sin(best_angle)


@njit(cache=True)
def _first_open_cell(columns, x, y, level, ex, ey, limit):  # type: ignore[no-untyped-def]
    """Step along a plan line by half cells of the raster to the first open one; `limit` when there is none before."""
    s = 0.0
    while s < limit:
        column = int(np.floor((x + s * ex - columns.left) / columns.pitch))
        row = int(np.floor((y + s * ey - columns.bottom) / columns.pitch))
        if column < 0 or row < 0 or row >= columns.heights.shape[0] or column >= columns.heights.shape[1]:
            return s
        if columns.heights[row, column] <= level and not is_covered(columns, x + s * ex, y + s * ey, level):
            return s
        s += 0.5 * columns.pitch
    return limit


@njit(cache=True)
def _try_along_walls(columns, p, q, level, best, best_x, best_y, tiny):  # type: ignore[no-untyped-def]
    """Try the level lines in the faces that meet at p, where these make a sharp corner.

    The nearest column in sight lies on such a line when a nearer one is hidden by p's own body.
    """
    corners = columns.corners
    found, n = np.zeros((2, 2)), 0
    place = bin_of(columns, p[0], p[1])
    if place < 0:
        return best, best_x, best_y
    for at in range(columns.starts[place], columns.starts[place + 1]):
        f = columns.items[at]
        for k in range(3):
            i, j = 3 * ((k + 1) % 3), 3 * ((k + 2) % 3)
            if corners[f, 3 * k] != p[0] or corners[f, 3 * k + 1] != p[1] or corners[f, 3 * k + 2] != p[2]:
                continue
            above, below = corners[f, i + 2] - p[2], corners[f, j + 2] - p[2]
            if above * below >= 0.0 or n == 2:
                continue
            t = above / (above - below)
            dx = corners[f, i] + t * (corners[f, j] - corners[f, i]) - p[0]
            dy = corners[f, i + 1] + t * (corners[f, j + 1] - corners[f, i + 1]) - p[1]
            size = np.hypot(dx, dy)
            if size > tiny:
                found[n, 0], found[n, 1] = dx / size, dy / size
                n += 1
    if n == 2 and found[0, 0] * found[1, 0] + found[0, 1] * found[1, 1] > _FLAT:
        for k in range(2):
            angle = np.arctan2(found[k, 1], found[k, 0])
            r = _shoot(columns, p, q, level, angle, best, tiny)
            if r < best:
                best, best_x, best_y = r, found[k, 0], found[k, 1]
    return best, best_x, best_y


@njit(cache=True)
def _reach_one(columns, p, q, level, limit, tiny, near):  # type: ignore[no-untyped-def]
    """Distance and direction for one covered point; at least `limit` when there is none."""
    nearest = search_cells(columns, p[0], p[1], level, limit, near)
    best, best_x, best_y = limit, 0.0, 0.0
    is_blocked = False
    for _ in range(OCTANTS):
        octant = int(np.argmin(near[:, 0]))
        d = np.sqrt(near[octant, 0])
        if d > np.sqrt(nearest) + _MARGIN or (d - _MARGIN) * columns.pitch >= best:
            break
        near[octant, 0] = np.inf
        ex, ey = near[octant, 1] / max(d, 1e-12), near[octant, 2] / max(d, 1e-12)
        if best < limit and ex * best_x + ey * best_y > _SAME_SIDE:
            continue
        r, sx, sy = settle_unblocked(columns, p, q, level, ex, ey, d * columns.pitch, limit, tiny, False)
        if r < best:
            best, best_x, best_y = r, sx, sy
        is_blocked = is_blocked or r >= limit
    if is_blocked:
        r, ex, ey = _look_around(columns, p, q, level, best, tiny)
        if r < best:
            best, best_x, best_y = r, ex, ey
    best, best_x, best_y = _try_along_walls(columns, p, q, level, best, best_x, best_y, tiny)
    if len(columns.knots):
        return try_knots(columns, p, q, level, best, best_x, best_y, tiny)
    return best, best_x, best_y


@njit(cache=True, parallel=True)
def measure_reaches(columns, points, starts, is_inside, level_slack, limit, tiny):  # type: ignore[no-untyped-def]
    """Exact on triangles, for each of the points; see `measure_reach`.

    Returns
    -------
    reach : ndarray of shape (n, 3)
        Distance and plan direction to the open column.
    found : ndarray of shape (n,), uint8
    """
    n = points.shape[0]
    reach, found = np.zeros((n, 3)), np.zeros(n, dtype=np.uint8)
    for i in prange(n):
        level = points[i, 2] + level_slack
        if is_inside[i]:
            found[i] = INSIDE
            continue
        if not is_covered(columns, points[i, 0], points[i, 1], level):
            continue
        near = np.empty((OCTANTS, 3))
        r, ex, ey = _reach_one(columns, points[i], starts[i], level, limit, tiny, near)
        if r <= tiny:
            continue
        reach[i, 0], reach[i, 1], reach[i, 2] = r, ex, ey
        found[i] = MEASURED if r < limit else BEYOND
    return reach, found
