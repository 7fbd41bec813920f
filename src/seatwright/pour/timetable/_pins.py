"""From facts to pins: what is done or running stands fixed, the rest starts from now.

Owns how the log meets a problem. Facts are never argued with.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from seatwright.errors import CaseError
from seatwright.pour.timetable._history import Fact
from seatwright.pour.timetable._problem import Pin, Problem, Task

__all__ = ["pin_facts"]

AFTER_POUR = ("pour-base", "separate")
_SLIP_S = 60  # judgement: a step past its typical end is expected to take this much longer


def pin_facts(problem: Problem, facts: Sequence[Fact], *, now: datetime) -> Problem:
    """Return the problem with every task pinned that the log says is done or running; the rest starts from `now`.

    A task of several steps or units runs from its first fact on and is done with its last. Work before the pour counts
    as done once stone is in. A running task that is past its typical end is expected to take one more minute.
    """
    known: dict[tuple[str, str], dict[tuple[str, int], Fact]] = {}
    for fact in facts:
        known.setdefault((fact.case, fact.impression), {})[fact.step, fact.unit] = fact
    now_s = problem.offset_s(now)
    tasks = []
    for task in problem.tasks:
        there = known.get((task.case, task.impression), {})
        pin = _pin_of(problem, task, there, now=now) or (task.pin if task.pin and task.pin.end_s <= now_s else None)
        if pin is None:
            tasks.append(replace(task, pin=None, not_before_s=max(task.not_before_s, now_s)))
        else:
            tasks.append(replace(task, pin=pin))
    return replace(problem, tasks=_with_equipment(problem, tasks, now_s))


def _with_equipment(problem: Problem, tasks: Sequence[Task], now_s: int) -> tuple[Task, ...]:
    """Give running work the things it needs, since the log names none: the first of each kind not in use."""
    taken: set[str] = set()
    complete = []
    for task in tasks:
        if task.pin is None or task.pin.end_s <= now_s:
            complete.append(task)
            continue
        things = []
        for kind in task.needs:
            free = [m.id for m in problem.machines if m.kind == kind and not m.is_place and m.id not in taken]
            things += free[:1]
        taken.update(things)
        complete.append(replace(task, pin=replace(task.pin, equipment=tuple(things))))
    return tuple(complete)


def _pin_of(problem: Problem, task: Task, known: Mapping[tuple[str, int], Fact], *, now: datetime) -> Pin | None:
    pairs = [(step, unit) for step in task.steps for unit in task.units or (0,)]
    found = [known[pair] for pair in pairs if pair in known]
    ends = [fact.finished for fact in found if fact.finished is not None]
    if found and len(ends) == len(found) and _is_complete(task, found):
        return _past(problem, task, ends, found)
    poured = known.get(("pour", 0))
    if poured is not None and poured.finished is not None and not set(task.steps) & {"pour", *AFTER_POUR}:
        return _past(problem, task, [*ends, poured.finished], ())
    if not found:
        return None
    starts = [fact.started or fact.finished for fact in found]
    start = min(moment for moment in starts if moment is not None)
    start_s = problem.offset_s(start)
    end_s = max(start_s + task.duration_s, problem.offset_s(now) + _SLIP_S)
    return Pin(start_s, end_s, _who(problem, task, found), ())


def _is_complete(task: Task, found: Sequence[Fact]) -> bool:
    """Tell whether the step that names the batch is done on every unit; a separator, say, is not waited for."""
    main = task.id.split("/")[2]
    return {fact.unit for fact in found if fact.step == main} >= set(task.units or (0,))


def _past(problem: Problem, task: Task, ends: Sequence[datetime], found: Sequence[Fact]) -> Pin:
    end = max(ends)
    starts = [fact.started for fact in found if fact.started is not None]
    start = min(starts, default=end - timedelta(seconds=task.duration_s))
    if start > end:
        raise CaseError(f"{task.id} ended before it started", hint="check the log: the clock may have been set back")
    start = min(start, end - timedelta(seconds=1))
    timed = bool(starts) and len(ends) == len(found)
    return Pin(problem.offset_s(start), problem.offset_s(end), _who(problem, task, found), (), is_timed=timed)


def _who(problem: Problem, task: Task, found: Sequence[Fact]) -> str:
    if not task.skill:
        return ""
    people = {worker.id for worker in problem.workers}
    return next((fact.by for fact in found if fact.by in people), "")
