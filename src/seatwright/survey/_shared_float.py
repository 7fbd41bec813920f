"""Several guides on one rigid partial: they share one float, so their windows may not simply be intersected.

A partial that sits against one wall of a slide sits against the same side of every other one:
a direction is admitted when one common shift serves all walls at once.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog, nnls

from seatwright.errors import CannotCompute
from seatwright.quantities import FloatArray
from seatwright.survey._cone import angle_between_rad
from seatwright.survey._walls import Wall

__all__ = [
    "FloatCenter",
    "FloatReach",
    "FloatSlack",
    "find_float_center",
    "find_least_shift",
    "measure_float_slack",
    "reach_with_float",
]

_TURNS = 12  # judgement: each round is exact for walls of one axis; a few suffice for axes degrees apart
_STILL_TAN = 1e-8  # judgement: far below a thousandth of a degree
_STILL_RAD = 3e-6  # judgement: 0.0002 degree
_BINDS = 1e-3  # judgement: share of a program's dual below which a wall does not limit
_SAME_MM = 1e-6  # judgement: a nanometer of room is no difference; the middle matters more
_CLEAR_MM = 2e-5  # judgement: twenty nanometers stand the partial off walls it would just touch
_LEAN_COST = 1e-5  # judgement: room that a lean must gain to be worth it, mm per rad; decides only ties
_UNDECIDED = 4  # definition: the solver's word for numerical trouble; another algorithm decides then
_SCALE = 1e3  # judgement: µm and mrad; the solver's own tolerance of 1e-7 then is far below a nanometer
_STEP_RAD = 0.2  # judgement: about 11 degrees a round, within which the linear form is true to a few percent


@dataclass(frozen=True, slots=True, eq=False)
class FloatSlack:
    """Room left at the tightest wall for one direction.

    Attributes
    ----------
    slack_mm : float
        Negative when the direction is not admitted: by so much every gap would have to grow.
    shift_mm : ndarray of shape (3,)
        Where the partial sits, from centered, across the mean axis.
    limits : tuple of (str, float)
        Walls that decide, as ``feature side``, with their share of the dual; largest first, shares add up to one.
    """

    slack_mm: float
    shift_mm: FloatArray
    limits: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class FloatCenter:
    """The direction with the most room."""

    withdraw_direction: FloatArray
    room: FloatSlack
    converged: bool


@dataclass(frozen=True, slots=True)
class FloatReach:
    """How far one may turn from a direction with the float, and which walls end it."""

    angle_rad: float
    limits: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Arrays:
    normals: FloatArray
    along: FloatArray
    lengths: FloatArray
    gaps: FloatArray
    across: FloatArray
    """Two unit rows across the mean axis, shape (2, 3)."""
    names: tuple[str, ...]


def measure_float_slack(walls: Sequence[Wall], withdraw_direction: FloatArray) -> FloatSlack:
    """Return the room that one direction leaves when the partial may float.

    Parameters
    ----------
    walls : sequence of Wall
        Of all guides of one rigid partial; at least one.
    withdraw_direction : ndarray of shape (3,)

    Raises
    ------
    CannotCompute
        If the direction does not leave a wall at all (90 degrees or more from it).

    Notes
    -----
    max over t of min over walls of (g + n.t + min(0, l (n.d)/(u.d))): a linear program in the shift t (two numbers
    across the mean axis) and the slack; its dual names the walls that decide. Walls without any gap pin the partial at
    seat and count only once it moves.
    """
    arrays = _arrays(walls)
    run = _run_mm(arrays, withdraw_direction)
    sideways = arrays.normals @ arrays.across.T
    pinned = arrays.gaps < _SAME_MM
    matrix = np.column_stack([-sideways, sideways, np.ones(len(run))])
    matrix = np.vstack([matrix, matrix])
    matrix[len(run) :][pinned, -1] = 0.0
    room = np.concatenate([arrays.gaps + run, arrays.gaps])
    cost = np.array([_LEAN_COST] * 4 + [-1.0])
    value, duals = _solve(cost, matrix, room, [(0.0, None)] * 4 + [(None, None)])
    shift = (value[:2] - value[2:4]) @ arrays.across
    return FloatSlack(float(value[4]), shift, _shares(duals, arrays.names + arrays.names))


def find_least_shift(walls: Sequence[Wall], withdraw_direction: FloatArray) -> FloatArray | None:
    """Return how far from centered the partial must at least sit to leave along a direction; None when it cannot.

    Parameters
    ----------
    walls : sequence of Wall
        Of all guides of one rigid partial; at least one.
    withdraw_direction : ndarray of shape (3,)

    Returns
    -------
    ndarray of shape (3,) or None
        mm, across the mean axis, in the frame of the walls; the shortest.

    Raises
    ------
    CannotCompute
        If the direction does not leave a wall at all (90 degrees or more from it).

    Notes
    -----
    Lawson and Hanson, Solving Least Squares Problems, chapter 23 (from memory): least distance by NNLS.
    """
    if measure_float_slack(walls, withdraw_direction).slack_mm < -_SAME_MM:
        return None
    arrays = _arrays(walls)
    sideways = arrays.normals @ arrays.across.T
    room = np.concatenate([arrays.gaps + _run_mm(arrays, withdraw_direction), arrays.gaps])
    for spare in (-_CLEAR_MM, 3 * _SAME_MM):
        stacked = np.vstack([np.vstack([sideways, sideways]).T, -(room + spare) * _SCALE])
        dual, off = nnls(stacked, np.array([0.0, 0.0, 1.0]))
        if off > _BINDS:
            left = stacked @ dual - [0.0, 0.0, 1.0]
            return np.asarray((-left[:2] / left[2] / _SCALE) @ arrays.across)
    return None


def find_float_center(walls: Sequence[Wall], start: FloatArray) -> FloatCenter:
    """Return the direction with the most room, from a starting guess.

    Notes
    -----
    Successive linear programs in the lean (two tangents about the last direction), the shift and the slack. For walls
    of one axis the form is linear in these tangents, so that one round is exact; the step is bounded and halved when
    the true slack falls. Among directions with equal room the one nearest to the start is taken.
    """
    arrays = _arrays(walls)
    here = start / np.linalg.norm(start)
    room = measure_float_slack(walls, here)
    step, converged = _STEP_RAD, False
    for _ in range(_TURNS):
        frame = _frame(here)
        rows, limits = _linear_rows(arrays, here, frame)
        bounds = [(0.0, step)] * 4 + [(None, None)] * 3
        value, _ = _solve(np.array([_LEAN_COST] * 4 + [0.0, 0.0, -1.0]), rows, limits, bounds)
        ahead = here + (value[0] - value[1]) * frame[0] + (value[2] - value[3]) * frame[1]
        ahead /= np.linalg.norm(ahead)
        better = measure_float_slack(walls, ahead)
        if better.slack_mm < room.slack_mm - 2 * _SAME_MM:
            step *= 0.5
            continue
        moved, here, room = angle_between_rad(here, ahead), ahead, better
        converged = moved < _STILL_RAD
        if converged:
            break
    return FloatCenter(here, room, converged)


def reach_with_float(walls: Sequence[Wall], from_direction: FloatArray, towards: FloatArray) -> FloatReach:
    """Turn from an admitted direction towards another until no common shift is left.

    Notes
    -----
    Along d + r e the run l (n.d)/(u.d) is a quotient of linear forms in r; each round replaces it by its tangent and
    solves for the largest r with its shift. Ends when r moves by less than a billionth. Without a limit below 60
    degrees the reach is returned as 60 degrees with no names. Gaps count three nanometers wider, so that a cone without
    room, which pins the partial, stays feasible.
    """
    arrays = _arrays(walls)
    start = from_direction / np.linalg.norm(from_direction)
    ahead = towards - start * float(np.dot(start, towards))
    ahead /= np.linalg.norm(ahead)
    top = math.tan(math.radians(60.0))
    reach, duals = 0.0, np.zeros(2 * len(arrays.gaps))
    for _ in range(_TURNS):
        here = start + reach * ahead
        over, under = arrays.normals @ here, arrays.along @ here
        slope = arrays.lengths * ((arrays.normals @ ahead) * under - over * (arrays.along @ ahead)) / under**2
        run = arrays.lengths * over / under - slope * reach
        sideways = arrays.normals @ arrays.across.T
        rows = np.block([[-slope[:, None], -sideways], [np.zeros((len(run), 1)), -sideways]])
        limits = np.concatenate([arrays.gaps + run, arrays.gaps]) + 3 * _SAME_MM
        bounds = [(0.0, top), (None, None), (None, None)]
        value, duals = _solve(np.array([-1.0, 0.0, 0.0]), rows, limits, bounds)
        found = float(value[0])
        if abs(found - reach) < _STILL_TAN:
            break
        reach = found
    names = arrays.names + arrays.names
    return FloatReach(math.atan(reach), () if reach >= top - 1e-9 else _shares(duals, names))


def _arrays(walls: Sequence[Wall]) -> _Arrays:
    along = np.array([w.along for w in walls])
    mean = along.mean(axis=0)
    size = float(np.linalg.norm(mean))
    if size < 1e-6:
        raise CannotCompute(
            "the guides leave in opposite directions", hint="withdraw_direction points out of the crown; check signs"
        )
    return _Arrays(
        np.array([w.normal for w in walls]),
        along,
        np.array([w.length_mm for w in walls]),
        np.array([w.gap_mm for w in walls]),
        np.array(_frame(mean / size)),
        tuple(f"{w.feature} {w.side}" for w in walls),
    )


def _frame(axis: FloatArray) -> tuple[FloatArray, FloatArray]:
    side = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first = np.cross(side, axis)
    first /= np.linalg.norm(first)
    return first, np.cross(axis, first)


def _run_mm(arrays: _Arrays, direction: FloatArray) -> FloatArray:
    """How far each wall is left (positive) or approached (negative) until overlap ends."""
    under = arrays.along @ direction
    if (under <= 1e-9).any():
        name = arrays.names[int(np.argmin(under))]
        raise CannotCompute(f"this direction does not leave {name}", hint="it leans 90 degrees or more from it")
    return np.asarray(arrays.lengths * (arrays.normals @ direction) / under)


def _linear_rows(
    arrays: _Arrays, here: FloatArray, frame: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Rows of: slack <= g + n.t + run(d), linear in (a, b) about d = here + a e + b f; and slack <= g + n.t."""
    over, under = arrays.normals @ here, arrays.along @ here
    run = _run_mm(arrays, here)
    slopes = [arrays.lengths * ((arrays.normals @ e) * under - over * (arrays.along @ e)) / under**2 for e in frame]
    sideways = arrays.normals @ arrays.across.T
    ones, zeros = np.ones((len(run), 1)), np.zeros((len(run), 2))
    moving = np.column_stack([-slopes[0], slopes[0], -slopes[1], slopes[1], -sideways, ones])
    seated = np.hstack([zeros, zeros, -sideways, np.where(arrays.gaps < _SAME_MM, 0.0, 1.0)[:, None]])
    return np.vstack([moving, seated]), np.concatenate([arrays.gaps + run, arrays.gaps])


