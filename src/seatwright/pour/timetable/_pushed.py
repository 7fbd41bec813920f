"""Places as a solution: what they overstep and cost, without any bound."""

from collections.abc import Mapping

from seatwright.pour.timetable._goals import length_s
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._pools import Pool, options_for, pools_of, roles_of
from seatwright.pour.timetable._problem import Edge, Problem, Window
from seatwright.pour.timetable._solve import UNITS, Solution
from seatwright.pour.timetable._timetable import Goal

__all__ = ["pushed_solution"]


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
