"""Compiled loops over many directions: what is shadowed under a surface, and what a gauge reads at a few points.

Directions run in parallel, each on its own raster; a raster is sampled at cell middles, shifted off any regular grid.
"""

import numpy as np
from numba import njit, prange

__all__ = ["sweep_gaps_kernel", "sweep_voids_kernel"]

_OFF = 0.381966  # keeps cell middles off the edges of regularly made meshes


@njit(cache=True)
def _turn(vertices, frame):  # type: ignore[no-untyped-def]
    turned = np.empty_like(vertices)
    for i in range(vertices.shape[0]):
        x, y, z = vertices[i, 0], vertices[i, 1], vertices[i, 2]
        for k in range(3):
            turned[i, k] = frame[k, 0] * x + frame[k, 1] * y + frame[k, 2] * z
    return turned


@njit(cache=True)
def _plan_of(turned, face, corner):  # type: ignore[no-untyped-def]
    """Plan, heights and doubled signed area of a face: rows x, y, z of its corners."""
    for c in range(3):
        for k in range(3):
            corner[c, k] = turned[face[c], k]
    return (corner[1, 0] - corner[0, 0]) * (corner[2, 1] - corner[0, 1]) - (corner[1, 1] - corner[0, 1]) * (
        corner[2, 0] - corner[0, 0]
    )


@njit(cache=True)
def _span(corner, y, area):  # type: ignore[no-untyped-def]
    """Where a row at y enters and leaves a face, and the height at x = 0 with its slope along x."""
    low, high = np.inf, -np.inf
    for c in range(3):
        d = (c + 1) % 3
        y0, y1 = corner[c, 1], corner[d, 1]
        if (y0 <= y) != (y1 <= y):
            x = corner[c, 0] + (y - y0) / (y1 - y0) * (corner[d, 0] - corner[c, 0])
            low, high = min(low, x), max(high, x)
    ux, uy, uz = corner[1, 0] - corner[0, 0], corner[1, 1] - corner[0, 1], corner[1, 2] - corner[0, 2]
    vx, vy, vz = corner[2, 0] - corner[0, 0], corner[2, 1] - corner[0, 1], corner[2, 2] - corner[0, 2]
    slope_x, slope_y = (uz * vy - vz * uy) / area, (vz * ux - uz * vx) / area
    return low, high, corner[0, 2] + slope_y * (y - corner[0, 1]) - slope_x * corner[0, 0], slope_x


@njit(cache=True)
def _fill(turned, faces, grid, pitch, cells):  # type: ignore[no-untyped-def]
    """In each cell: highest and lowest height, sum of heights with the sign of the facing, and count of facings."""
    left, bottom = grid
    top, low, total, count = cells
    corner = np.empty((3, 3))
    for f in range(faces.shape[0]):
        area = _plan_of(turned, faces[f], corner)
        if abs(area) < 1e-12:
            continue
        sign = 1 if area > 0.0 else -1
        lowest, highest = min(corner[0, 1], corner[1, 1], corner[2, 1]), max(corner[0, 1], corner[1, 1], corner[2, 1])
        first = max(0, int(np.ceil((lowest - bottom) / pitch)))
        last = min(top.shape[0] - 1, int(np.floor((highest - bottom) / pitch)))
        for row in range(first, last + 1):
            x0, x1, height, slope = _span(corner, bottom + row * pitch, area)
            for column in range(max(0, int(np.ceil((x0 - left) / pitch))), top.shape[1]):
                x = left + column * pitch
                if x >= x1:
                    break
                z = height + slope * x
                top[row, column] = max(top[row, column], z)
                low[row, column] = min(low[row, column], z)
                total[row, column] += sign * z
                count[row, column] += sign


@njit(cache=True)
def _has_base(top, count):  # type: ignore[no-untyped-def]
    """Whether most columns close below: then their lowest surface is the cast's base, and no overhang."""
    covered, closed = 0, 0
    for row in range(top.shape[0]):
        for column in range(top.shape[1]):
            if top[row, column] > -np.inf:
                covered += 1
                closed += 1 if count[row, column] == 0 else 0
    return 2 * closed > covered


