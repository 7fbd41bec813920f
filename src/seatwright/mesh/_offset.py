"""A surface moved along its own normals, edges kept sharp."""

import numpy as np

from seatwright.mesh._surface import Surface, measure_face_areas_mm2, measure_face_normals
from seatwright.quantities import FloatArray

__all__ = ["offset_surface"]

_SHARP = 0.02  # judgement: share of the greatest direction below which a spread of normals is tessellation, not an edge
_FARTHEST = 3.0  # judgement: a spike moves its tip by three offsets at most


def offset_surface(surface: Surface, distance_mm: float) -> Surface:
    """Move every vertex so that its faces move outwards by a distance (inwards when negative).

    Notes
    -----
    Each vertex moves by the shift t that fits n.t = distance over the faces around it (least squares weighted by area,
    least length where the faces do not fix it). Exact where up to three planes meet; smooth surfaces move along their
    normal. Valid while the distance is small against thickness and curvature; folds are not mended.
    """
    normals, areas = measure_face_normals(surface), measure_face_areas_mm2(surface)
    weights = np.sqrt(areas)
    n = surface.n_vertices
    matrix, right = np.zeros((n, 3, 3)), np.zeros((n, 3))
    outer = normals[:, :, None] * normals[:, None, :] * weights[:, None, None]
    pull = normals * weights[:, None]
    for corner in range(3):
        ids = surface.faces[:, corner]
        for a in range(3):
            right[:, a] += np.bincount(ids, pull[:, a], minlength=n)
            for b in range(3):
                matrix[:, a, b] += np.bincount(ids, outer[:, a, b], minlength=n)
    return Surface(surface.vertices_mm + distance_mm * _solve(matrix, right), surface.faces)


def _solve(matrix: FloatArray, right: FloatArray) -> FloatArray:
    values, vectors = np.linalg.eigh(matrix)
    kept = values > _SHARP * values[:, -1:]
    inverse = np.divide(1.0, values, out=np.zeros_like(values), where=kept & (values > 0))
    shift = np.einsum("nij,nj,nkj,nk->ni", vectors, inverse, vectors, right)
    size = np.linalg.norm(shift, axis=1, keepdims=True)
    return np.asarray(shift * np.minimum(1.0, _FARTHEST / np.maximum(size, 1e-12)))