def _solve(
    cost: FloatArray,
    matrix: FloatArray,
    limits: FloatArray,
    bounds: Sequence[tuple[float | None, float | None]] | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Solve a small program; returns its unknowns and the duals of its rows. Inside, µm and mrad."""
    free = [
        (None if low is None else low * _SCALE, None if high is None else high * _SCALE)
        for low, high in bounds or [(None, None)] * len(cost)
    ]
    answer = linprog(cost, A_ub=matrix, b_ub=limits * _SCALE, bounds=free, method="highs-ds")
    if answer.status == _UNDECIDED:
        answer = linprog(cost, A_ub=matrix, b_ub=limits * _SCALE, bounds=free, method="highs-ipm")
    if answer.status != 0:
        raise CannotCompute(f"the program of the shared float has no answer: {answer.message}")
    return np.asarray(answer.x) / _SCALE, -np.asarray(answer.ineqlin.marginals)


def _shares(duals: FloatArray, names: Sequence[str]) -> tuple[tuple[str, float], ...]:
    counted = np.where(duals > _BINDS * duals.sum(), duals, 0.0)
    total = float(counted.sum())
    if total <= 0:
        return ()
    shares: dict[str, float] = {}
    for name, dual in zip(names, counted, strict=True):
        if dual > 0:
            shares[name] = shares.get(name, 0.0) + float(dual) / total
    return tuple(sorted(shares.items(), key=lambda item: -item[1]))
