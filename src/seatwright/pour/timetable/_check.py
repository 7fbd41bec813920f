"""The independent checker: re-reads any timetable, also one edited by hand, against every rule of its problem.

Owns plain comparisons only. Shares no code with model, solver or network, so that a fault there cannot hide here.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from seatwright.pour._result import Band
from seatwright.pour.timetable._problem import Edge, Lag, Problem, Task, Window
from seatwright.pour.timetable._timetable import Placed, Timetable

__all__ = ["Violation", "check_timetable"]


@dataclass(frozen=True, slots=True)
class Violation:
    """One rule that a timetable breaks."""

    rule: str
    task: str
    what: str


def check_timetable(problem: Problem, timetable: Timetable) -> tuple[Violation, ...]:
    """Return every rule of the problem that the timetable breaks; empty when it is sound.

    Checks that each task stands in it once, for its full length and not too early; skills, hands and breaks; equipment
    and places; shortest and longest times (a stated overstep is allowed); pins; that `late` tells the truth; that
    makespan is what it says.
    """
    placed: dict[str, Placed] = {}
    found: list[Violation] = []
    for row in timetable.tasks:
        if row.id in placed:
            found.append(Violation("once", row.id, "stands twice"))
        placed[row.id] = row
    known = {task.id for task in problem.tasks}
    found += [Violation("known", name, "is no task of this plan") for name in placed if name not in known]
    missing = [task for task in problem.tasks if task.id not in placed]
    found += [Violation("once", task.id, "is missing") for task in missing]
    if missing:
        return tuple(found)
    for task in problem.tasks:
        found += _check_task(problem, task, placed[task.id])
    for worker in problem.workers:
        found += _check_hands(problem, placed, worker.id)
    found += _check_equipment(problem, placed)
    for lag in problem.lags:
        found += _check_lag(problem, placed, lag, timetable)
    for window in problem.windows:
        found += _check_window(problem, placed, window, timetable)
    return (*found, *_check_makespan(problem, placed, timetable))


def _seconds(later: datetime, earlier: datetime) -> float:
    return (later - earlier).total_seconds()


def _check_task(problem: Problem, task: Task, row: Placed) -> Iterator[Violation]:
    start, end = _seconds(row.start, problem.origin), _seconds(row.end, problem.origin)
    if task.pin is not None:
        if (start, end) != (task.pin.start_s, task.pin.end_s):
            yield Violation("pin", task.id, "is moved though it is done, running or about to start")
        if task.pin.who != row.who:
            yield Violation("pin", task.id, f"is given to {row.who or 'nobody'} instead of {task.pin.who or 'nobody'}")
        return
    if end - start != task.duration_s:
        yield Violation("duration", task.id, f"lasts {end - start:g} s instead of {task.duration_s} s")
    if start < task.not_before_s:
        yield Violation("release", task.id, f"starts {task.not_before_s - start:g} s too early")
    yield from _check_person(problem, task, row)


def _check_person(problem: Problem, task: Task, row: Placed) -> Iterator[Violation]:
    start, end = _seconds(row.start, problem.origin), _seconds(row.end, problem.origin)
    if not task.skill:
        if row.who:
            yield Violation("hands", task.id, f"needs nobody, yet {row.who} is given to it")
        return
    people = [worker for worker in problem.workers if worker.id == row.who]
    if not people:
        yield Violation("hands", task.id, f"'{row.who}' is nobody of this bench")
        return
    if task.skill not in people[0].skills:
        yield Violation("skill", task.id, f"{row.who} may not do '{task.skill}'")
    for since, until in people[0].breaks_s:
        if start < until and end > since:
            yield Violation("break", task.id, f"runs into a break of {row.who}")


def _overlap(first: Placed, second: Placed) -> bool:
    return first.start < second.end and second.start < first.end


def _check_hands(problem: Problem, placed: dict[str, Placed], who: str) -> Iterator[Violation]:
    mine = [task for task in problem.tasks if placed[task.id].who == who]
    for index, first in enumerate(mine):
        for second in mine[index + 1 :]:
            both_facts = first.pin is not None and second.pin is not None
            if not both_facts and _overlap(placed[first.id], placed[second.id]):
                yield Violation("hands", second.id, f"{who} is busy with {first.id} at that time")


def _check_equipment(problem: Problem, placed: dict[str, Placed]) -> Iterator[Violation]:
    kinds = {machine.id: machine.kind for machine in problem.machines}
    places = {machine.kind for machine in problem.machines if machine.is_place}
    for task in problem.tasks:
        if task.pin is not None:
            continue
        wanted = sorted(kind for kind in task.needs if kind not in places)
        used = sorted(kinds.get(name, f"unknown {name}") for name in placed[task.id].equipment)
        if wanted != used:
            yield Violation(
                "equipment", task.id, f"needs {', '.join(wanted) or 'none'}, has {', '.join(used) or 'none'}"
            )
    for index, first in enumerate(problem.tasks):
        for second in problem.tasks[index + 1 :]:
            shared = set(placed[first.id].equipment) & set(placed[second.id].equipment)
            both_facts = first.pin is not None and second.pin is not None
            if shared and not both_facts and _overlap(placed[first.id], placed[second.id]):
                yield Violation("equipment", second.id, f"{', '.join(sorted(shared))} is busy with {first.id}")
    for place in places:
        room = sum(machine.kind == place for machine in problem.machines)
        yield from _check_place(problem, placed, place, room)


def _check_place(problem: Problem, placed: dict[str, Placed], place: str, room: int) -> Iterator[Violation]:
    users = [task for task in problem.tasks if place in task.needs and task.pin is None]
    for task in users:
        begin = placed[task.id].start
        there = [u for u in users if placed[u.id].start <= begin < placed[u.id].end]
        if len(there) > room:
            yield Violation("place", task.id, f"{len(there)} at once at {place}, which has room for {room}")


def _edge_at(row: Placed, edge: Edge) -> datetime:
    return row.start if edge is Edge.START else row.end


def _check_lag(problem: Problem, placed: dict[str, Placed], lag: Lag, timetable: Timetable) -> Iterator[Violation]:
    tasks = {task.id: task for task in problem.tasks}
    before, after = tasks[lag.first].pin, tasks[lag.second].pin
    if after is not None and (after.is_fact or before is not None):
        return
    gap = _seconds(_edge_at(placed[lag.second], lag.second_at), _edge_at(placed[lag.first], lag.first_at))
    if lag.min_s is not None and gap < lag.min_s:
        yield Violation(lag.id, lag.second, f"comes {(lag.min_s - gap) / 60:.1f} min too soon after {lag.first}")
    if lag.max_s is None:
        return
    stated = [
        o.by_min * 60 for o in timetable.oversteps if (o.lag, o.first, o.second) == (lag.id, lag.first, lag.second)
    ]
    if gap > lag.max_s + sum(stated) + 0.5:
        yield Violation(lag.id, lag.second, f"comes {(gap - lag.max_s) / 60:.1f} min too late after {lag.first}")


def _check_window(
    problem: Problem, placed: dict[str, Placed], window: Window, timetable: Timetable
) -> Iterator[Violation]:
    end = _seconds(placed[window.task].end, problem.origin)
    out = _seconds(placed[window.out_task].end, problem.origin) if window.out_s is None else window.out_s
    age = end - out
    band = next(b for b in window.bands if b.until_s is None or age <= b.until_s)
    stated = [row for row in timetable.late if (row.case, row.impression) == (window.case, window.impression)]
    if band.band is Band.WITHIN and stated:
        yield Violation("window", window.task, "is called late, yet it is poured within its window")
    if band.band is not Band.WITHIN and not stated:
        yield Violation(
            "window",
            window.task,
            f"is poured {age / 60:.0f} min old, {band.band.value} its window, and not called late",
        )
    if stated and stated[0].band is not band.band:
        yield Violation("window", window.task, f"is {band.band.value}, not {stated[0].band.value}")


def _check_makespan(problem: Problem, placed: dict[str, Placed], timetable: Timetable) -> Iterator[Violation]:
    last = max((_seconds(row.end, problem.origin) for row in placed.values()), default=0.0)
    for goal in timetable.goals:
        if goal.name == "makespan" and goal.value != last:
            yield Violation("makespan", "", f"is {last:g} s, not {goal.value} s")
