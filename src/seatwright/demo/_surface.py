"""Surface of an implicit field: a closed two-sided mesh from values on a grid.

Owns the sampling near the surface, the dual contouring and the projection onto the analytic surface. Knows nothing of
teeth. A field is a function of points (n, 3) in mm to values (n,), negative inside, about a distance near zero.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray, Transform, apply_transform

__all__ = ["Field", "Grid", "IntArray", "extract_surface", "measure_gradients", "project_to_surface"]

Field = Callable[[FloatArray], FloatArray]
IntArray = NDArray[np.int64]

_BLOCK = 4  # judgement: points per block edge; larger wastes evaluations, smaller bookkeeping
_STEEPEST = 2.0  # judgement: bound of the field's slope; the demo's fields stay below 1.6
_CHUNK = 200_000  # judgement: points per evaluation, keeps temporaries under 100 MB
_STEP_MM = 1e-4  # judgement: step of the one-sided difference


@dataclass(frozen=True, slots=True)
class Grid:
    """A cubic grid, placed anywhere.

    Attributes
    ----------
    shape : tuple of int
        Points along each axis.
    spacing_mm : float
    T_world_grid : ndarray of shape (4, 4)
        Maps grid coordinates (index times spacing) to the field's frame.
    """

    shape: tuple[int, int, int]
    spacing_mm: float
    T_world_grid: Transform

    def points_at(self, index: NDArray[np.floating]) -> FloatArray:
        """Return world points of fractional grid indices (n, 3), mm."""
        return apply_transform(self.T_world_grid, np.asarray(index, dtype=float) * self.spacing_mm)


def extract_surface(field: Field, grid: Grid, progress: Progress = SILENT) -> tuple[FloatArray, IntArray]:
    """Return vertices (n, 3) in mm and outward triangles (m, 3) of the field's zero surface inside the grid.

    One vertex per sheet and cell, so that edges keep two faces where sheets come close; open where the grid's
    boundary cuts the body.

    References
    ----------
    .. [1] Nielson GM. Dual marching cubes. IEEE Visualization 2004, 489-496 (from memory): sheets of a cell are the
       closed runs of its crossed edges. At a face crossed four times the inside corners are kept apart.

    Examples
    --------
    >>> import numpy as np
    >>> T = np.eye(4); T[:3, 3] = -1.5
    >>> ball = lambda p: np.linalg.norm(p, axis=1) - 1.0
    >>> vertices, faces = extract_surface(ball, Grid((31, 31, 31), 0.1, T))
    >>> bool(np.abs(ball(vertices)).max() < 1e-9), len(vertices) - len(faces) // 2
    (True, 2)
    """
    values = _sample_near_surface(field, grid, progress.part(0.0, 0.5))
    cells, points, signs = _crossed_edges(values)
    vertices, quads = _connect_sheets(values < 0, cells, points, signs)
    vertices = _even_out(vertices, quads)
    world = project_to_surface(field, grid.points_at(vertices), reach_mm=grid.spacing_mm)
    progress.report(1.0, "surface found")
    return world, _split_quads(world, quads)


def project_to_surface(field: Field, points_mm: FloatArray, *, reach_mm: float) -> FloatArray:
    """Move points (n, 3) along the field's gradient onto its zero surface, by at most `reach_mm` each."""
    value, gradient = measure_gradients(field, points_mm)
    slope2 = np.maximum(np.einsum("ij,ij->i", gradient, gradient), 0.05)
    moved = np.zeros(len(points_mm))
    for _ in range(5):
        moved = np.clip(moved - value / slope2, -reach_mm, reach_mm)
        value = _evaluate(field, points_mm + moved[:, None] * gradient)
        if float(np.abs(value).max(initial=0.0)) < 1e-10:
            break
    return points_mm + moved[:, None] * gradient


