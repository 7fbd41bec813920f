"""Which points lie within another closed body: signed crossings of the column above. Compiled counting."""

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from seatwright.mesh._column_bins import bin_of, height_on
from seatwright.mesh._columns import ColumnModel
from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.mesh._surface import IndexArray
from seatwright.quantities import FloatArray

__all__ = ["find_buried"]


@njit(cache=True, parallel=True)
def _count_over(columns, points, own_body, body_of_face, is_closed):  # type: ignore[no-untyped-def]
    """Upper sides minus lower sides of other closed bodies above each point: how many bodies it lies in."""
    n = points.shape[0]
    depth = np.zeros(n, dtype=np.int32)
    for i in prange(n):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        place = bin_of(columns, x, y)
        if place < 0:
            continue
        for k in range(columns.starts[place], columns.starts[place + 1]):
            f = columns.items[k]
            body = body_of_face[f]
            if body != own_body[i] and is_closed[body] and height_on(columns.corners, f, x, y) > z:
                depth[i] += 1 if columns.corners[f, 11] > 0.0 else -1
    return depth


def find_buried(
    model: ColumnModel,
    points_mm: FloatArray,
    own_body: NDArray[np.int32],
    body_of_face: IndexArray | NDArray[np.int32],
    is_closed: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Whether each point lies within a closed body other than its own.

    Parameters
    ----------
    model : ColumnModel
        Built with bins.
    points_mm : ndarray of shape (n, 3)
        In the columns' frame.
    own_body : ndarray of shape (n,), int32
        Label of the body that the point belongs to; -1 for none.
    body_of_face : ndarray of shape (m,), int32
        Label of each face; see `find_components`.
    is_closed : ndarray of shape (n_bodies,), bool

    Notes
    -----
    Exact on triangles whose faces look outwards. Points are moved by a few nanometers in plan, so that no column runs
    through an edge.
    """
    size = float(np.abs(model.vertices_mm).max())
    aside = np.array([0.61803399e-9, 0.41421356e-9, 0.0]) * max(size, 1.0) * 10.0
    points = np.ascontiguousarray(points_mm + aside)
    with KERNEL_LOCK:
        depth = _count_over(
            model.columns,
            points,
            np.ascontiguousarray(own_body, dtype=np.int32),
            np.ascontiguousarray(body_of_face, dtype=np.int32),
            np.ascontiguousarray(is_closed, dtype=np.bool_),
        )
    return np.asarray(depth > 0)
