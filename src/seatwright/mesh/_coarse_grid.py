"""A surface thinned to one oriented point a cell, and a grid that knows the nearest of them."""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from seatwright.errors import CannotCompute
from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["NearestGrid", "build_nearest_grid", "sample_oriented_points"]

_MARGIN_CELLS = 8  # judgement: starts that lie farther outside are clamped to the border
_MOST_CELLS = 3e7  # judgement: a jaw fills a few hundred thousand; some gigabytes would be needed here
_MOST_POINTS_A_SIDE = 40  # judgement: bounds the work on absurdly large triangles


class NearestGrid(NamedTuple):
    """Oriented points and, for each cell, which of them lies nearest."""

    points: FloatArray
    normals: FloatArray
    nearest: NDArray[np.int32]
    origin: FloatArray
    cell_mm: float


def sample_oriented_points(surface: Surface, cell_mm: float) -> tuple[FloatArray, FloatArray]:
    """One mean point and mean normal in each occupied cell, weighted by area; shapes (n, 3), mm.

    Independent of the tessellation as far as the cell size allows, and of the order of vertices and faces.

    Raises
    ------
    CannotCompute
        If the surface is so large that its cells cannot be held: its length unit is not what was stated.
    """
    lowest = surface.vertices_mm.min(axis=0)
    size = np.floor(surface.extent_mm / cell_mm).astype(np.int64) + 1
    if float(np.prod(size + 2.0 * _MARGIN_CELLS)) > _MOST_CELLS:
        x, y, z = (f"{extent:.0f}" for extent in surface.extent_mm)
        raise CannotCompute(
            f"a surface of {x} by {y} by {z} mm is too large to search for its pose",
            hint="check the length unit of both scans, and that no stray piece lies far away",
        )
    sums = _add_in_cells(surface.vertices_mm, surface.faces, lowest, (cell_mm, cell_mm * 0.5), size)
    sums = sums[sums[:, 0] > 0]
    total, length = sums[:, 0], np.linalg.norm(sums[:, 4:], axis=1)
    # a cell that holds both sides of a thin wall has no direction
    keep = (length > 0.3 * total) & (total > 0.05 * np.median(total))
    points, normals = sums[keep, 1:4] / total[keep, None], sums[keep, 4:] / length[keep, None]
    return np.ascontiguousarray(points + lowest), np.ascontiguousarray(normals)


def build_nearest_grid(points_mm: FloatArray, normals: FloatArray, cell_mm: float) -> NearestGrid:
    """Fill a grid with the number of the point in the nearest occupied cell."""
    origin = points_mm.min(axis=0) - _MARGIN_CELLS * cell_mm
    cells = np.floor((points_mm - origin) / cell_mm).astype(np.int64)
    shape = tuple(int(k) for k in cells.max(axis=0) + 1 + _MARGIN_CELLS)
    holder = np.full(shape, -1, dtype=np.int32)
    holder[cells[:, 0], cells[:, 1], cells[:, 2]] = np.arange(len(points_mm), dtype=np.int32)
    where = distance_transform_edt(holder < 0, return_distances=False, return_indices=True)
    return NearestGrid(points_mm, normals, np.ascontiguousarray(holder[tuple(where)]), origin, float(cell_mm))


@njit(cache=True, nogil=True)
def _add_in_cells(vertices, faces, lowest, spacing, size):  # type: ignore[no-untyped-def]
    """Area, area times point (from the lowest corner) and area times normal of each cell, from small triangles.

    All in scalars, as arrays made for each face would cost more than the sums.
    """
    cell_mm, small_mm = spacing
    per_mm = 1.0 / cell_mm
    sums = np.zeros((size[0] * size[1] * size[2], 7))
    for f in range(faces.shape[0]):
        i0, i1, i2 = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = vertices[i0, 0] - lowest[0], vertices[i0, 1] - lowest[1], vertices[i0, 2] - lowest[2]
        ux, uy, uz = (
            vertices[i1, 0] - lowest[0] - ax,
            vertices[i1, 1] - lowest[1] - ay,
            vertices[i1, 2] - lowest[2] - az,
        )
        vx, vy, vz = (
            vertices[i2, 0] - lowest[0] - ax,
            vertices[i2, 1] - lowest[1] - ay,
            vertices[i2, 2] - lowest[2] - az,
        )
        uu, vv = ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz
        longest = max(uu, vv, uu + vv - 2 * (ux * vx + uy * vy + uz * vz))
        n = min(_MOST_POINTS_A_SIDE, max(1, int(np.ceil(np.sqrt(longest) / small_mm))))
        share = 0.5 / (n * n)
        nx, ny, nz = (uy * vz - uz * vy) * share, (uz * vx - ux * vz) * share, (ux * vy - uy * vx) * share
        area = np.sqrt(nx * nx + ny * ny + nz * nz)
        for i in range(n):
            for j in range(n - i):
                for half in range(2 if j < n - i - 1 else 1):
                    u, v = (i + (1 + half) / 3) / n, (j + (1 + half) / 3) / n
                    x, y, z = ax + u * ux + v * vx, ay + u * uy + v * vy, az + u * uz + v * vz
                    a = min(size[0] - 1, max(0, int(x * per_mm)))
                    b = min(size[1] - 1, max(0, int(y * per_mm)))
                    c = min(size[2] - 1, max(0, int(z * per_mm)))
                    row = sums[(a * size[1] + b) * size[2] + c]
                    row[0] += area
                    row[1] += area * x
                    row[2] += area * y
                    row[3] += area * z
                    row[4] += nx
                    row[5] += ny
                    row[6] += nz
    return sums
