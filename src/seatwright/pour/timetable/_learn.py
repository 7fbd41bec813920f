"""What measured durations of this bench say about the steps still to come.

Owns one number per step: measured over planned, drawn towards 1 while few were measured.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from seatwright.pour.timetable._problem import Problem, Task

__all__ = ["Pace", "apply_paces", "learn_paces"]

_PRIOR_N = 4.0  # judgement: the table of durations counts as much as four measured steps
_FAR = 3.0  # judgement: three times outside the table's range a touch was forgotten, or the log is about something else
_LIMITS = (0.5, 2.0)  # judgement: beyond this the log is wrong rather than the bench fast or slow


@dataclass(frozen=True, slots=True)
class Pace:
    """How long a step takes here, as a multiple of the table's typical time."""

    step: str
    factor: float
    n_measured: int
    n_left_out: int = 0
    """Measured so far outside the table's range that nothing is learned from them."""


def learn_paces(problems: Sequence[Problem]) -> tuple[Pace, ...]:
    """Return one pace per step that was measured, from work with hands whose start and end were both logged.

    Notes
    -----
    The factor is exp(sum(log(measured/typical)) / (n + 4)): a log-normal mean with a prior at 1 worth four
    measurements. What lies three times outside the table's range is left out and counted.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> from seatwright.pour.timetable._problem import Pin
    >>> slow = Task("C/i/box", "box", 480, steps=("box",), skill="pour", pin=Pin(0, 960, is_timed=True))
    >>> round(learn_paces([Problem(datetime(2026, 1, 1, tzinfo=UTC), (slow,))])[0].factor, 3)
    1.149
    """
    logs: dict[str, list[float]] = {}
    left_out: dict[str, int] = {}
    for task in (task for problem in problems for task in problem.tasks):
        if task.pin is None or not task.pin.is_timed or not task.skill:
            continue
        measured_s = task.pin.end_s - task.pin.start_s
        if _is_far(task, measured_s):
            left_out[_step(task)] = left_out.get(_step(task), 0) + 1
        else:
            logs.setdefault(_step(task), []).append(math.log(measured_s / task.duration_s))
    paces = []
    for step in sorted({*logs, *left_out}):
        mine = logs.get(step, [])
        factor = math.exp(sum(mine) / (len(mine) + _PRIOR_N))
        paces.append(Pace(step, min(max(factor, _LIMITS[0]), _LIMITS[1]), len(mine), left_out.get(step, 0)))
    return tuple(paces)


def _is_far(task: Task, measured_s: float) -> bool:
    low_min, high_min = (task.spread.low_min, task.spread.high_min) if task.spread else (0.0, math.inf)
    return not low_min * 60 / _FAR <= measured_s <= high_min * 60 * _FAR


def _step(task: Task) -> str:
    parts = task.id.split("/")
    return parts[2] if len(parts) > 2 else task.id


def apply_paces(problem: Problem, paces: Sequence[Pace]) -> Problem:
    """Return the problem with the durations of steps not yet begun at this bench's pace, on its grid."""
    factors: Mapping[str, float] = {pace.step: pace.factor for pace in paces}
    tasks = []
    for task in problem.tasks:
        factor = factors.get(_step(task), 1.0)
        if task.pin is not None or factor == 1.0:
            tasks.append(task)
            continue
        length = max(problem.grid_s, math.ceil(task.duration_s * factor / problem.grid_s - 1e-9) * problem.grid_s)
        spread = task.spread.scaled(factor) if task.spread else None
        tasks.append(replace(task, duration_s=length, spread=spread))
    return replace(problem, tasks=tuple(tasks))
