"""Fewer points that still stand for the surface."""

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import ValueOutOfRange
from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["choose_vertices", "choose_voxel_points"]


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
    cells = np.floor((points_mm - points_mm.min(axis=0)) / cell_mm).astype(np.int64)
    size = cells.max(axis=0) + 1
    keys = (cells[:, 0] * size[1] + cells[:, 1]) * size[2] + cells[:, 2]
    _, cell, counts = np.unique(keys, return_inverse=True, return_counts=True)
    mean = np.column_stack([np.bincount(cell, weights=points_mm[:, k]) for k in range(3)]) / counts[:, None]
    squared = ((points_mm - mean[cell]) ** 2).sum(axis=1)
    # two points of a cell lie equally far from their mean: the coordinates decide, not the order
    order = np.lexsort((*points_mm.T, np.round(squared / cell_mm**2, 9), cell))
    first = np.concatenate(([0], np.cumsum(counts)[:-1]))
    return np.sort(order[first])
