"""Coarse registration from any pose: many starts over all rotations, scored on a nearest-point grid.

Compiled functions carry no types: the compiler infers them, and a checker cannot see through it.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from seatwright.mesh._coarse_grid import NearestGrid, build_nearest_grid, sample_oriented_points
from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.mesh._sampling import choose_voxel_points
from seatwright.mesh._solve import add_row, rotate_by, solve_six
from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray, Transform

__all__ = ["CoarsePlan", "CoarsePose", "list_rotations", "search_poses"]

_TRIAL_STEPS = 3  # judgement: then a start near the right pose already agrees better than most
_ONE_GOES_ON = 5  # judgement: of so many starts; the study of poses lost none by it


@dataclass(frozen=True, slots=True)
class CoarsePlan:
    """How finely all poses are searched; lengths in mm."""

    cell_mm: float = 1.25
    n_rotations: int = 1200
    n_positions: int = 16
    n_points: int = 160
    n_points_refined: int = 1200
    n_refined: int = 80


@dataclass(frozen=True, slots=True, eq=False)
class CoarsePose:
    """One candidate: its transform and its score, the mean agreement of the moving points (0 to 1)."""

    T_fixed_moving: Transform
    score: float


def list_rotations(n: int) -> FloatArray:
    """Evenly spread rotation matrices, shape (n, 3, 3).

    References
    ----------
    .. [1] Alexa, Super-Fibonacci spirals: fast, low-discrepancy sampling of SO(3), CVPR 2022, 8291-8300.
    """
    index = np.arange(n) + 0.5
    phi, psi = np.sqrt(2.0), 1.533751168755204288118041
    t = index / n
    inner, outer = np.sqrt(t), np.sqrt(1 - t)
    alpha, beta = 2 * np.pi * index / phi, 2 * np.pi * index / psi
    x, y, z, w = inner * np.sin(alpha), inner * np.cos(alpha), outer * np.sin(beta), outer * np.cos(beta)
    return np.stack(
        [
            np.stack([1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)], axis=-1),
            np.stack([2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)], axis=-1),
            np.stack([2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)], axis=-1),
        ],
        axis=1,
    )


def search_poses(
    fixed: Surface, moving: Surface, *, plan: CoarsePlan, wide: bool, n_best: int = 8
) -> tuple[CoarsePose, ...]:
    """Return the best distinct poses of `moving` on `fixed`, best first.

    Parameters
    ----------
    fixed, moving : Surface
        Any start pose, any distance; they may cover each other only in part.
    plan : CoarsePlan
        How finely to search.
    wide : bool
        Also try positions all over the fixed surface, for parts that lack much of the other.

    Notes
    -----
    Every start is improved by a damped point-to-plane descent with a kernel that narrows from 10 to 1.5 mm, matching
    only points whose normals look the same way: mirrored and flipped fits do not score.
    """
    with ThreadPoolExecutor(2) as pool:
        sampled = pool.map(partial(sample_oriented_points, cell_mm=plan.cell_mm), (fixed, moving))
        (fixed_points, fixed_normals), (moving_points, moving_normals) = sampled
    grid = build_nearest_grid(fixed_points, fixed_normals, plan.cell_mm)
    rotations, positions = _list_starts(fixed_points, plan, wide=wide)
    center = moving_points.mean(axis=0)
    moving_points = moving_points - center
    few = _thin(moving_points, plan.n_points)
    many = _thin(moving_points, plan.n_points_refined)
    widths = np.array([10.0, 10.0, 8.0, 8.0, 6.0, 5.0, 4.0, 3.0, 3.0, 2.5, 2.0, 2.0])
    fine_widths = np.array([3.0, 2.5, 2.0, 2.0, 1.5, 1.5, 1.5, 1.5, 1.5, 1.5])
    with KERNEL_LOCK:
        thin, look = moving_points[few], moving_normals[few]
        if wide:
            # most starts are hopeless after a few steps: the best of them go on
            found = _descend_all(grid, thin, look, rotations, positions, widths[:_TRIAL_STEPS])
            alive = np.argsort(-found[:, 12], kind="stable")[: len(found) // _ONE_GOES_ON]
            rotations, positions = found[alive, :9].reshape(-1, 3, 3).copy(), found[alive, 9:12].copy()
            widths = widths[_TRIAL_STEPS:]
        found = _descend_all(grid, thin, look, rotations, positions, widths)
        best = _pick_varied(found, float(np.ptp(moving_points, axis=0).max()), plan.n_refined)
        turned, placed = found[best, :9].reshape(-1, 3, 3).copy(), found[best, 9:12].copy()
        found = _descend_all(grid, moving_points[many], moving_normals[many], turned, placed, fine_widths)
    return _distinct(found, center, float(np.ptp(moving_points, axis=0).max()), n_best)


def _list_starts(fixed_points: FloatArray, plan: CoarsePlan, *, wide: bool) -> tuple[FloatArray, FloatArray]:
    places = [fixed_points.mean(axis=0)]
    if wide:
        cell = float(np.ptp(fixed_points, axis=0).max()) / 8
        chosen = choose_voxel_points(fixed_points, cell)
        while len(chosen) > plan.n_positions:
            cell *= 1.1
            chosen = choose_voxel_points(fixed_points, cell)
        places.extend(fixed_points[chosen])
    rotations = list_rotations(plan.n_rotations)
    n = len(places)
    return np.repeat(rotations, n, axis=0), np.tile(np.array(places), (len(rotations), 1))


@njit(cache=True)
def _pick_varied(found, size_mm, n_wanted):  # type: ignore[no-untyped-def]
    """Best starts, at most four of one pose, so that a rival pose is not crowded out."""
    order = np.argsort(-found[:, 12], kind="mergesort")[: 12 * n_wanted]
    chosen = np.empty(n_wanted, dtype=np.int64)
    count = 0
    for k in order:
        if count == n_wanted:
            break
        n_alike = 0
        for other in chosen[:count]:
            trace = (found[other, :9] * found[k, :9]).sum()
            angle = np.arccos(min(1.0, max(-1.0, (trace - 1) / 2)))
            # judgement: starts that ended within 4 mm of each other are on the way to the same pose
            if angle * size_mm / 2 + np.sqrt(((found[other, 9:12] - found[k, 9:12]) ** 2).sum()) < 4.0:
                n_alike += 1
        if n_alike < 4:
            chosen[count] = k
            count += 1
    return chosen[:count]


def _thin(points: FloatArray, n_wanted: int) -> NDArray[np.int64]:
    """Choose about n points evenly in space."""
    cell = float(np.ptp(points, axis=0).max()) / 8
    chosen = choose_voxel_points(points, cell)
    while len(chosen) < min(0.85 * n_wanted, len(points)) and cell > 0.05:
        cell *= max(0.5, min(0.93, (len(chosen) / n_wanted) ** 0.5))
        chosen = choose_voxel_points(points, cell)
    return chosen


def _distinct(found: FloatArray, center: FloatArray, size_mm: float, n_best: int) -> tuple[CoarsePose, ...]:
    kept: list[CoarsePose] = []
    for row in found[np.argsort(-found[:, 12], kind="stable")]:
        pose = np.eye(4)
        pose[:3, :3] = row[:9].reshape(3, 3)
        pose[:3, 3] = row[9:12] - pose[:3, :3] @ center
        if all(_apart(pose, other.T_fixed_moving, center, size_mm) for other in kept):
            kept.append(CoarsePose(pose, float(row[12])))
        if len(kept) == n_best:
            break
    return tuple(kept)


def _apart(one: Transform, other: Transform, center: FloatArray, size_mm: float) -> bool:
    turn = np.arccos(np.clip((np.trace(one[:3, :3].T @ other[:3, :3]) - 1) / 2, -1, 1))
    shift = np.linalg.norm((one[:3, :3] - other[:3, :3]) @ center + one[:3, 3] - other[:3, 3])
    # judgement: closer than 2 mm at the middle and at the ends is one and the same pose
    return bool(shift > 2.0 or turn * size_mm / 2 > 2.0)


@njit(cache=True, parallel=True)
def _descend_all(grid: NearestGrid, points, normals, rotations, positions, widths):  # type: ignore[no-untyped-def]
    """Improve each start; rows hold the rotation (9), the position (3) and the score."""
    n = rotations.shape[0]
    found = np.empty((n, 13))
    for k in prange(n):
        rotation, position = rotations[k].copy(), positions[k].copy()
        for step in range(widths.shape[0]):
            matrix, right, _score = _weigh(grid, points, normals, rotation, position, widths[step])
            damping = 1e-3 * (matrix[0, 0] + matrix[1, 1] + matrix[2, 2]) / 3 + 1e-9
            turning = 1e-3 * (matrix[3, 3] + matrix[4, 4] + matrix[5, 5]) / 3 + 1e-9
            for a in range(3):
                matrix[a, a] += damping
                matrix[3 + a, 3 + a] += turning
            update = solve_six(matrix, right)
            rotation = rotate_by(rotation, update[3:])
            position = position + update[:3]
        _matrix, _right, score = _weigh(grid, points, normals, rotation, position, widths[-1] * 0.5)
        for i in range(3):
            found[k, 9 + i] = position[i]
            for j in range(3):
                found[k, 3 * i + j] = rotation[i, j]
        found[k, 12] = score
    return found


@njit(cache=True)
def _cell_of(value, n_cells):  # type: ignore[no-untyped-def]
    return min(max(int(value), 0), n_cells - 1)


@njit(cache=True)
def _weigh(grid, points, normals, rotation, position, width):  # type: ignore[no-untyped-def]
    """Add up normal equations and mean agreement of all points at one pose; rotation about the moving center.

    All in scalars: most of a search passes here. Of the matrix only the lower half is filled.
    """
    matrix, right, row = np.zeros((6, 6)), np.zeros(6), np.empty(6)
    agreement, per_mm = 0.0, 1.0 / grid.cell_mm
    farthest, per_square = 9.0 * width * width, 1.0 / (width * width)
    n0, n1, n2 = grid.nearest.shape
    r00, r01, r02 = rotation[0, 0], rotation[0, 1], rotation[0, 2]
    r10, r11, r12 = rotation[1, 0], rotation[1, 1], rotation[1, 2]
    r20, r21, r22 = rotation[2, 0], rotation[2, 1], rotation[2, 2]
    for i in range(points.shape[0]):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        ax, ay, az = r00 * x + r01 * y + r02 * z, r10 * x + r11 * y + r12 * z, r20 * x + r21 * y + r22 * z
        x, y, z = ax + position[0], ay + position[1], az + position[2]
        q = grid.nearest[
            _cell_of((x - grid.origin[0]) * per_mm, n0),
            _cell_of((y - grid.origin[1]) * per_mm, n1),
            _cell_of((z - grid.origin[2]) * per_mm, n2),
        ]
        dx, dy, dz = x - grid.points[q, 0], y - grid.points[q, 1], z - grid.points[q, 2]
        squared = dx * dx + dy * dy + dz * dz
        if squared > farthest:
            continue
        nx, ny, nz = grid.normals[q, 0], grid.normals[q, 1], grid.normals[q, 2]
        lx, ly, lz = normals[i, 0], normals[i, 1], normals[i, 2]
        same = nx * (r00 * lx + r01 * ly + r02 * lz) + ny * (r10 * lx + r11 * ly + r12 * lz)
        same += nz * (r20 * lx + r21 * ly + r22 * lz)
        if same <= 0.0:
            continue
        residual = nx * dx + ny * dy + nz * dz
        # the part along the surface counts little: the foot is only known to a cell
        ratio = 1.0 + (0.2 * squared + 0.8 * residual * residual) * per_square
        weight = same * same / (ratio * ratio)
        agreement += weight
        row[0], row[1], row[2] = nx, ny, nz
        row[3], row[4], row[5] = ay * nz - az * ny, az * nx - ax * nz, ax * ny - ay * nx
        add_row(matrix, right, row, residual, weight)
    return matrix, right, agreement / points.shape[0]
