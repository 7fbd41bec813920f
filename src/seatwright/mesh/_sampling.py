"""Fewer points that still stand for the surface.

Compiled functions carry no types: the compiler infers them, and a checker cannot see through it.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from seatwright.errors import ValueOutOfRange
from seatwright.mesh._kernels import MIX
from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["choose_vertices", "choose_voxel_points", "draw_face_points"]

_CELLS_A_POINT = 64  # judgement: a few words of memory for each; beyond this the cells are numbered by sorting


def choose_vertices(surface: Surface, n_wanted: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Choose at most `n_wanted` vertices at random without repetition; their indices, ascending."""
    if n_wanted < 1:
        raise ValueOutOfRange(f"at least one vertex must be chosen, got {n_wanted}")
    if n_wanted >= surface.n_vertices:
        return np.arange(surface.n_vertices)
    return np.sort(rng.choice(surface.n_vertices, size=n_wanted, replace=False))


def choose_voxel_points(points_mm: FloatArray, cell_mm: float) -> NDArray[np.int64]:
    """Choose one point in each occupied cell, the one nearest to the mean of its cell; indices, ascending.

    Independent of the order of the points.

    Examples
    --------
    >>> import numpy as np
    >>> choose_voxel_points(np.array([[0.1, 0, 0], [0.2, 0, 0], [0.3, 0, 0], [5.0, 0, 0]]), 1.0)
    array([1, 3])
    """
    if not cell_mm > 0:
        raise ValueOutOfRange(f"a cell must have a positive size, got {cell_mm} mm")
    lowest = points_mm.min(axis=0)
    size = np.floor((points_mm.max(axis=0) - lowest) / cell_mm).astype(np.int64) + 1
    keys = _key_cells(points_mm, lowest, float(cell_mm), size)
    if float(np.prod(size.astype(np.float64))) > _CELLS_A_POINT * len(points_mm) + 1:
        _, keys = np.unique(keys, return_inverse=True)
    return np.asarray(_choose_in_cells(points_mm, keys, float(cell_mm)))


def draw_face_points(surface: Surface, one_in: int) -> tuple[FloatArray, FloatArray]:
    """Draw a point on about one in so many faces; return points (n, 3), mm, and area vectors (n, 3), mm2.

    A mix of the corners' coordinates decides which faces and which corner, so that the order of vertices and faces
    does not. The point lies at (2/3, 1/6, 1/6) of its face: there the distance between a face and the curved surface
    that it stands for is, to second order, what it is on average over the face, so that two tessellations of one
    surface lie on each other without a lean. An area vector is the outward normal times the area of the face.

    References
    ----------
    .. [1] Strang, Fix, An Analysis of the Finite Element Method (1973), section 4.3 (three-point rule of degree 2 on a
       triangle).
    """
    if one_in < 1:
        raise ValueOutOfRange(f"one in {one_in} faces cannot be drawn")
    bits = (surface.vertices_mm + 0.0).view(np.uint64)
    points, areas = _draw(surface.vertices_mm, surface.faces, bits, np.uint64(0xFFFFFFFFFFFFFFFF // one_in))
    return points, areas


@njit(cache=True, nogil=True)
def _draw(vertices, faces, bits, below):  # type: ignore[no-untyped-def]
    n = vertices.shape[0]
    mixed = np.empty(n, dtype=np.uint64)
    for i in range(n):
        key = (bits[i, 0] * MIX[0]) ^ (bits[i, 1] * MIX[1]) ^ (bits[i, 2] * MIX[2])
        key = (key ^ (key >> np.uint64(29))) * MIX[0]
        mixed[i] = (key ^ (key >> np.uint64(32))) * MIX[1]
    points, areas = np.empty((faces.shape[0], 3)), np.empty((faces.shape[0], 3))
    count = 0
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        if mixed[a] + mixed[b] + mixed[c] > below:
            continue
        first = a if mixed[a] >= mixed[b] and mixed[a] >= mixed[c] else (b if mixed[b] >= mixed[c] else c)
        for k in range(3):
            mean = (vertices[a, k] + vertices[b, k] + vertices[c, k]) / 6.0
            points[count, k] = mean + vertices[first, k] / 2.0
            k1, k2 = (k + 1) % 3, (k + 2) % 3
            u1, u2 = vertices[b, k1] - vertices[a, k1], vertices[b, k2] - vertices[a, k2]
            v1, v2 = vertices[c, k1] - vertices[a, k1], vertices[c, k2] - vertices[a, k2]
            areas[count, k] = (u1 * v2 - u2 * v1) / 2.0
        count += 1
    return points[:count].copy(), areas[:count].copy()


@njit(cache=True, nogil=True)
def _key_cells(points, lowest, cell_mm, size):  # type: ignore[no-untyped-def]
    keys = np.empty(points.shape[0], dtype=np.int64)
    for i in range(points.shape[0]):
        key = 0
        for k in range(3):
            key = key * size[k] + min(size[k] - 1, int((points[i, k] - lowest[k]) / cell_mm))
        keys[i] = key
    return keys


@njit(cache=True, nogil=True)
def _choose_in_cells(points, keys, cell_mm):  # type: ignore[no-untyped-def]
    """Choose the point nearest to the mean of each occupied cell; indices, ascending."""
    n_cells = keys.max() + 1
    sums, counts = np.zeros((n_cells, 3)), np.zeros(n_cells, dtype=np.int64)
    for i in range(points.shape[0]):
        counts[keys[i]] += 1
        for k in range(3):
            sums[keys[i], k] += points[i, k]
    best, nearest = np.full(n_cells, -1, dtype=np.int64), np.empty(n_cells, dtype=np.int64)
    for i in range(points.shape[0]):
        key, squared = keys[i], 0.0
        for k in range(3):
            squared += (points[i, k] - sums[key, k] / counts[key]) ** 2
        # two points of a cell lie equally far from their mean: the coordinates decide, not the order
        rank = np.int64(np.rint(squared / cell_mm**2 * 1e9))
        if best[key] < 0 or rank < nearest[key] or (rank == nearest[key] and _comes_first(points, i, best[key])):
            best[key], nearest[key] = i, rank
    return np.sort(best[best >= 0])


@njit(cache=True)
def _comes_first(points, i, j):  # type: ignore[no-untyped-def]
    for k in (2, 1, 0):
        if points[i, k] != points[j, k]:
            return points[i, k] < points[j, k]
    return False
