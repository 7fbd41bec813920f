"""How good a timetable is: every goal measured from starts and names alone, whatever the solver said."""

from collections.abc import Mapping
from dataclasses import dataclass

from seatwright.pour._result import Band
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._problem import Problem, Task, Window
from seatwright.pour.timetable._timetable import Late

__all__ = ["Assignment", "late_pours", "length_s", "measure_goals", "worst_error_um"]


@dataclass(frozen=True, slots=True)
class Assignment:
    """Start and names of every task."""

    starts_s: Mapping[str, int]
    who: Mapping[str, str]
    equipment: Mapping[str, tuple[str, ...]]


def length_s(task: Task) -> int:
    """Return how long a task takes: as pinned, else as planned."""
    return task.pin.end_s - task.pin.start_s if task.pin else task.duration_s


def worst_error_um(window: Window) -> int:
    """Return what stands for a stretch without a number: twice the largest that is known; it only orders."""
    return 2 * max((band.error_um for band in window.bands if band.error_um is not None), default=0)


def measure_goals(
    problem: Problem, assignment: Assignment, keep: Mapping[str, Keep], change_weight_s: int
) -> dict[str, int]:
    """Return the value of every goal but ``overstep``, which rests on which lags were let go."""
    starts = assignment.starts_s
    beyond = 1 + sum(window.weight for window in problem.windows)
    values = {"late": 0, "reserve": 0, "error": 0, "age": 0}
    for window in problem.windows:
        age = _age_s(problem, window, starts)
        band = window.band_at(age)
        values["late"] += window.weight * {Band.WITHIN: 0, Band.STRETCHED: 1, Band.BEYOND: beyond}[band.band]
        values["error"] += band.error_um if band.error_um is not None else worst_error_um(window)
        limit = window.window_s()
        if window.reserve_s and limit is not None:
            values["reserve"] += window.weight * max(0, age - max(limit - window.reserve_s, 0))
        values["age"] += age if window.out_s is None else 0
    values["makespan"] = max((starts[task.id] + length_s(task) for task in problem.tasks), default=0)
    places = {machine.id for machine in problem.machines if machine.is_place}
    values["change"] = sum(
        _change_s(task, assignment, keep, places=places, change_weight_s=change_weight_s) for task in problem.tasks
    )
    return values


def _age_s(problem: Problem, window: Window, starts_s: Mapping[str, int]) -> int:
    end = starts_s[window.task] + length_s(problem.task(window.task))
    if window.out_s is not None:
        return end - window.out_s
    return end - starts_s[window.out_task] - length_s(problem.task(window.out_task))


def _change_s(
    task: Task, assignment: Assignment, keep: Mapping[str, Keep], *, places: set[str], change_weight_s: int
) -> int:
    before = keep.get(task.id)
    if before is None or task.pin is not None:
        return 0
    shift = abs(assignment.starts_s[task.id] - before.start_s)
    others = int(assignment.who.get(task.id, "") not in ("", before.who))
    return shift + change_weight_s * (others + len(set(assignment.equipment[task.id]) - places - set(before.equipment)))


def late_pours(problem: Problem, starts_s: Mapping[str, int]) -> tuple[Late, ...]:
    """Return every pour that comes after its window."""
    late = []
    for window in problem.windows:
        end = starts_s[window.task] + length_s(problem.task(window.task))
        out_task = problem.task(window.out_task) if window.out_s is None else None
        out = starts_s[window.out_task] + length_s(out_task) if out_task else window.out_s or 0
        band = window.band_at(end - out)
        limit = window.window_s()
        if band.band is Band.WITHIN or limit is None:
            continue
        late.append(
            Late(
                case=window.case,
                impression=window.impression,
                pour_end=problem.at(end),
                window_end=problem.at(out + limit),
                by_min=(end - out - limit) / 60,
                band=band.band,
                error_um=band.error_um,
            )
        )
    return tuple(late)
