"""Refuses problems that cannot be meant: all faults at once, each with what mends it.

Owns legality. A window that cannot be met is no fault but a result.
"""

from collections.abc import Iterator, Sequence

from seatwright.errors import CaseError, Fault
from seatwright.pour.timetable._network import find_knot
from seatwright.pour.timetable._problem import Problem, Task, Window

__all__ = ["require_sound"]


def require_sound(problem: Problem) -> None:
    """Raise CaseError with every fault of the problem, or return.

    Raises
    ------
    CaseError
        Duplicate or unknown names, durations that are not positive, a skill nobody has, equipment that is not there, a
        pin that names nobody, bands that are not contiguous, precedence in a circle, lags that contradict each other,
        a naive origin.
    """
    faults = [
        *_time_faults(problem),
        *_name_faults(problem),
        *(fault for task in problem.tasks for fault in _task_faults(problem, task)),
        *_bench_faults(problem),
        *(fault for window in problem.windows for fault in _band_faults(window)),
    ]
    if not faults:
        faults = list(_knot_faults(problem))
    if faults:
        first = faults[0]
        raise CaseError(f"no timetable can be made: {first.where}: {first.what}", hint=first.hint, faults=faults)


def _time_faults(problem: Problem) -> Iterator[Fault]:
    if problem.origin.tzinfo is None:
        yield Fault("timetable: now", "a time without its zone", "write it with its offset, such as 09:30+01:00")
    for worker in problem.workers:
        for since, until in worker.breaks_s:
            if until <= since:
                yield Fault(f"bench.toml: break of {worker.id}", "it ends before it begins", "swap its times")


def _name_faults(problem: Problem) -> Iterator[Fault]:
    for what, names in (
        ("task", [t.id for t in problem.tasks]),
        ("person", [w.id for w in problem.workers]),
        ("equipment", [m.id for m in problem.machines]),
    ):
        for name in sorted({n for n in names if names.count(n) > 1}):
            yield Fault(f"timetable: {what} {name}", "the name stands twice", "give each its own")
    known = {task.id for task in problem.tasks}
    for lag in problem.lags:
        for name in (lag.first, lag.second):
            if name not in known:
                yield Fault(f"timetable: lag {lag.id}", f"it names {name}, which is no task", "name a task of the plan")
        if lag.min_s is not None and lag.max_s is not None and lag.max_s < lag.min_s:
            yield Fault(f"timetable: lag {lag.id}", "its longest time is shorter than its shortest", "swap them")
    for window in problem.windows:
        for name in (window.task, window.out_task if window.out_s is None else window.task):
            if name not in known:
                yield Fault(f"timetable: window {window.impression}", f"it names {name!r}, no task", "name the pour")


def _task_faults(problem: Problem, task: Task) -> Iterator[Fault]:
    where = f"timetable: task {task.id}"
    if task.duration_s <= 0:
        yield Fault(where, f"a duration of {task.duration_s} s", "durations are longer than zero")
    if task.pin is not None and task.pin.end_s <= task.pin.start_s:
        yield Fault(where, "it ended before it started", "check the log: the clock may have been set back")
    if task.pin is not None:
        people = {worker.id for worker in problem.workers}
        if task.pin.who and task.pin.who not in people:
            yield Fault(where, f"'{task.pin.who}' is nobody of this bench", "use an id of bench.toml")
        things = {machine.id for machine in problem.machines}
        for name in task.pin.equipment:
            if name not in things:
                yield Fault(where, f"'{name}' is no equipment of this bench", "use an id of bench.toml")


def _bench_faults(problem: Problem) -> Iterator[Fault]:
    """Yield each skill that nobody has and each kind of equipment that is not there, once, with the steps that ask."""
    able = {skill for worker in problem.workers for skill in worker.skills}
    there = {machine.kind for machine in problem.machines}
    skills: dict[str, list[str]] = {}
    kinds: dict[str, list[str]] = {}
    for task in problem.tasks:
        if task.skill and task.skill not in able:
            skills.setdefault(task.skill, []).append(task.id)
        for kind in task.needs:
            if kind not in there:
                kinds.setdefault(kind, []).append(task.id)
    for skill, tasks in skills.items():
        what = f"nobody at this bench has the skill '{skill}'{_asked_by(tasks)}"
        yield Fault("bench.toml: person", what, f"add '{skill}' to the skills of a person")
    for kind, tasks in kinds.items():
        what = f"no {kind} at this bench{_asked_by(tasks)}"
        yield Fault("bench.toml: equipment", what, f'add what there is: an id and kind = "{kind}"')


def _asked_by(tasks: Sequence[str]) -> str:
    more = f" and {len(tasks) - 1} more" if len(tasks) > 1 else ""
    return f", asked by {tasks[0]}{more}"


def _band_faults(window: Window) -> Iterator[Fault]:
    where = f"timetable: window {window.impression}"
    if not window.bands:
        yield Fault(where, "no bands", "give at least one")
        return
    reached: int | None = 0
    for band in window.bands:
        if reached is None or band.since_s != reached or (band.until_s is not None and band.until_s <= band.since_s):
            yield Fault(where, "its bands do not follow each other", "each begins where the one before ends")
            return
        reached = band.until_s
    if reached is not None:
        yield Fault(where, "its last band ends", "leave the last one open")
    if window.weight <= 0:
        yield Fault(where, "its weight is not positive", "use 1 or more")


def _knot_faults(problem: Problem) -> Iterator[Fault]:
    knot = find_knot(problem)
    if knot is None:
        return
    circle = " -> ".join([*(arc.first for arc in knot.arcs), knot.arcs[0].first])
    if all(arc.gap_s > 0 for arc in knot.arcs):
        yield Fault("timetable: order", f"steps wait for each other in a circle: {circle}", "remove one of these rules")
    else:
        rules = ", ".join(sorted({arc.why for arc in knot.arcs}))
        yield Fault(
            "timetable: lags",
            f"rules {rules} contradict each other by {knot.excess_s / 60:.1f} min: {circle}",
            "shorten the work between them or split the batch",
        )
