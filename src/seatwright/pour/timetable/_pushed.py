"""Places as a solution: what they overstep and cost, without any bound."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from seatwright.pour.timetable._assemble import assemble_timetable
from seatwright.pour.timetable._check import check_timetable
from seatwright.pour.timetable._goals import length_s
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._pools import Pool, options_for, pools_of, roles_of
from seatwright.pour.timetable._problem import Edge, Problem, Window
from seatwright.pour.timetable._repair import repair_places
from seatwright.pour.timetable._shifted import shift_places
from seatwright.pour.timetable._solve import REPLAN_ORDER, UNITS, Solution
from seatwright.pour.timetable._timetable import Goal, Timetable

__all__ = ["better_of", "propose", "pushed_solution"]


def propose(
    problem: Problem, keep: Mapping[str, Keep], *, now: datetime, change_weight_s: int
) -> tuple[dict[str, Keep], Timetable | None]:
    """Return the better of two quick proposals: the old order shifted, and the old order repaired task by task.

    Returns
    -------
    tuple of (dict, Timetable or None)
        The places to search from; the timetable that they make, where it is sound.
    """
    repaired = repair_places(problem, keep)
    sound: list[tuple[tuple[int, ...], dict[str, Keep], Timetable]] = []
    for places in (shift_places(problem, keep), repaired):
        solution = None if places is None else pushed_solution(problem, places)
        if places is None or solution is None:
            continue
        table = assemble_timetable(problem, solution, now=now, keep=keep, change_weight_s=change_weight_s)
        if not check_timetable(problem, table):
            sound.append((_rank(table), places, table))
    if not sound:
        return repaired, None
    _, places, table = min(sound, key=lambda entry: entry[0])
    return places, table


def better_of(found: Timetable, proposed: Timetable | None) -> Timetable:
    """Return what the search found, or the proposal where that is better; the search's bounds hold for both.

    Notes
    -----
    A bound of a later goal was searched with the earlier ones no worse than found; the proposal, better in the first
    goal that differs, lies in that set.
    """
    if proposed is None or _rank(found) <= _rank(proposed):
        return found
    bounds = {goal.name: goal.bound for goal in found.goals}
    goals = tuple(replace(g, bound=min(g.value, bounds.get(g.name, g.bound))) for g in proposed.goals)
    return replace(
        proposed,
        goals=goals,
        proven=all(goal.is_proven for goal in goals),
        bound=min(found.bound, proposed.objective),
        solver_s=found.solver_s,
    )


def _rank(table: Timetable) -> tuple[int, ...]:
    values = {goal.name: goal.value for goal in table.goals}
    return tuple(values.get(name, 0) for name in REPLAN_ORDER if name != "age")


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
    for lag in problem.open_lags():
        first = starts[lag.first] + (lengths[lag.first] if lag.first_at is Edge.END else 0)
        second = starts[lag.second] + (lengths[lag.second] if lag.second_at is Edge.END else 0)
        if lag.max_s is not None and second - first > lag.max_s:
            over[lag.id, lag.first, lag.second] = second - first - lag.max_s
    bands = {w.task: w.bands.index(w.band_at(_age_s(w, starts, lengths))) for w in problem.windows}
    last = max((starts[name] + lengths[name] for name in starts), default=0)
    measured = ("late", "reserve", "error", "change", "makespan")
    goals = (Goal("overstep", "s", sum(over.values()), 0), *(Goal(n, UNITS[n], last, 0) for n in measured))
    return Solution(starts, chosen, bands, over, goals, 0.0)


def _age_s(window: Window, starts_s: Mapping[str, int], lengths_s: Mapping[str, int]) -> int:
    out = window.out_s if window.out_s is not None else starts_s[window.out_task] + lengths_s[window.out_task]
    return starts_s[window.task] + lengths_s[window.task] - out
