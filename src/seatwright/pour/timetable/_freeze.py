"""What is too close to be moved, unless the facts leave it no choice."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from seatwright.pour.timetable._goals import length_s
from seatwright.pour.timetable._network import Arc, lag_arcs, least_starts
from seatwright.pour.timetable._problem import Edge, Pin, Problem, Task
from seatwright.pour.timetable._timetable import Placed, Timetable

__all__ = ["FREEZE_MIN", "freeze_close", "let_go_openers"]

FREEZE_MIN = 5.0  # common practice: what starts within five minutes is not moved
_SOON_S = round(FREEZE_MIN * 60)
_STILL_S = 60  # judgement: a shift of less than a minute moves nothing; nobody starts to the second


def freeze_close(problem: Problem, before: Timetable, *, now: datetime) -> Problem:
    """Return the problem with every task pinned that was to start within five minutes and still can.

    A task due less than a minute ago counts as close too, as if begun now; what follows it on the same hands or things
    is pushed by those seconds. A task is let go when it would start more than a minute late: what must be before it
    runs too long or has not begun, or its hands or its equipment are busy, or wanted at once by something overdue for
    which a longest time runs; so is, in turn, what waits for it.
    """
    rows = {row.id: row for row in before.tasks}
    now_s = problem.offset_s(now)
    close = {
        task.id: _pin(problem, rows[task.id], task)
        for task in problem.tasks
        if task.pin is None and task.id in rows and -_STILL_S < problem.offset_s(rows[task.id].start) - now_s <= _SOON_S
    }
    urgent = _urgent(problem, rows, close, now_s=now_s)
    while True:
        starts = _earliest(problem, close, urgent, now_s=now_s)
        late = [name for name in close if starts.get(name, 0) - close[name].start_s >= _STILL_S]
        if not late and starts:
            break
        first = min(late or close, key=lambda name: (close[name].start_s, name))
        del close[first]
        if not close:
            break
    pins = {name: _moved(pin, max(starts[name], now_s)) for name, pin in close.items()}
    return replace(problem, tasks=tuple(replace(t, pin=pins[t.id]) if t.id in pins else t for t in problem.tasks))


def _moved(pin: Pin, start_s: int) -> Pin:
    return replace(pin, start_s=start_s, end_s=start_s + pin.end_s - pin.start_s)


def _pin(problem: Problem, row: Placed, task: Task) -> Pin:
    start_s = problem.offset_s(row.start)
    places = {machine.id: machine.kind for machine in problem.machines if not machine.is_place}
    named = tuple(name for name in row.equipment if name in places)
    return Pin(start_s, start_s + task.duration_s, row.who, named, is_fact=False)


def _earliest(problem: Problem, close: Mapping[str, Pin], urgent: Mapping[str, Pin], *, now_s: int) -> dict[str, int]:
    """Return the earliest starts by shortest times and by the order of close tasks on the same hands and things."""
    facts = {task.id: task.pin for task in problem.tasks if task.pin}
    lengths = {task.id: length_s(task) for task in problem.tasks}
    arcs = [arc for lag in problem.lags for arc in lag_arcs(replace(lag, max_s=None), lengths)]
    arcs = [arc for arc in arcs if arc.second not in facts] + _sequence(facts, close, urgent)
    lower = {task.id: max(task.not_before_s, now_s) for task in problem.tasks}
    lower |= {name: max(pin.start_s, now_s) for name, pin in close.items()}
    lower |= {name: pin.start_s for name, pin in facts.items()}
    return least_starts(list(lengths), arcs, lower)[0]


def _sequence(facts: Mapping[str, Pin], close: Mapping[str, Pin], urgent: Mapping[str, Pin]) -> list[Arc]:
    """Return arcs to each close task from what occupies its hands or things: facts, the urgent, earlier close ones."""
    arcs = []
    for name, mine in close.items():
        for other, pin in {**facts, **urgent, **close}.items():
            shared = (mine.who and pin.who == mine.who) or set(mine.equipment) & set(pin.equipment)
            if other == name or not shared or (other in facts and pin.end_s <= mine.start_s):
                continue
            is_before = other not in close or (pin.start_s, other) < (mine.start_s, name)
            if is_before:
                arcs.append(Arc(other, name, pin.end_s - pin.start_s, "busy"))
    return arcs


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


def let_go_openers(frozen: Problem, pinned: Problem) -> Problem:
    """Return the frozen problem without those close tasks after which a longest time runs: a mix not begun can wait."""
    openers = {lag.first for lag in frozen.lags if lag.max_s is not None}
    free = {task.id: task for task in pinned.tasks if task.pin is None}
    return replace(frozen, tasks=tuple(free[t.id] if t.id in free and t.id in openers else t for t in frozen.tasks))
