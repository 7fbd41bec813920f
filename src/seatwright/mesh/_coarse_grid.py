"""A surface thinned to one oriented point a cell, and a grid that knows the nearest of them."""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["NearestGrid", "build_nearest_grid", "sample_oriented_points"]

_MARGIN_CELLS = 8  # judgement: starts that lie farther outside are clamped to the border
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
    """
    points, normals = _spread_points(surface.vertices_mm, surface.faces, cell_mm * 0.5)
    lowest = points.min(axis=0)
    cells = np.floor((points - lowest) / cell_mm).astype(np.int64)
    size = cells.max(axis=0) + 1
    keys = (cells[:, 0] * size[1] + cells[:, 1]) * size[2] + cells[:, 2]
    _, cell = np.unique(keys, return_inverse=True)
    areas = np.linalg.norm(normals, axis=1)
    total = np.bincount(cell, weights=areas)
    mean = np.column_stack([np.bincount(cell, weights=areas * points[:, k]) for k in range(3)]) / total[:, None]
    turned = np.column_stack([np.bincount(cell, weights=normals[:, k]) for k in range(3)])
    length = np.linalg.norm(turned, axis=1)
    # a cell that holds both sides of a thin wall has no direction
    keep = (length > 0.3 * total) & (total > 0.05 * np.median(total))
    return np.ascontiguousarray(mean[keep]), np.ascontiguousarray(turned[keep] / length[keep, None])


def build_nearest_grid(points_mm: FloatArray, normals: FloatArray, cell_mm: float) -> NearestGrid:
    """Fill a grid with the number of the point in the nearest occupied cell."""
    origin = points_mm.min(axis=0) - _MARGIN_CELLS * cell_mm
    cells = np.floor((points_mm - origin) / cell_mm).astype(np.int64)
    shape = tuple(int(k) for k in cells.max(axis=0) + 1 + _MARGIN_CELLS)
    holder = np.full(shape, -1, dtype=np.int32)
    holder[cells[:, 0], cells[:, 1], cells[:, 2]] = np.arange(len(points_mm), dtype=np.int32)
    where = distance_transform_edt(holder < 0, return_distances=False, return_indices=True)
    return NearestGrid(points_mm, normals, np.ascontiguousarray(holder[tuple(where)]), origin, float(cell_mm))


@njit(cache=True)
def _spread_points(vertices, faces, spacing):  # type: ignore[no-untyped-def]
    """Centers of the small triangles of each face, with the face normal scaled to the small triangle's area."""
    sides = np.empty(faces.shape[0], dtype=np.int64)
    n_points = 0
    for f in range(faces.shape[0]):
        a, b, c = vertices[faces[f, 0]], vertices[faces[f, 1]], vertices[faces[f, 2]]
        longest = max(((b - a) ** 2).sum(), ((c - b) ** 2).sum(), ((a - c) ** 2).sum())
        sides[f] = min(_MOST_POINTS_A_SIDE, max(1, int(np.ceil(np.sqrt(longest) / spacing))))
        n_points += sides[f] * sides[f]
    points, normals = np.empty((n_points, 3)), np.empty((n_points, 3))
    at = 0
    for f in range(faces.shape[0]):
        a, b, c = vertices[faces[f, 0]], vertices[faces[f, 1]], vertices[faces[f, 2]]
        n = sides[f]
        small = np.cross(b - a, c - a) / (2.0 * n * n)
        for i in range(n):
            for j in range(n - i):
                points[at] = a + (b - a) * ((i + 1 / 3) / n) + (c - a) * ((j + 1 / 3) / n)
                normals[at] = small
                at += 1
                if j < n - i - 1:
                    points[at] = a + (b - a) * ((i + 2 / 3) / n) + (c - a) * ((j + 2 / 3) / n)
                    normals[at] = small
                    at += 1
    return points[:at], normals[:at]
