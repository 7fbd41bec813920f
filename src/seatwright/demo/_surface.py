"""Surface of an implicit field: a closed two-sided mesh from values on a grid.

Owns the sampling near the surface, the dual contouring and the projection onto the analytic surface. Knows nothing of
teeth. A field is a function of points (n, 3) in mm to values (n,), negative inside, about a distance near zero.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.demo._contour import IntArray, connect_sheets, even_out, split_quads
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray, Transform, apply_transform

__all__ = [
    "Field",
    "Grid",
    "IntArray",
    "extract_surface",
    "measure_gradients",
    "measure_vertex_normals",
    "project_to_surface",
]

Field = Callable[[FloatArray], FloatArray]
_BLOCK = 4  # judgement: points per block edge; larger wastes evaluations, smaller bookkeeping
_STEEPEST = 2.0  # judgement: bound of the field's slope; the demo's fields stay below 1.6
_CHUNK = 200_000  # judgement: points per evaluation, keeps temporaries under 100 MB
_FLATTEST = 0.05  # judgement: bound of the squared slope, keeps steps finite in creases
_MOST_TURNED = 0.3  # judgement: cosine; a projection that turns a triangle more is a fold
_PASSES = 6  # judgement: the error falls a hundredfold a pass on smooth parts
_CLOSE_MM = 1e-6  # judgement: a nanometre is on the surface
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
    >>> bool(np.abs(ball(vertices)).max() < 1e-5), len(vertices) - len(faces) // 2
    (True, 2)
    """
    values = _sample_near_surface(field, grid, progress.part(0.0, 0.5))
    vertices, quads = connect_sheets(values)
    before = grid.points_at(even_out(vertices, quads))
    after = project_to_surface(field, before, reach_mm=grid.spacing_mm)
    progress.report(1.0, "surface found")
    return _undo_folds(before, after, quads)


def project_to_surface(field: Field, points_mm: FloatArray, *, reach_mm: float) -> FloatArray:
    """Move points (n, 3) along the field's gradient onto its zero surface, by at most `reach_mm` each."""
    value, gradient = measure_gradients(field, points_mm)
    slope2 = np.maximum(np.einsum("ij,ij->i", gradient, gradient), _FLATTEST)
    moved = np.zeros(len(points_mm))
    off = np.arange(len(points_mm))
    for _ in range(_PASSES):
        moved[off] = np.clip(moved[off] - value / slope2[off], -reach_mm, reach_mm)
        value = _evaluate(field, points_mm[off] + moved[off, None] * gradient[off])
        still = np.abs(value) > _CLOSE_MM
        off, value = off[still], value[still]
    return points_mm + moved[:, None] * gradient


def measure_gradients(field: Field, points_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the field's values (n,) and gradients (n, 3) at points (n, 3)."""
    value = _evaluate(field, points_mm)
    ahead = [_evaluate(field, points_mm + _STEP_MM * axis) for axis in np.eye(3)]
    gradient = (np.column_stack(ahead) - value[:, None]) / _STEP_MM
    return value, gradient


def measure_vertex_normals(vertices_mm: FloatArray, faces: IntArray) -> FloatArray:
    """Return area-weighted unit normals (n, 3) at vertices (n, 3)."""
    weighted = _normals(vertices_mm, faces)
    n = len(vertices_mm)
    total = np.column_stack(
        [sum(np.bincount(faces[:, k], weighted[:, axis], minlength=n) for k in range(3)) for axis in range(3)]
    )
    normal: FloatArray = total / np.linalg.norm(total, axis=1)[:, None]
    return normal


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


def _undo_folds(before: FloatArray, after: FloatArray, quads: IntArray) -> tuple[FloatArray, IntArray]:
    """Split the projected quads; vertices of triangles that the projection turned over go back to where they were."""
    after = after.copy()
    faces = split_quads(after, quads)
    first = _normals(before, faces)
    size = np.linalg.norm(first, axis=1)
    for _ in range(_PASSES):
        second = _normals(after, faces)
        turned = np.einsum("ij,ij->i", first, second) < _MOST_TURNED * size * np.linalg.norm(second, axis=1)
        if not turned.any():
            break
        after[faces[turned]] = before[faces[turned]]
    return after, faces


def _normals(vertices: FloatArray, faces: IntArray) -> FloatArray:
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return np.cross(b - a, c - a)
