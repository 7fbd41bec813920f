"""Heights of the highest surface over a plan grid: compiled z-buffer and the lowest height of each block of it."""

import numpy as np
from numba import njit, prange

__all__ = ["BLOCK", "fill_heights", "find_block_lows", "prepare_corners"]

BLOCK = 8  # judgement: a block of float32 heights fills eight cache lines
_BANDS = 8  # judgement: even shares for two to eight threads
_SLACK = 1e-9  # judgement: a column on an edge belongs to both faces; in pitches


@njit(cache=True, parallel=True)
def prepare_corners(vertices, faces):  # type: ignore[no-untyped-def]
    """Return (m, 12) a face: three corners, slope of its plane along x and y, sign of its plan area.

    The sign is 0 where the face stands on edge; then the slopes are 0 and no column crosses it.
    """
    n = faces.shape[0]
    corners = np.empty((n, 12))
    for f in prange(n):
        for k in range(3):
            for a in range(3):
                corners[f, 3 * k + a] = vertices[faces[f, k], a]
        ux, uy, uz = corners[f, 3] - corners[f, 0], corners[f, 4] - corners[f, 1], corners[f, 5] - corners[f, 2]
        vx, vy, vz = corners[f, 6] - corners[f, 0], corners[f, 7] - corners[f, 1], corners[f, 8] - corners[f, 2]
        area = ux * vy - uy * vx
        size = (abs(ux) + abs(uy)) * (abs(vx) + abs(vy))
        corners[f, 9] = corners[f, 10] = corners[f, 11] = 0.0
        if abs(area) > 1e-12 * size and size > 0.0:
            corners[f, 9] = (uz * vy - uy * vz) / area
            corners[f, 10] = (ux * vz - uz * vx) / area
            corners[f, 11] = 1.0 if area > 0.0 else -1.0
    return corners


@njit(cache=True)
def row_span(corners, f, y):  # type: ignore[no-untyped-def]
    """Least and largest x of face f on the line at y; empty (inf, -inf) when it does not reach there."""
    low, high = np.inf, -np.inf
    for k in range(3):
        j = (k + 1) % 3
        x0, y0, x1, y1 = corners[f, 3 * k], corners[f, 3 * k + 1], corners[f, 3 * j], corners[f, 3 * j + 1]
        if (y0 < y and y1 < y) or (y0 > y and y1 > y):
            continue
        if y0 == y1:
            low, high = min(low, x0, x1), max(high, x0, x1)
        else:
            x = x0 + (x1 - x0) * ((y - y0) / (y1 - y0))
            low, high = min(low, x), max(high, x)
    return low, high


@njit(cache=True)
def _fill_row(corners, f, heights, row, left, bottom, pitch):  # type: ignore[no-untyped-def]
    y = bottom + (row + 0.5) * pitch
    lowest = min(corners[f, 2], corners[f, 5], corners[f, 8])
    highest = max(corners[f, 2], corners[f, 5], corners[f, 8])
    low, high = row_span(corners, f, y)
    if low > high:
        return
    first = max(int(np.ceil((low - left) / pitch - 0.5 - _SLACK)), 0)
    last = min(int(np.floor((high - left) / pitch - 0.5 + _SLACK)), heights.shape[1] - 1)
    z = corners[f, 2] + corners[f, 9] * (left + (first + 0.5) * pitch - corners[f, 0])
    z += corners[f, 10] * (y - corners[f, 1])
    step = corners[f, 9] * pitch
    for column in range(first, last + 1):
        height = np.float32(min(max(z, lowest), highest))
        heights[row, column] = max(heights[row, column], height)
        z += step


@njit(cache=True, parallel=True)
def fill_heights(corners, n_rows, n_columns, left, bottom, pitch):  # type: ignore[no-untyped-def]
    """Height of the highest face over the middle of each cell, (n_rows, n_columns) float32; -inf where there is none.

    Parameters
    ----------
    corners : ndarray of shape (m, 12)
        As `prepare_corners` returns them.
    left, bottom, pitch : float
        The middle of cell (row, column) lies at left + (column + .5) pitch, bottom + (row + .5) pitch.
    """
    heights = np.full((n_rows, n_columns), np.float32(-np.inf))
    for band in prange(_BANDS):
        start, end = band * n_rows // _BANDS, (band + 1) * n_rows // _BANDS
        low, high = bottom + start * pitch, bottom + end * pitch
        for f in range(corners.shape[0]):
            lowest = min(corners[f, 1], corners[f, 4], corners[f, 7])
            highest = max(corners[f, 1], corners[f, 4], corners[f, 7])
            if highest < low or lowest > high or corners[f, 11] == 0.0:
                continue
            first = max(int(np.ceil((lowest - bottom) / pitch - 0.5 - _SLACK)), start)
            last = min(int(np.floor((highest - bottom) / pitch - 0.5 + _SLACK)), end - 1)
            for row in range(first, last + 1):
                _fill_row(corners, f, heights, row, left, bottom, pitch)
    return heights


@njit(cache=True, parallel=True)
def find_block_lows(heights):  # type: ignore[no-untyped-def]
    """Lowest height in each block of cells; the last blocks may be smaller."""
    n_rows = (heights.shape[0] + BLOCK - 1) // BLOCK
    n_columns = (heights.shape[1] + BLOCK - 1) // BLOCK
    lows = np.full((n_rows, n_columns), np.float32(np.inf))
    for block_row in prange(n_rows):
        for row in range(block_row * BLOCK, min((block_row + 1) * BLOCK, heights.shape[0])):
            for column in range(heights.shape[1]):
                lows[block_row, column // BLOCK] = min(lows[block_row, column // BLOCK], heights[row, column])
    return lows
