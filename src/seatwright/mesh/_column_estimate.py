"""Plan distance from a point to the nearest open column, from the raster alone: quick, to about half a cell."""

import numpy as np
from numba import njit, prange

from seatwright.mesh._column_raster import BLOCK
from seatwright.mesh._column_search import BEYOND, INSIDE, MEASURED, OCTANTS, search_cells

__all__ = ["estimate_reaches"]


@njit(cache=True)
def _is_under(columns, x, y, level):  # type: ignore[no-untyped-def]
    """Whether all four cells round a point lie above a level."""
    column = int(np.floor((x - columns.left) / columns.pitch - 0.5))
    row = int(np.floor((y - columns.bottom) / columns.pitch - 0.5))
    for i in range(2):
        for k in range(2):
            if columns.heights[row + i, column + k] <= level:
                return False
    return True


@njit(cache=True, parallel=True)
def estimate_reaches(columns, points, normals, is_inside, level_slack, limit):  # type: ignore[no-untyped-def]
    """As `measure_reaches`, from the raster alone: to about half a cell, columns behind a point's own wall left out."""
    n = points.shape[0]
    reach, found = np.zeros((n, 3)), np.zeros(n, dtype=np.uint8)
    for i in prange(n):
        level = points[i, 2] + level_slack
        if is_inside[i]:
            found[i] = INSIDE
            continue
        if not _is_under(columns, points[i, 0], points[i, 1], level):
            continue
        near = np.empty((OCTANTS, 3))
        search_cells(columns, points[i, 0], points[i, 1], level, limit, near)
        best = _nearest_before(near, normals[i, 0], normals[i, 1])
        if best < 0:
            best = _nearest_before_wall(columns, points[i], level, limit, normals[i], near)
        found[i] = BEYOND
        if best >= 0:
            d = np.sqrt(near[best, 0])
            reach[i, 1], reach[i, 2] = near[best, 1] / max(d, 1e-12), near[best, 2] / max(d, 1e-12)
            reach[i, 0] = max(d - 0.25, 0.0) * columns.pitch
            found[i] = MEASURED if reach[i, 0] < limit else BEYOND
    return reach, found


@njit(cache=True)
def _faces_away(dx, dy, nx, ny):  # type: ignore[no-untyped-def]
    """Whether a plan direction leads into the wall that a point lies on."""
    return dx * nx + dy * ny < -0.2 * np.sqrt((dx * dx + dy * dy) * (nx * nx + ny * ny))


@njit(cache=True)
def _nearest_before(near, nx, ny):  # type: ignore[no-untyped-def]
    best, squared = -1, np.inf
    for k in range(OCTANTS):
        if near[k, 0] < squared and not _faces_away(near[k, 1], near[k, 2], nx, ny):
            best, squared = k, near[k, 0]
    return best


@njit(cache=True)
def _nearest_before_wall(columns, p, level, limit, normal, near):  # type: ignore[no-untyped-def]
    """Look at every open cell within the limit on the near side of the wall; the answer goes into row 0 of `near`."""
    px, py = (p[0] - columns.left) / columns.pitch - 0.5, (p[1] - columns.bottom) / columns.pitch - 0.5
    reach = limit / columns.pitch
    near[0, 0] = reach * reach
    is_found = False
    heights, lows = columns.heights, columns.lows
    first_row, last_row = max(int(py - reach), 0), min(int(py + reach) + 2, heights.shape[0])
    first, last = max(int(px - reach), 0), min(int(px + reach) + 2, heights.shape[1])
    for row in range(first_row, last_row):
        column = first
        while column < last:
            end = min((column // BLOCK + 1) * BLOCK, last)
            if lows[row // BLOCK, column // BLOCK] > level:
                column = end
                continue
            for at in range(column, end):
                dx, dy = at - px, row - py
                squared = dx * dx + dy * dy
                if squared >= near[0, 0] or heights[row, at] > level or _faces_away(dx, dy, normal[0], normal[1]):
                    continue
                near[0, 0], near[0, 1], near[0, 2] = squared, dx, dy
                is_found = True
            column = end
    return 0 if is_found else -1
