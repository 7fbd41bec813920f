"""Point-to-plane equations between moving points and a surface, for one body or many at once."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from seatwright.mesh._closest import SurfaceIndex
from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.mesh._solve import add_row, rotate_by, solve_six
from seatwright.mesh._tree_query import BLOCK, make_memory, nearest_on_tree
from seatwright.quantities import FloatArray

__all__ = ["BodyPoints", "Equations", "Poses", "match_points", "step_poses", "weigh_tukey"]

_LEAST_SAME_WAY = 0.5  # judgement: normals more than 60 degrees apart belong to different walls


class Poses(NamedTuple):
    """Poses of k bodies: x -> R (x - c) + c + s."""

    rotations: FloatArray
    """(k, 3, 3)."""
    shifts: FloatArray
    """(k, 3), mm."""
    centers: FloatArray
    """(k, 3), mm: c, fixed in the body's own frame."""


class BodyPoints(NamedTuple):
    """Points with normals, and the body that each belongs to."""

    points: FloatArray
    normals: FloatArray
    body: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Equations:
    """One row a point: `rows` . (shift, turn) + `residual_mm` = 0, at the current pose about the moved center."""

    rows: FloatArray
    """(n, 6): per mm and per rad."""
    residual_mm: FloatArray
    """(n,): signed distance along the surface normal; 0 where not matched."""
    is_matched: NDArray[np.bool_]
    face_ids: NDArray[np.int64]
    """(n,): face of the foot; -1 where not matched."""


def match_points(
    index: SurfaceIndex, moving: BodyPoints, poses: Poses, *, limit_mm: float, backward: bool = False
) -> Equations:
    """Match each point with the surface at its body's pose.

    Parameters
    ----------
    index : SurfaceIndex
        Forward: where the moved points should lie. Backward: the bodies' own surface.
    moving : BodyPoints
        Forward: points of the bodies, in the bodies' frame. Backward: points of the other surface.
    poses : Poses
    limit_mm : float
        Points farther from the surface are not matched.
    backward : bool
        Take the points back by the inverse poses and match them with the bodies' own surface; the rows still speak of
        the same motion as forward ones.

    Notes
    -----
    Feet on a face at a border are not matched: beyond it the surface is unknown. Nor are walls that look another way.
    """
    n = len(moving.points)
    rows, residual, faces = np.zeros((n, 6)), np.zeros(n), np.full(n, -1, dtype=np.int64)
    if n:
        wall = (index.corner_normals, index.is_rim, index.tree.face_ids)
        with KERNEL_LOCK:
            _match_all(index.tree, wall, moving, poses, (float(limit_mm), backward), (rows, residual, faces))
    return Equations(rows, residual, faces >= 0, faces)


def weigh_tukey(residual_mm: FloatArray, cut_mm: float) -> FloatArray:
    """Tukey's biweight: (1 - (r/cut)^2)^2 inside the cut, 0 outside.

    Examples
    --------
    >>> import numpy as np
    >>> weigh_tukey(np.array([0.0, 0.5, 1.0, 2.0]), 1.0)
    array([1.    , 0.5625, 0.    , 0.    ])
    """
    inside = np.clip(1 - (residual_mm / cut_mm) ** 2, 0, None)
    return np.asarray(inside * inside)


def step_poses(
    poses: Poses, sets: tuple[tuple[Equations, BodyPoints, FloatArray], ...]
) -> tuple[Poses, FloatArray, FloatArray]:
    """Solve the weighted equations of each body and move it.

    Returns
    -------
    poses : Poses
    step_mm : ndarray of shape (k,)
        Length of the shift plus 3 mm times the turn: how far each body still moved.
    hessian : ndarray of shape (k, 6, 6)
        Weighted normal matrices.
    """
    n_bodies = len(poses.centers)
    matrices, rights = np.zeros((n_bodies, 6, 6)), np.zeros((n_bodies, 6))
    for equations, points, weights in sets:
        _gather(equations.rows, equations.residual_mm, weights, points.body, matrices, rights)
    rotations, shifts, steps = _advance(poses.rotations, poses.shifts, matrices, rights)
    return Poses(rotations, shifts, poses.centers), steps, matrices + np.tril(matrices, -1).transpose(0, 2, 1)


@njit(cache=True)
def _gather(rows, residuals, weights, body, matrices, rights):  # type: ignore[no-untyped-def]
    """Add up each body's equations; of the matrices only the lower halves."""
    for i in range(rows.shape[0]):
        if weights[i] > 0.0:
            add_row(matrices[body[i]], rights[body[i]], rows[i], residuals[i], weights[i])


