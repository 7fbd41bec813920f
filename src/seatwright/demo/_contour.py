"""From values on a grid to quads: one vertex per sheet and cell, edges between no more than two faces.

Owns the connections. Knows nothing of the field behind the values.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import CannotCompute
from seatwright.quantities import FloatArray

__all__ = ["IntArray", "connect_sheets", "even_out", "find_rim", "split_quads"]

IntArray = NDArray[np.int64]

_PASSES = 12  # judgement: touching sheets are rare and part at the first or second try


def connect_sheets(values: NDArray[np.float32]) -> tuple[FloatArray, IntArray]:
    """Connect; where two sheets touch in one pair of cells, fill or open the face between them and try again.

    Changes the signs of a few values; raises CannotCompute when that does not end.
    """
    turned: set[tuple[int, ...]] = set()
    for _ in range(_PASSES):
        vertices, quads, cells = _connect_once(values < 0, *_crossed_edges(values))
        doubled = _crowded_edges(quads)
        if not len(doubled):
            return vertices, quads
        for first, second in cells[doubled]:
            free = [corner for corner in _face_corners(first, second) if corner not in turned]
            if free:
                weak = min(free, key=lambda corner: abs(values[corner]))
                values[weak] *= -1
                turned.add(weak)
    raise CannotCompute("the surface touches itself too often for this grid", hint="choose a finer grid")


def _face_corners(first: IntArray, second: IntArray) -> list[tuple[int, ...]]:
    """Grid points of the face between two neighboring cells."""
    low = np.maximum(first, second)
    one, other = np.eye(3, dtype=np.int64)[first == second]
    return [tuple(int(k) for k in low + i * one + j * other) for i in (0, 1) for j in (0, 1)]


def _crossed_edges(values: NDArray[np.float32]) -> tuple[IntArray, FloatArray, NDArray[np.bool_]]:
    """Crossed grid edges: their four cells with local edge number (n, 4, 4), crossing (n, 3), lower end inside (n,)."""
    all_cells, all_points, all_signs = [], [], []
    inside = values < 0
    for axis in range(3):
        b, c = (axis + 1) % 3, (axis + 2) % 3
        low = [slice(None)] * 3
        high = [slice(None)] * 3
        low[axis], high[axis] = slice(None, -1), slice(1, None)
        at = np.argwhere(inside[tuple(low)] != inside[tuple(high)])
        room = np.ones(len(at), dtype=bool)
        for side in (b, c):
            room &= (at[:, side] > 0) & (at[:, side] < values.shape[side] - 1)
        at = at[room]
        ahead = at.copy()
        ahead[:, axis] += 1
        first = values[tuple(at.T)].astype(float)
        second = values[tuple(ahead.T)].astype(float)
        point = at.astype(float)
        point[:, axis] += first / (first - second)
        cells = np.empty((len(at), 4, 4), dtype=np.int64)
        for corner, (db, dc) in enumerate(((1, 1), (0, 1), (0, 0), (1, 0))):
            cells[:, corner, :3] = at
            cells[:, corner, b] -= db
            cells[:, corner, c] -= dc
            cells[:, corner, 3] = 4 * axis + db + 2 * dc
        all_cells.append(cells)
        all_points.append(point)
        all_signs.append(first < 0)
    return np.concatenate(all_cells), np.concatenate(all_points), np.concatenate(all_signs)


@cache
def _sheets() -> NDArray[np.int64]:
    """Sheet number of each of the 12 edges for each of the 256 corner patterns; edge = 4 axis + b + 2 c."""
    table = np.zeros((256, 12), dtype=np.int64)
    for pattern in range(256):
        parent = list(range(12))
        for axis in range(3):
            for level in (0, 1):
                for first, second in _pairs_on_face(pattern, axis, level):
                    old, new = parent[first], parent[second]
                    parent = [new if p == old else p for p in parent]
        crossed = [edge for edge in range(12) if _is_crossed(pattern, edge)]
        names = sorted({parent[edge] for edge in crossed})
        for edge in crossed:
            table[pattern, edge] = names.index(parent[edge])
    return table


def _corners(edge: int) -> tuple[int, int]:
    axis, b, c = edge // 4, edge % 4 % 2, edge % 4 // 2
    low = (b << ((axis + 1) % 3)) | (c << ((axis + 2) % 3))
    return low, low | (1 << axis)


def _is_crossed(pattern: int, edge: int) -> bool:
    low, high = _corners(edge)
    return (pattern >> low & 1) != (pattern >> high & 1)


def _pairs_on_face(pattern: int, axis: int, level: int) -> list[tuple[int, int]]:
    face = [e for e in range(12) if all(corner >> axis & 1 == level for corner in _corners(e))]
    crossed = [e for e in face if _is_crossed(pattern, e)]
    if len(crossed) < 4:
        return [(crossed[0], crossed[1])] if crossed else []
    inside = {corner for e in face for corner in _corners(e) if pattern >> corner & 1}
    around = [[e for e in crossed if corner in _corners(e)] for corner in sorted(inside)]
    return [(pair[0], pair[1]) for pair in around]


def _crowded_edges(faces: IntArray) -> IntArray:
    """Vertex pairs (n, 2) whose edge more than two faces share."""
    k = faces.shape[1]
    ends = np.sort(np.concatenate([faces[:, [i, (i + 1) % k]] for i in range(k)]), axis=1)
    pairs, uses = np.unique(ends[:, 0] * (faces.max() + 1) + ends[:, 1], return_counts=True)
    crowded = pairs[uses > 2]
    return np.column_stack([crowded // (faces.max() + 1), crowded % (faces.max() + 1)])


def _connect_once(
    inside: NDArray[np.bool_], cells: IntArray, points: FloatArray, signs: NDArray[np.bool_]
) -> tuple[FloatArray, IntArray, IntArray]:
    """Vertices in grid indices (n, 3), outward quads (m, 4), and the cell of each vertex (n, 3)."""
    flat = np.ravel_multi_index(tuple(cells[..., :3].reshape(-1, 3).T), inside.shape)
    used, which = np.unique(flat, return_inverse=True)
    at = np.stack(np.unravel_index(used, inside.shape))
    pattern = np.zeros(len(used), dtype=np.int64)
    for corner in range(8):
        dx, dy, dz = corner & 1, corner >> 1 & 1, corner >> 2
        pattern |= inside[at[0] + dx, at[1] + dy, at[2] + dz].astype(np.int64) << corner
    sheet = _sheets()[pattern[which], cells[..., 3].reshape(-1)]
    keys, vertex = np.unique(which * 4 + sheet, return_inverse=True)
    n = np.bincount(vertex)
    crossing = np.repeat(points, 4, axis=0)
    vertices = np.column_stack([np.bincount(vertex, crossing[:, k]) / n for k in range(3)])
    quads = vertex.reshape(-1, 4)
    return vertices, np.where(signs[:, None], quads, quads[:, ::-1]), at.T[keys // 4]


def find_rim(faces: IntArray) -> IntArray:
    """Vertices on edges that only one face has."""
    k = faces.shape[1]
    ends = np.sort(np.concatenate([faces[:, [i, (i + 1) % k]] for i in range(k)]), axis=1)
    size = int(faces.max()) + 1
    pairs, uses = np.unique(ends[:, 0] * size + ends[:, 1], return_counts=True)
    once = pairs[uses == 1]
    return np.unique(np.concatenate([once // size, once % size]))


def even_out(vertices: FloatArray, quads: IntArray) -> FloatArray:
    """Move each inner vertex half-way to the mean of its neighbors; rim vertices stay."""
    ends = np.concatenate([quads[:, [k, (k + 1) % 4]] for k in range(4)])
    n = len(vertices)
    count = np.bincount(ends[:, 0], minlength=n)
    rim = np.zeros(n, dtype=bool)
    rim[find_rim(quads)] = True
    total = np.column_stack([np.bincount(ends[:, 0], vertices[ends[:, 1], k], minlength=n) for k in range(3)])
    mean: FloatArray = total / np.maximum(count, 1)[:, None]
    return np.where(rim[:, None], vertices, 0.5 * vertices + 0.5 * mean)


def split_quads(vertices: FloatArray, quads: IntArray) -> IntArray:
    """Split each quad along its shorter diagonal, unless another face has that edge already."""
    a, b, c, d = (vertices[quads[:, k]] for k in range(4))
    first = np.einsum("ij,ij->i", a - c, a - c) <= np.einsum("ij,ij->i", b - d, b - d)
    for _ in range(_PASSES):
        one = np.where(first[:, None], quads[:, [0, 1, 2]], quads[:, [0, 1, 3]])
        two = np.where(first[:, None], quads[:, [0, 2, 3]], quads[:, [1, 2, 3]])
        faces = np.concatenate([one, two])
        crowded = _crowded_edges(faces)
        if not len(crowded):
            break
        diagonal = np.sort(np.where(first[:, None], quads[:, [0, 2]], quads[:, [1, 3]]), axis=1)
        n = len(vertices)
        first ^= np.isin(diagonal[:, 0] * n + diagonal[:, 1], crowded[:, 0] * n + crowded[:, 1])
    return faces
