"""The timetable before, pushed later as far as the facts demand: same hands, and as far as can be the same order."""

from collections.abc import Mapping
from dataclasses import replace

from seatwright.pour.timetable._assemble import Assignment, length_s, sequence_arcs
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._network import lag_arcs, least_starts
from seatwright.pour.timetable._pools import Pool, options_for, pools_of, roles_of
from seatwright.pour.timetable._problem import Edge, Problem, Window
from seatwright.pour.timetable._solve import Solution
from seatwright.pour.timetable._timetable import Goal

__all__ = ["pushed_solution", "repair_places"]

_SWAPS = 30  # judgement: after so many steps brought forward the search does better from scratch


def repair_places(problem: Problem, keep: Mapping[str, Keep]) -> dict[str, Keep]:
    """Return where every task comes when nobody changes the order, but for steps that cannot keep it.

    A step that collides with what is fixed goes behind it; a step that would miss a longest time goes before the one
    ahead of it on the same person, until it is in time. A first proposal for the search, not a promise: room at the
    tray and breaks are left to the solver.
    """
    pins = {task.id: task.pin for task in problem.tasks if task.pin}
    order = {name: float(place.start_s) for name, place in keep.items()}
    order |= {name: float(pin.start_s) for name, pin in pins.items()}
    reached = dict(keep)
    for _ in range(_SWAPS):
        starts = _push(problem, keep, order, strict=True) or _push(problem, keep, order, strict=False)
        if not starts:
            return reached
        reached = {name: Keep(starts[name], keep[name].who, keep[name].equipment) for name in keep if name in starts}
        free, pinned = _collision(problem, keep, starts)
        if free:
            order[free] = max(order[free], order[pinned]) + 0.25
            continue
        late = _too_late(problem, starts)
        ahead = _ahead(problem, keep, order, late) if late else ""
        if not ahead:
            return reached
        order[late], order[ahead] = order[ahead], order[late]
        if order[late] == order[ahead]:
            order[late] -= 0.5
    return reached


def _push(problem: Problem, keep: Mapping[str, Keep], order: Mapping[str, float], *, strict: bool) -> dict[str, int]:
    """Return the least starts in an order, none before its old one; with `strict`, what opens a longest time waits."""
    ranks = {name: rank for rank, name in enumerate(sorted(order, key=lambda n: (order[n], n)))}
    who, things = _names(problem, keep)
    in_order = {task.id: ranks.get(task.id, 0) for task in problem.tasks}
    durations = {task.id: length_s(task) for task in problem.tasks}
    arcs = sequence_arcs(problem, Assignment(in_order, who, things))
    for lag in problem.lags:
        arcs += lag_arcs(lag if strict else replace(lag, max_s=None), durations)
    free = {task.id for task in problem.tasks if task.pin is None}
    lower = {
        task.id: task.pin.start_s
        if task.pin
        else max(task.not_before_s, keep[task.id].start_s if task.id in keep else 0)
        for task in problem.tasks
    }
    starts, knot = least_starts(
        sorted(durations, key=lambda name: in_order[name]), [arc for arc in arcs if arc.second in free], lower
    )
    return {} if knot else starts


def _names(problem: Problem, keep: Mapping[str, Keep]) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
    who, things = {}, {}
    for task in problem.tasks:
        place = keep.get(task.id)
        who[task.id] = task.pin.who if task.pin else place.who if place else ""
        things[task.id] = task.pin.equipment if task.pin else place.equipment if place else ()
    return who, things


def _collision(problem: Problem, keep: Mapping[str, Keep], starts_s: Mapping[str, int]) -> tuple[str, str]:
    """Return a free task and the fixed one whose hands or things it takes at the same time, or nothing."""
    who, things = _names(problem, keep)
    fixed = [task for task in problem.tasks if task.pin is not None]
    for task in problem.tasks:
        if task.pin is not None:
            continue
        start = starts_s[task.id]
        for other in fixed:
            begins = starts_s[other.id]
            if start >= begins + length_s(other) or start + task.duration_s <= begins:
                continue
            if who[task.id] == who[other.id] != "" or set(things[task.id]) & set(things[other.id]):
                return task.id, other.id
    return "", ""


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


def pushed_solution(problem: Problem, places: Mapping[str, Keep]) -> Solution | None:
    """Return places as a solution, with what they overstep and cost, and no bound; None when somebody is missing."""
    pins = {task.id: task.pin for task in problem.tasks if task.pin}
    if any(task.id not in places and task.id not in pins for task in problem.tasks):
        return None
    starts = {t.id: pins[t.id].start_s if t.id in pins else places[t.id].start_s for t in problem.tasks}
    lengths = {task.id: length_s(task) for task in problem.tasks}
    chosen: dict[tuple[str, str], Pool] = {}
    pools = pools_of(problem, one_by_one=True)
    for task in problem.tasks:
        for role in roles_of(task) if task.pin is None else ():
            names = {places[task.id].who, *places[task.id].equipment}
            options = options_for(task, role, pools)
            mine = [pool for pool in options if len(options) == 1 or names & set(pool.members)]
            if not mine:
                return None
            chosen[task.id, role] = mine[0]
    over = {}
    for lag in problem.lags:
        first = starts[lag.first] + (lengths[lag.first] if lag.first_at is Edge.END else 0)
        second = starts[lag.second] + (lengths[lag.second] if lag.second_at is Edge.END else 0)
        both_facts = lag.first in pins and lag.second in pins
        if lag.max_s is not None and second - first > lag.max_s and not both_facts:
            over[lag.id, lag.first, lag.second] = second - first - lag.max_s
    bands = {w.task: w.bands.index(w.band_at(_age_s(w, starts, lengths))) for w in problem.windows}
    last = max((starts[name] + lengths[name] for name in starts), default=0)
    goals = (Goal("overstep", "s", sum(over.values()), 0), Goal("makespan", "s", last, 0))
    return Solution(starts, chosen, bands, over, goals, 0.0)


def _age_s(window: Window, starts_s: Mapping[str, int], lengths_s: Mapping[str, int]) -> int:
    out = window.out_s if window.out_s is not None else starts_s[window.out_task] + lengths_s[window.out_task]
    return starts_s[window.task] + lengths_s[window.task] - out