def measure_gradients(field: Field, points_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the field's values (n,) and gradients (n, 3) at points (n, 3)."""
    value = _evaluate(field, points_mm)
    ahead = [_evaluate(field, points_mm + _STEP_MM * axis) for axis in np.eye(3)]
    gradient = (np.column_stack(ahead) - value[:, None]) / _STEP_MM
    return value, gradient


def _evaluate(field: Field, points_mm: FloatArray) -> FloatArray:
    if len(points_mm) <= _CHUNK:
        return field(points_mm)
    return np.concatenate([field(points_mm[i : i + _CHUNK]) for i in range(0, len(points_mm), _CHUNK)])


def _sample_near_surface(field: Field, grid: Grid, progress: Progress) -> NDArray[np.float32]:
    """Field on the grid; far from the surface only its sign, decided per block."""
    blocks = tuple(-(-n // _BLOCK) for n in grid.shape)
    index = np.stack(np.meshgrid(*(np.arange(n) for n in blocks), indexing="ij"), axis=-1).reshape(-1, 3)
    centers = _evaluate(field, grid.points_at(index * _BLOCK + _BLOCK / 2))
    near = np.abs(centers) < _STEEPEST * grid.spacing_mm * _BLOCK / 2 * np.sqrt(3.0)
    signs = np.where(centers < 0, -1.0, 1.0).astype(np.float32).reshape(blocks)
    values = np.empty((blocks[0], _BLOCK, blocks[1], _BLOCK, blocks[2], _BLOCK), dtype=np.float32)
    values[:] = signs[:, None, :, None, :, None]
    offsets = np.stack(np.meshgrid(*[np.arange(_BLOCK)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    active = index[near]
    per_chunk = max(_CHUNK // len(offsets), 1)
    for start in range(0, len(active), per_chunk):
        some = active[start : start + per_chunk]
        inside = field(grid.points_at((some[:, None] * _BLOCK + offsets).reshape(-1, 3).astype(float)))
        values[some[:, 0], :, some[:, 1], :, some[:, 2], :] = inside.reshape(-1, _BLOCK, _BLOCK, _BLOCK)
        progress.report(min(start + per_chunk, len(active)) / len(active), "sampling the arch")
    whole = values.reshape(blocks[0] * _BLOCK, blocks[1] * _BLOCK, blocks[2] * _BLOCK)
    return whole[: grid.shape[0], : grid.shape[1], : grid.shape[2]]


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


def _connect_sheets(
    inside: NDArray[np.bool_], cells: IntArray, points: FloatArray, signs: NDArray[np.bool_]
) -> tuple[FloatArray, IntArray]:
    """Vertices in grid indices (n, 3) and outward quads (m, 4)."""
    flat = np.ravel_multi_index(tuple(cells[..., :3].reshape(-1, 3).T), inside.shape)
    used, which = np.unique(flat, return_inverse=True)
    at = np.stack(np.unravel_index(used, inside.shape))
    pattern = np.zeros(len(used), dtype=np.int64)
    for corner in range(8):
        dx, dy, dz = corner & 1, corner >> 1 & 1, corner >> 2
        pattern |= inside[at[0] + dx, at[1] + dy, at[2] + dz].astype(np.int64) << corner
    sheet = _sheets()[pattern[which], cells[..., 3].reshape(-1)]
    _, vertex = np.unique(which * 4 + sheet, return_inverse=True)
    n = np.bincount(vertex)
    crossing = np.repeat(points, 4, axis=0)
    vertices = np.column_stack([np.bincount(vertex, crossing[:, k]) / n for k in range(3)])
    quads = vertex.reshape(-1, 4)
    return vertices, np.where(signs[:, None], quads, quads[:, ::-1])


def _even_out(vertices: FloatArray, quads: IntArray) -> FloatArray:
    """Move each inner vertex half-way to the mean of its neighbors; rim vertices stay."""
    ends = np.concatenate([quads[:, [k, (k + 1) % 4]] for k in range(4)])
    n = len(vertices)
    count = np.bincount(ends[:, 0], minlength=n)
    key = ends.min(axis=1) * n + ends.max(axis=1)
    _, which, uses = np.unique(key, return_inverse=True, return_counts=True)
    rim = np.zeros(n, dtype=bool)
    rim[ends[uses[which] == 1]] = True
    total = np.column_stack([np.bincount(ends[:, 0], vertices[ends[:, 1], k], minlength=n) for k in range(3)])
    mean: FloatArray = total / np.maximum(count, 1)[:, None]
    return np.where(rim[:, None], vertices, 0.5 * vertices + 0.5 * mean)


def _split_quads(vertices: FloatArray, quads: IntArray) -> IntArray:
    """Split each quad along its shorter diagonal."""
    a, b, c, d = (vertices[quads[:, k]] for k in range(4))
    first = np.einsum("ij,ij->i", a - c, a - c) <= np.einsum("ij,ij->i", b - d, b - d)
    one = np.where(first[:, None], quads[:, [0, 1, 2]], quads[:, [0, 1, 3]])
    two = np.where(first[:, None], quads[:, [0, 2, 3]], quads[:, [1, 2, 3]])
    return np.concatenate([one, two])