@njit(cache=True)
def _advance(rotations, shifts, matrices, rights):  # type: ignore[no-untyped-def]
    turned, placed, steps = rotations.copy(), shifts.copy(), np.zeros(shifts.shape[0])
    for k in range(shifts.shape[0]):
        damped = matrices[k].copy()
        for a in range(6):
            # judgement: a millionth of the body's own stiffness only steadies directions that are not determined
            first = 0 if a < 3 else 3
            mean = (
                matrices[k, first, first] + matrices[k, first + 1, first + 1] + matrices[k, first + 2, first + 2]
            ) / 3
            damped[a, a] += 1e-6 * mean + 1e-12
        update = solve_six(damped, rights[k])
        turned[k] = rotate_by(rotations[k], update[3:])
        length, angle = 0.0, 0.0
        for a in range(3):
            placed[k, a] += update[a]
            length += update[a] ** 2
            angle += update[3 + a] ** 2
        steps[k] = np.sqrt(length) + 3.0 * np.sqrt(angle)
    return turned, placed, steps


@njit(cache=True, parallel=True)
def _match_all(tree, wall, moving, poses, how, out):  # type: ignore[no-untyped-def]
    limit, backward = how
    n = moving.points.shape[0]
    for block in prange((n + BLOCK - 1) // BLOCK):
        memory = make_memory()
        for i in range(block * BLOCK, min(n, (block + 1) * BLOCK)):
            _match_one(tree, wall, moving, poses, (limit * limit, backward, memory), i, out)


@njit(cache=True)
def _match_one(tree, wall, moving, poses, how, i, out):  # type: ignore[no-untyped-def]
    """Write one row; all in scalars, as an array made for each point would cost more than the sums."""
    corner_normals, is_rim, face_ids = wall
    limit_squared, backward, memory = how
    rows, residuals, faces = out
    k = moving.body[i]
    rotation, shift, center = poses.rotations[k], poses.shifts[k], poses.centers[k]
    px, py, pz = moving.points[i, 0], moving.points[i, 1], moving.points[i, 2]
    ax, ay, az = px - center[0], py - center[1], pz - center[2]
    if backward:
        ax, ay, az = _turn(ax - shift[0], ay - shift[1], az - shift[2], rotation, True)
    else:
        ax, ay, az = _turn(ax, ay, az, rotation, False)
        ax, ay, az = ax + shift[0], ay + shift[1], az + shift[2]
    x, y, z = ax + center[0], ay + center[1], az + center[2]
    place, _squared, v, w = nearest_on_tree(tree, x, y, z, limit_squared, memory)
    if place < 0 or is_rim[place]:
        return
    u = 1.0 - v - w
    normals, corners = corner_normals[place], tree.corners[place]
    nx = u * normals[0] + v * normals[3] + w * normals[6]
    ny = u * normals[1] + v * normals[4] + w * normals[7]
    nz = u * normals[2] + v * normals[5] + w * normals[8]
    length = np.sqrt(nx * nx + ny * ny + nz * nz)
    if length <= 0.0:
        return
    nx, ny, nz = nx / length, ny / length, nz / length
    lx, ly, lz = _turn(moving.normals[i, 0], moving.normals[i, 1], moving.normals[i, 2], rotation, backward)
    if nx * lx + ny * ly + nz * lz < _LEAST_SAME_WAY:
        return
    residual = nx * (x - (u * corners[0] + v * corners[3] + w * corners[6]))
    residual += ny * (y - (u * corners[1] + v * corners[4] + w * corners[7]))
    residual += nz * (z - (u * corners[2] + v * corners[5] + w * corners[8]))
    if backward:
        # seen from the other surface: the foot's plane moves towards the still point
        residual = -residual
        nx, ny, nz = _turn(nx, ny, nz, rotation, False)
        x, y, z = px, py, pz
    x, y, z = x - center[0] - shift[0], y - center[1] - shift[1], z - center[2] - shift[2]
    rows[i, 0], rows[i, 1], rows[i, 2] = nx, ny, nz
    rows[i, 3], rows[i, 4], rows[i, 5] = y * nz - z * ny, z * nx - x * nz, x * ny - y * nx
    residuals[i], faces[i] = residual, face_ids[place]


@njit(cache=True)
def _turn(x, y, z, rotation, backward):  # type: ignore[no-untyped-def]
    """Turn a vector by a rotation, or back by its inverse."""
    if backward:
        return (
            rotation[0, 0] * x + rotation[1, 0] * y + rotation[2, 0] * z,
            rotation[0, 1] * x + rotation[1, 1] * y + rotation[2, 1] * z,
            rotation[0, 2] * x + rotation[1, 2] * y + rotation[2, 2] * z,
        )
    return (
        rotation[0, 0] * x + rotation[0, 1] * y + rotation[0, 2] * z,
        rotation[1, 0] * x + rotation[1, 1] * y + rotation[1, 2] * z,
        rotation[2, 0] * x + rotation[2, 1] * y + rotation[2, 2] * z,
    )