@njit(cache=True, parallel=True)
def sweep_voids_kernel(vertices, faces, frames, centers, radius, pitch):  # type: ignore[no-untyped-def]
    """Volume under overhangs for each direction: near each center in plan, then elsewhere, then cells left open."""
    n, m = frames.shape[0], centers.shape[0]
    found = np.zeros((n, m + 2))
    for d in prange(n):
        turned = _turn(vertices, frames[d])
        near = _turn(centers, frames[d])
        left, bottom = turned[:, 0].min() + _OFF * pitch, turned[:, 1].min() + _OFF * pitch
        n_rows, n_columns = int((turned[:, 1].max() - bottom) / pitch) + 1, int((turned[:, 0].max() - left) / pitch) + 1
        top = np.full((n_rows, n_columns), -np.inf, dtype=np.float32)
        low = np.full((n_rows, n_columns), np.inf, dtype=np.float32)
        total, count = np.zeros((n_rows, n_columns), dtype=np.float32), np.zeros((n_rows, n_columns), dtype=np.int16)
        _fill(turned, faces, (left, bottom), pitch, (top, low, total, count))
        has_base = _has_base(top, count)
        for row in range(n_rows):
            for column in range(n_columns):
                if count[row, column] == 0:
                    found[d, m + 1] += pitch * pitch if top[row, column] > -np.inf else 0.0
                    if not has_base or top[row, column] == -np.inf:
                        continue
                void = top[row, column] - total[row, column] - (low[row, column] if count[row, column] == 0 else 0.0)
                if count[row, column] < 0 or count[row, column] > 1 or void < 1e-4:
                    continue
                x, y, owner, best = left + column * pitch, bottom + row * pitch, m, radius * radius
                for c in range(m):
                    away = (near[c, 0] - x) ** 2 + (near[c, 1] - y) ** 2
                    if away < best:
                        owner, best = c, away
                found[d, owner] += void * pitch * pitch
    return found


@njit(cache=True)
def _fill_about(turned, faces, at, half, pitch, top, above):  # type: ignore[no-untyped-def]
    """Highest height, and lowest height over the point, in the cells around a point."""
    n = top.shape[0]
    left, bottom = at[0] - half * pitch, at[1] - half * pitch
    corner = np.empty((3, 3))
    for f in range(faces.shape[0]):
        area = _plan_of(turned, faces[f], corner)
        if abs(area) < 1e-12:
            continue
        lowest, highest = min(corner[0, 1], corner[1, 1], corner[2, 1]), max(corner[0, 1], corner[1, 1], corner[2, 1])
        for row in range(
            max(0, int(np.ceil((lowest - bottom) / pitch))), min(n - 1, int(np.floor((highest - bottom) / pitch))) + 1
        ):
            x0, x1, height, slope = _span(corner, bottom + row * pitch, area)
            for column in range(max(0, int(np.ceil((x0 - left) / pitch))), n):
                x = left + column * pitch
                if x >= x1:
                    break
                z = height + slope * x
                top[row, column] = max(top[row, column], z)
                if z > at[2]:
                    above[row, column] = min(above[row, column], z)


@njit(cache=True, parallel=True)
def sweep_gaps_kernel(vertices, faces, frames, point, slack, grid):  # type: ignore[no-untyped-def]
    """Gauge reading at a point for each direction, and the height of the contour over it; the cap where none is free.

    `grid` is (cells each way, pitch). The reading is the distance to the nearest cell whose surface stands no higher
    than the point, less a quarter cell: the mean distance of a cell's near side. The contour is the middle of what the
    last shadowed cell holds over the point: there the surface is seen edge-on.
    """
    half, pitch = grid
    n = frames.shape[0]
    found = np.zeros((n, 2))
    for d in prange(n):
        turned = _turn(vertices, frames[d])
        at = _turn(point.reshape(1, 3), frames[d])[0]
        at[2] += slack
        top = np.full((2 * half + 1, 2 * half + 1), -np.inf)
        above = np.full((2 * half + 1, 2 * half + 1), np.inf)
        _fill_about(turned, faces, at, half, pitch, top, above)
        best, row, column = (half + 1) ** 2, -1, -1
        for i in range(2 * half + 1):
            for j in range(2 * half + 1):
                away = (i - half) ** 2 + (j - half) ** 2
                if away < best and top[i, j] <= at[2]:
                    best, row, column = away, i, j
        if row < 0:
            found[d, 0] = half * pitch
            continue
        reach = np.sqrt(best)
        found[d, 0] = max(0.0, (reach - 0.25) * pitch)
        if best > 0:
            inner = max(reach - 1.0, 0.0) / reach
            i, j = half + int(np.rint((row - half) * inner)), half + int(np.rint((column - half) * inner))
            if above[i, j] < np.inf:
                found[d, 1] = 0.5 * (above[i, j] + top[i, j]) - at[2]
    return found
