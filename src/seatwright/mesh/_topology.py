"""How faces hang together: borders, closedness, connected pieces."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from seatwright.mesh._kernels import MIX, find_single_edges
from seatwright.mesh._surface import Surface

__all__ = [
    "find_border_edges",
    "find_components",
    "find_rim_faces",
    "is_closed",
    "join_vertices",
    "keep_faces",
    "merge_vertices",
]


def find_border_edges(surface: Surface) -> NDArray[np.int64]:
    """Find edges that do not carry exactly two faces, as vertex pairs of shape (k, 2), smaller index first."""
    keys = _edge_keys(surface)
    ordered, counts = np.unique(keys, return_counts=True)
    odd = ordered[counts != 2]
    return np.column_stack([odd // surface.n_vertices, odd % surface.n_vertices]).astype(np.int64)


def is_closed(surface: Surface) -> bool:
    """Whether every edge carries exactly two faces."""
    return len(find_border_edges(surface)) == 0


def find_rim_faces(surface: Surface) -> NDArray[np.bool_]:
    """Mark faces with an edge that carries no second face, shape (m,): beyond them the surface ends."""
    return np.asarray(find_single_edges(surface.faces, surface.n_vertices))


def find_components(surface: Surface) -> NDArray[np.int32]:
    """Label each face with its connected piece (through shared vertices), shape (m,); piece 0 has most faces."""
    a, b, c = surface.faces.T
    rows, columns = np.concatenate([a, b]), np.concatenate([b, c])
    graph = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(surface.n_vertices,) * 2)
    _, of_vertex = connected_components(graph, directed=False)
    of_face = of_vertex[a]
    labels, counts = np.unique(of_face, return_counts=True)
    rank = np.empty(int(labels.max()) + 1, dtype=np.int32)
    rank[labels[np.argsort(-counts, kind="stable")]] = np.arange(len(labels), dtype=np.int32)
    return np.asarray(rank[of_face], dtype=np.int32)


def keep_faces(surface: Surface, face_ids: NDArray[np.integer] | NDArray[np.bool_]) -> Surface:
    """Return the surface of the chosen faces alone, without unused vertices."""
    faces = surface.faces[face_ids]
    is_used = np.zeros(surface.n_vertices, dtype=np.bool_)
    is_used[faces] = True
    number = np.cumsum(is_used, dtype=np.int32) - np.int32(1)
    return Surface(surface.vertices_mm[is_used], number[faces])


def merge_vertices(surface: Surface) -> Surface:
    """Join vertices with identical coordinates, as formats without shared vertices need."""
    return join_vertices(surface)[0]


def join_vertices(surface: Surface) -> tuple[Surface, NDArray[np.int32]]:
    """Join vertices with identical coordinates; also return which of the new vertices each old one became, (n,).

    The new vertices stand in the order in which each place first appears.
    """
    bits = np.ascontiguousarray(surface.vertices_mm + 0.0).view(np.uint64)
    # one mixed key a row is some twenty times faster than comparing rows; a collision is looked for and met by rows
    keys = bits[:, 0] * MIX[0] + np.bitwise_xor(bits[:, 1] * MIX[1], bits[:, 2] * MIX[2])
    _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    if (bits[first[inverse]] != bits).any():
        _, first, inverse = np.unique(bits, axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first, kind="stable")
    rank = np.empty(len(first), dtype=np.int32)
    rank[order] = np.arange(len(first), dtype=np.int32)
    became = rank[inverse.ravel()]
    return Surface(surface.vertices_mm[first[order]], became[surface.faces]), became


def _edge_keys(surface: Surface) -> NDArray[np.int64]:
    faces = surface.faces.astype(np.int64)
    n_vertices = np.int64(surface.n_vertices)
    start = np.concatenate([faces[:, 0], faces[:, 1], faces[:, 2]])
    end = np.concatenate([faces[:, 1], faces[:, 2], faces[:, 0]])
    keys: NDArray[np.int64] = np.minimum(start, end) * n_vertices + np.maximum(start, end)
    return keys
