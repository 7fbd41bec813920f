"""Whether one surface can leave another along a straight line: exact at every edge, for any direction."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.mesh._surface import Surface
from seatwright.mesh._tree_build import Tree, build_tree
from seatwright.mesh._withdraw_kernels import (
    block_of_pair,
    bound_leaves,
    bound_nodes,
    find_blocks_kernel,
    find_blocks_serially,
    first_hit_of_points,
    turn_corners,
)
from seatwright.quantities import FloatArray

__all__ = [
    "Block",
    "Withdrawal",
    "find_block",
    "find_block_naively",
    "follow_block",
    "map_blocks",
    "prepare_withdrawal",
]

_LEAST_MM = 1e-6  # judgement: a nanometer of overlap, in plan and in height, is a touch
_N_AXES = 8  # judgement: directions in plan along which boxes are bounded; fastest of 2, 4 and 8
_WORTH_THREADS = 2000  # judgement: leaves below which one core is as quick
_REMEMBERED = 64  # judgement: points that were blocked lately are asked first; a few dozen cost microseconds


@dataclass(frozen=True, slots=True)
class Block:
    """A place where the fixed surface stands above the moving one.

    Attributes
    ----------
    fixed_face, moving_face : int
    at_mm : (float, float, float)
        On the fixed surface.
    height_mm : float
        Travel after which the moving surface meets it.
    """

    fixed_face: int
    moving_face: int
    at_mm: tuple[float, float, float]
    height_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Withdrawal:
    """Two surfaces at seat, prepared for many directions. Remembers points that were blocked lately."""

    fixed: Tree
    moving: Tree
    recent: list[tuple[int, FloatArray]] = field(default_factory=list)
    """Place of a moving triangle and a point on it."""


def prepare_withdrawal(fixed: Surface, moving: Surface) -> Withdrawal:
    """Build both trees; the surfaces stand in one frame, the moving one at its seat."""
    return Withdrawal(build_tree(fixed), build_tree(moving))


def find_block(pair: Withdrawal, withdraw_direction: FloatArray) -> Block | None:
    """Return a place that blocks the way out along a direction, or None when it is free.

    Parameters
    ----------
    pair : Withdrawal
    withdraw_direction : ndarray of shape (3,)
        The way the moving surface leaves.

    Raises
    ------
    ValueOutOfRange
        If the direction has no length.

    Notes
    -----
    The moving surface leaves freely along d when, in every column along d, no point of the fixed surface lies above a
    point of the moving one. Triangles are clipped by each other in plan, so that edges against edges are exact; only
    overlaps below a nanometer count as touching. O(m log n) with early exit.
    """
    frame = _frame(withdraw_direction)
    known = _recent_block(pair, frame[2])
    if known is not None:
        return known
    depth, places, at = _run(pair, frame, first_only=True)
    j = int(np.argmax(depth))
    if not np.isfinite(depth[j]):
        return None
    i, q = int(places[j, 0]), int(places[j, 1])
    _remember(pair, q, (at[j] - [0.0, 0.0, depth[j]]) @ frame)
    x, y, z = (float(v) for v in at[j] @ frame)
    return Block(int(pair.fixed.face_ids[i]), int(pair.moving.face_ids[q]), (x, y, z), float(depth[j]))


def follow_block(pair: Withdrawal, block: Block) -> Callable[[FloatArray], bool]:
    """Return a question: is the blocked point of a known block blocked along this direction too? Microseconds each."""
    q = int(np.flatnonzero(pair.moving.face_ids == block.moving_face)[0])
    points = np.vstack([[p for place, p in pair.recent if place == q], pair.moving.corners[q].reshape(3, 3)])
    return lambda direction: first_hit_of_points(pair.fixed, points, _frame(direction)[2], _LEAST_MM)[0] >= 0


def map_blocks(pair: Withdrawal, withdraw_direction: FloatArray) -> tuple[Block, ...]:
    """Return the worst block of every small patch of the moving surface; empty when the way is free."""
    frame = _frame(withdraw_direction)
    depth, places, at = _run(pair, frame, first_only=False)
    return tuple(
        _block(pair, frame, (int(places[j, 0]), int(places[j, 1])), at[j], float(depth[j]))
        for j in np.flatnonzero(np.isfinite(depth))
    )


def find_block_naively(fixed: Surface, moving: Surface, withdraw_direction: FloatArray) -> float:
    """Greatest height of the fixed surface over the moving one, every pair of triangles tried; -inf when free."""
    frame = _frame(withdraw_direction)
    best = -np.inf
    turned = [(s.vertices_mm @ frame.T)[s.faces].reshape(-1, 9) for s in (fixed, moving)]
    for one in turned[0]:
        for other in turned[1]:
            best = max(best, block_of_pair(one, other, _LEAST_MM)[0])
    return float(best)


def _frame(direction: FloatArray) -> FloatArray:
    size = math.sqrt(float(np.dot(direction, direction)))
    if not size > 0:
        raise ValueOutOfRange("a direction of length zero points nowhere")
    x, y, z = (float(v) / size for v in direction)
    if abs(y) < 0.9:  # right = y axis x up
        across = math.hypot(z, x)
        right = (z / across, 0.0, -x / across)
    else:  # z axis x up
        across = math.hypot(x, y)
        right = (-y / across, x / across, 0.0)
    a, b, c = right
    return np.array([right, (y * c - z * b, z * a - x * c, x * b - y * a), (x, y, z)])


def _run(pair: Withdrawal, frame: FloatArray, *, first_only: bool) -> tuple[FloatArray, FloatArray, FloatArray]:
    turns = np.arange(_N_AXES) * np.pi / _N_AXES
    axes = np.column_stack([np.cos(turns), np.sin(turns)])
    n_above = len(pair.fixed.starts) - 2
    with KERNEL_LOCK:
        fixed, moving = turn_corners(pair.fixed.corners, frame), turn_corners(pair.moving.corners, frame)
        bounds = bound_leaves(fixed, pair.fixed.starts, axes, n_above, False)
        bound_nodes(bounds, n_above)
        moving_bounds = bound_leaves(moving, pair.moving.starts, axes, 0, True)
        search = find_blocks_kernel if len(pair.moving.starts) > _WORTH_THREADS else find_blocks_serially
        depth, places, at = search(
            (fixed, pair.fixed.starts, bounds),
            (moving, pair.moving.starts, moving_bounds),
            _LEAST_MM,
            first_only,
        )
    return depth, places, at


def _remember(pair: Withdrawal, place: int, point: FloatArray) -> None:
    pair.recent.insert(0, (place, np.asarray(point)))
    del pair.recent[_REMEMBERED:]


def _recent_block(pair: Withdrawal, way: FloatArray) -> Block | None:
    if not pair.recent:
        return None
    points = np.array([p for _, p in pair.recent])
    j, i, travel = first_hit_of_points(pair.fixed, points, way, _LEAST_MM)
    if j < 0:
        return None
    x, y, z = (float(v) for v in points[j] + travel * way)
    return Block(int(pair.fixed.face_ids[i]), int(pair.moving.face_ids[pair.recent[j][0]]), (x, y, z), float(travel))


def _block(pair: Withdrawal, frame: FloatArray, place: tuple[int, int], at: FloatArray, height_mm: float) -> Block:
    x, y, z = (float(v) for v in at @ frame)
    return Block(int(pair.fixed.face_ids[place[0]]), int(pair.moving.face_ids[place[1]]), (x, y, z), height_mm)
