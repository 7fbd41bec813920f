"""What is too close to be moved, unless the facts leave it no choice."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from seatwright.pour.timetable._goals import length_s
from seatwright.pour.timetable._network import lag_arcs, least_starts
from seatwright.pour.timetable._problem import Edge, Pin, Problem, Task
from seatwright.pour.timetable._timetable import Placed, Timetable

__all__ = ["FREEZE_MIN", "freeze_close", "let_go_openers"]

FREEZE_MIN = 5.0  # common practice: what starts within five minutes is not moved


def freeze_close(problem: Problem, before: Timetable, *, now: datetime) -> Problem:
    """Return the problem with every task pinned that was to start within five minutes and still can.

    A task is let go when something that must be before it is running too long or has not begun, or when its hands or
    its equipment are still busy, or wanted at once by something overdue for which a longest time runs; so is, in turn,
    what waits for it.
    """
    until = now + timedelta(minutes=FREEZE_MIN)
    rows = {row.id: row for row in before.tasks}
    close = {
        task.id: _pin(problem, rows[task.id], task)
        for task in problem.tasks
        if task.pin is None and task.id in rows and now <= rows[task.id].start <= until
    }
    urgent = _urgent(problem, rows, close, now_s=problem.offset_s(now))
    while True:
        earliest = _earliest(problem, close)
        broken = [name for name in close if not _holds(problem, name, close, urgent, earliest_s=earliest)]
        if not broken:
            break
        for name in broken:
            del close[name]
    return replace(problem, tasks=tuple(replace(t, pin=close[t.id]) if t.id in close else t for t in problem.tasks))


def _pin(problem: Problem, row: Placed, task: Task) -> Pin:
    start_s = problem.offset_s(row.start)
    places = {machine.id: machine.kind for machine in problem.machines if not machine.is_place}
    named = tuple(name for name in row.equipment if name in places)
    return Pin(start_s, start_s + task.duration_s, row.who, named, is_fact=False)


def _earliest(problem: Problem, close: Mapping[str, Pin]) -> dict[str, int]:
    """Return the earliest start of every task by shortest times alone, facts and close tasks where they stand."""
    pins = {task.id: task.pin for task in problem.tasks if task.pin} | dict(close)
    lengths = {task.id: length_s(task) for task in problem.tasks}
    arcs = [arc for lag in problem.lags for arc in lag_arcs(replace(lag, max_s=None), lengths)]
    facts = {task.id for task in problem.tasks if task.pin}
    lower = {task.id: pins[task.id].start_s if task.id in pins else task.not_before_s for task in problem.tasks}
    return least_starts(list(lengths), [arc for arc in arcs if arc.second not in facts], lower)[0]


def _urgent(problem: Problem, rows: Mapping[str, Placed], close: Mapping[str, Pin], *, now_s: int) -> dict[str, Pin]:
    """Return what is not begun though a longest time after a fact ends within five minutes, as if begun now."""
    pins = {task.id: task.pin for task in problem.tasks if task.pin}
    urgent = {}
    for lag in problem.lags:
        if lag.max_s is None or lag.first not in pins or lag.second in pins or lag.second in close:
            continue
        task, fact = problem.task(lag.second), pins[lag.first]
        own_s = task.duration_s if lag.second_at is Edge.END else 0
        latest = (fact.end_s if lag.first_at is Edge.END else fact.start_s) + lag.max_s - own_s
        if task.id in rows and latest <= now_s + FREEZE_MIN * 60:
            pin = _pin(problem, rows[task.id], task)
            urgent[task.id] = replace(pin, start_s=now_s, end_s=now_s + task.duration_s)
    return urgent


def _holds(
    problem: Problem,
    name: str,
    close: Mapping[str, Pin],
    urgent: Mapping[str, Pin],
    *,
    earliest_s: Mapping[str, int],
) -> bool:
    mine = close[name]
    if earliest_s.get(name, mine.start_s) > mine.start_s:
        return False
    pins = {task.id: task.pin for task in problem.tasks if task.pin} | dict(close) | dict(urgent)
    for other, pin in pins.items():
        if other == name or pin.end_s <= mine.start_s or pin.start_s >= mine.end_s:
            continue
        if (mine.who and pin.who == mine.who) or set(mine.equipment) & set(pin.equipment):
            if other in close and other > name:  # of two that cannot both be kept, one is let go
                continue
            return False
    return True


def let_go_openers(frozen: Problem, pinned: Problem) -> Problem:
    """Return the frozen problem without those close tasks after which a longest time runs: a mix not begun can wait."""
    openers = {lag.first for lag in frozen.lags if lag.max_s is not None}
    free = {task.id: task for task in pinned.tasks if task.pin is None}
    return replace(frozen, tasks=tuple(free[t.id] if t.id in free and t.id in openers else t for t in frozen.tasks))
