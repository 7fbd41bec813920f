"""What measured durations of this bench say about the steps still to come.

Owns one number per step: measured over planned, drawn towards 1 while few were measured.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from seatwright.pour.timetable._problem import Problem, Task

__all__ = ["Pace", "apply_paces", "learn_paces"]

_PRIOR_N = 4.0  # judgement: the table of durations counts as much as four measured steps
_LIMITS = (0.5, 2.0)  # judgement: beyond this the log is wrong rather than the bench fast or slow


@dataclass(frozen=True, slots=True)
class Pace:
    """How long a step takes here, as a multiple of the table's typical time."""

    step: str
    factor: float
    n_measured: int


def learn_paces(problems: Sequence[Problem]) -> tuple[Pace, ...]:
    """Return one pace per step that was measured, from work with hands whose start and end were both logged.

    Notes
    -----
    The factor is exp(sum(log(measured/typical)) / (n + 4)): a log-normal mean with a prior at 1 worth four
    measurements.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> from seatwright.pour.timetable._problem import Pin
    >>> slow = Task("C/i/box", "box", 480, steps=("box",), skill="pour", pin=Pin(0, 960, is_timed=True))
    >>> round(learn_paces([Problem(datetime(2026, 1, 1, tzinfo=UTC), (slow,))])[0].factor, 3)
    1.149
    """
    ratios: dict[str, list[float]] = {}
    for problem in problems:
        for task in problem.tasks:
            if task.pin is not None and task.pin.is_timed and task.skill:
                measured_s = task.pin.end_s - task.pin.start_s
                ratios.setdefault(_step(task), []).append(math.log(measured_s / task.duration_s))
    paces = []
    for step, logs in sorted(ratios.items()):
        factor = math.exp(sum(logs) / (len(logs) + _PRIOR_N))
        paces.append(Pace(step, min(max(factor, _LIMITS[0]), _LIMITS[1]), len(logs)))
    return tuple(paces)


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
