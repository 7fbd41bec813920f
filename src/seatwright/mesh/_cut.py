"""Cutting a surface along the zero line of values at its vertices."""

import numpy as np
from numpy.typing import NDArray

from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["keep_below_zero"]


def keep_below_zero(surface: Surface, values: FloatArray, *, off_zero: float) -> Surface:
    """Return what lies where the values are negative, its faces cut along the zero line.

    Parameters
    ----------
    surface : Surface
        Vertices at one place joined.
    values : ndarray of shape (n_vertices,)
        Linear on each face.
    off_zero : float
        Values nearer to zero are taken for this much above it, so that no vertex lies on the line; > 0.

    Returns
    -------
    Surface
        Without faces when no value is negative. Each edge of the cut has one face; no two rims meet at a vertex.

    Examples
    --------
    >>> import numpy as np
    >>> square = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0]]), np.array([[0, 1, 2], [0, 2, 3]]))
    >>> half = keep_below_zero(square, square.vertices_mm[:, 0] - 1.0, off_zero=1e-9)
    >>> float(half.vertices_mm[:, 0].max())
    1.0
    """
    level = np.where(np.abs(values) < off_zero, off_zero, values)
    faces = surface.faces.astype(np.int64)
    inside = level[faces] < 0
    n_inside = inside.sum(axis=1)
    # turned so that the corner that is alone on its side comes first
    alone = np.where(n_inside == 1, inside.argmax(axis=1), (~inside).argmax(axis=1))
    turned = np.take_along_axis(faces, (alone[:, None] + np.arange(3)) % 3, axis=1)
    one, two = turned[n_inside == 1], turned[n_inside == 2]
    cut = np.concatenate([one[:, :2], one[:, ::2], two[:, :2], two[:, ::2]])
    low, high = np.sort(cut, axis=1).T
    keys, at = np.unique(low * surface.n_vertices + high, return_inverse=True)
    a, b = keys // surface.n_vertices, keys % surface.n_vertices
    share = level[a] / (level[a] - level[b])
    points = surface.vertices_mm
    new = points[a] + share[:, None] * (points[b] - points[a])
    n1, n2 = len(one), len(two)
    ends = surface.n_vertices + at.ravel()
    ab1, ac1, ab2, ac2 = np.split(ends, np.cumsum([n1, n1, n2]))
    kept = np.concatenate(
        [
            faces[n_inside == 3],
            np.column_stack([one[:, 0], ab1, ac1]),
            np.column_stack([ab2, two[:, 1], two[:, 2]]),
            np.column_stack([ab2, two[:, 2], ac2]),
        ]
    )
    used, renumbered = np.unique(kept, return_inverse=True)
    return Surface(_rows(points, new, used), renumbered.reshape(kept.shape).astype(np.int32))


def _rows(points: FloatArray, more: FloatArray, ids: NDArray[np.int64]) -> FloatArray:
    return np.asarray(np.vstack([points, more])[ids])
