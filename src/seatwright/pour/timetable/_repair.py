"""The timetable before, pushed later as far as the facts demand: same hands, and as far as can be the same order."""

from collections.abc import Mapping
from dataclasses import replace

from seatwright.pour.timetable._assemble import Assignment, length_s, sequence_arcs
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._network import lag_arcs, least_starts
from seatwright.pour.timetable._problem import Edge, Problem

__all__ = ["repair_places"]

_SWAPS = 30  # judgement: after so many steps brought forward the search does better from scratch


def repair_places(problem: Problem, keep: Mapping[str, Keep]) -> dict[str, Keep]:
    """Return where every task comes when nobody changes the order, but for steps that would miss a longest time.

    Such a step is brought before the one ahead of it on the same person, until it is in time. A first proposal for the
    search, not a promise: room at the tray and breaks are left to the solver.
    """
    pins = {task.id: task.pin for task in problem.tasks if task.pin}
    order = {name: float(place.start_s) for name, place in keep.items()}
    order |= {name: float(pin.start_s) for name, pin in pins.items()}
    reached = dict(keep)
    for _ in range(_SWAPS):
        starts = _push(problem, keep, order)
        if not starts:
            return reached
        reached = {name: Keep(starts[name], keep[name].who, keep[name].equipment) for name in keep if name in starts}
        late = _too_late(problem, starts)
        ahead = _ahead(problem, keep, order, late) if late else ""
        if not ahead:
            return reached
        order[late], order[ahead] = order[ahead], order[late]
        if order[late] == order[ahead]:
            order[late] -= 0.5
    return reached


def _push(problem: Problem, keep: Mapping[str, Keep], order: Mapping[str, float]) -> dict[str, int]:
    free = [task for task in problem.tasks if task.pin is None]
    ranks = {name: rank for rank, name in enumerate(sorted(order, key=lambda n: (order[n], n)))}
    who, things = {}, {}
    for task in problem.tasks:
        place = keep.get(task.id)
        who[task.id] = task.pin.who if task.pin else place.who if place else ""
        things[task.id] = task.pin.equipment if task.pin else place.equipment if place else ()
    in_order = {task.id: ranks.get(task.id, 0) for task in problem.tasks}
    durations = {task.id: length_s(task) for task in problem.tasks}
    arcs = sequence_arcs(problem, Assignment(in_order, who, things))
    arcs += [arc for lag in problem.lags for arc in lag_arcs(replace(lag, max_s=None), durations)]
    names = {task.id for task in free}
    lower = {task.id: task.pin.start_s for task in problem.tasks if task.pin}
    lower |= {t.id: max(t.not_before_s, keep[t.id].start_s if t.id in keep else 0) for t in free}
    starts, knot = least_starts(
        sorted(durations, key=lambda name: in_order[name]), [arc for arc in arcs if arc.second in names], lower
    )
    return {} if knot else starts


def _too_late(problem: Problem, starts_s: Mapping[str, int]) -> str:
    """Return the first task that misses a longest time, or nothing."""
    lengths = {task.id: length_s(task) for task in problem.tasks}
    free = {task.id for task in problem.tasks if task.pin is None}
    for lag in problem.lags:
        if lag.max_s is None or lag.second not in free:
            continue
        first = starts_s[lag.first] + (lengths[lag.first] if lag.first_at is Edge.END else 0)
        second = starts_s[lag.second] + (lengths[lag.second] if lag.second_at is Edge.END else 0)
        if second - first > lag.max_s:
            return lag.second
    return ""


def _ahead(problem: Problem, keep: Mapping[str, Keep], order: Mapping[str, float], late: str) -> str:
    """Return the step that the same person does right before a late one, if it may wait."""
    free = {task.id for task in problem.tasks if task.pin is None}
    mine = [
        name for name in keep if name in free and keep[name].who == keep[late].who != "" and order[name] <= order[late]
    ]
    before = [name for name in mine if name != late]
    fixed = {lag.first for lag in problem.lags if lag.second == late}
    last = max(before, key=lambda name: (order[name], name), default="")
    return "" if last in fixed else last
