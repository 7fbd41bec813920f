"""From the solver's starts and choices to a timetable: names dealt, all as early as the order allows.

Owns what happens after the search. The order of work is kept, so nothing the solver proved gets worse.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from seatwright.pour.timetable._goals import Assignment, late_pours, length_s, measure_goals
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._network import Arc, lag_arcs, least_starts
from seatwright.pour.timetable._pools import WHO, Pool, deal_names
from seatwright.pour.timetable._problem import Problem, Task
from seatwright.pour.timetable._solve import N_WORKERS, SEED, Solution
from seatwright.pour.timetable._timetable import Goal, Overstep, Placed, Timetable

__all__ = ["assemble_timetable", "retell", "sequence_arcs"]

SCALAR_GOALS = ("overstep", "late", "error", "makespan")
"""What `Timetable.objective` folds into one number."""


def assemble_timetable(
    problem: Problem,
    solution: Solution,
    *,
    now: datetime,
    keep: Mapping[str, Keep] | None = None,
    change_weight_s: int = 0,
) -> Timetable:
    """Deal names, pull everything forward within its order, and write the timetable.

    Parameters
    ----------
    problem : Problem
    solution : Solution
    now : datetime
    keep : mapping of str to Keep, optional
        The timetable before: nothing is pulled before its old start without need; change is measured against it.
    change_weight_s : int
        See `build_model`.
    """
    dealt = _deal(problem, solution)
    starts = _pull_forward(problem, solution, dealt, {name: place.start_s for name, place in (keep or {}).items()})
    measured = measure_goals(problem, Assignment(starts, dealt.who, dealt.equipment), keep or {}, change_weight_s)
    goals = tuple(_reread(goal, measured) for goal in solution.goals)
    objective, bound = _scalar(problem, goals)
    placed = sorted((_place(problem, task, starts, dealt) for task in problem.tasks), key=lambda p: (p.start, p.id))
    return Timetable(
        now=now,
        tasks=tuple(placed),
        waits=(),
        goals=goals,
        late=late_pours(problem, starts),
        oversteps=_oversteps(problem, solution),
        proven=all(goal.is_proven for goal in goals),
        objective=objective,
        bound=bound,
        seed=SEED,
        n_workers=N_WORKERS,
        solver_s=solution.solver_s,
    )


def retell(problem: Problem, timetable: Timetable) -> Timetable:
    """Return a timetable whose rows were edited with its makespan read off again; what it calls late stands."""
    last = max((problem.offset_s(row.end) for row in timetable.tasks), default=0)
    goals = tuple(replace(goal, value=last) if goal.name == "makespan" else goal for goal in timetable.goals)
    return replace(timetable, goals=goals)


def _deal(problem: Problem, solution: Solution) -> Assignment:
    by_pool: dict[Pool, dict[str, tuple[int, int]]] = {}
    for (task_id, _), pool in solution.chosen.items():
        start = solution.starts_s[task_id]
        by_pool.setdefault(pool, {})[task_id] = (start, start + problem.task(task_id).duration_s)
    wished = _wishes(problem, solution.starts_s)
    who: dict[str, str] = {}
    named: dict[tuple[str, str], str] = {}
    for pool, spans in by_pool.items():
        for task_id, name in deal_names(pool, spans, wished).items():
            if pool.role == WHO:
                who[task_id] = name
            else:
                named[task_id, pool.role] = name
    equipment = {
        task.id: task.pin.equipment if task.pin else tuple(named[task.id, role] for role in task.needs)
        for task in problem.tasks
    }
    who.update({task.id: task.pin.who for task in problem.tasks if task.pin})
    return Assignment(solution.starts_s, who, equipment)


def _wishes(problem: Problem, starts_s: Mapping[str, int]) -> dict[str, str]:
    """Return for each task the one with hands before it on the same impression: the same person goes on where free."""
    wishes: dict[str, str] = {}
    last: dict[tuple[str, str], str] = {}
    for task in sorted(problem.tasks, key=lambda t: (starts_s[t.id], t.id)):
        key = (task.case, task.impression)
        if task.skill and task.impression:
            if key in last:
                wishes[task.id] = last[key]
            last[key] = task.id
    return wishes


def sequence_arcs(problem: Problem, assignment: Assignment) -> list[Arc]:
    """Return who follows whom on each person and each thing, as arcs between starts; facts are not ordered.

    Neighbors are enough, since lengths are positive; facts may overlap, so each of them counts for all that follow.
    """
    rows: dict[str, list[Task]] = {}
    for task in problem.tasks:
        names = [assignment.who.get(task.id, ""), *assignment.equipment[task.id]]
        for name in filter(None, names):
            rows.setdefault(name, []).append(task)
    arcs: list[Arc] = []
    for name, row in rows.items():
        row.sort(key=lambda t: (assignment.starts_s[t.id], t.id))
        why = f"{name} does one thing at a time"
        facts: list[Task] = []
        last: Task | None = None
        for task in row:
            if task.pin is None:
                arcs += [Arc(fact.id, task.id, length_s(fact), why) for fact in facts]
            if last is not None:
                arcs.append(Arc(last.id, task.id, length_s(last), why))
            if task.pin is None:
                last = task
            else:
                facts.append(task)
    return arcs


def _pull_forward(
    problem: Problem, solution: Solution, dealt: Assignment, floor_s: Mapping[str, int]
) -> Mapping[str, int]:
    """Return the least starts in the solver's order, its age bands and its side of every break."""
    durations = {task.id: length_s(task) for task in problem.tasks}
    arcs = sequence_arcs(problem, dealt)
    for lag in problem.open_lags():
        over = solution.oversteps_s.get((lag.id, lag.first, lag.second), 0)
        eased = replace(lag, max_s=None if lag.max_s is None else lag.max_s + over)
        arcs.extend(lag_arcs(eased, durations))
    lower = {task.id: task.pin.start_s if task.pin else task.not_before_s for task in problem.tasks}
    breaks = {worker.id: worker.breaks_s for worker in problem.workers}
    for task in problem.tasks:
        start = solution.starts_s[task.id]
        if task.pin:
            continue
        if task.id in floor_s:
            lower[task.id] = max(lower[task.id], min(floor_s[task.id], start))
        for _, until in breaks.get(dealt.who.get(task.id, ""), ()):
            if start >= until:
                lower[task.id] = max(lower[task.id], until)
    arcs += _keep_bands(problem, solution, durations, lower)
    starts, knot = least_starts(list(durations), arcs, lower)
    return solution.starts_s if knot else starts


def _keep_bands(problem: Problem, solution: Solution, durations: Mapping[str, int], lower: dict[str, int]) -> list[Arc]:
    """Keep each impression in the age band that the solver chose: a later floor in `lower`, or an arc to its taking."""
    arcs = []
    for window in problem.windows:
        band = window.bands[solution.bands[window.task]]
        least = band.since_s + 1 if band.since_s else 0
        if window.out_s is None:
            age = solution.starts_s[window.task] - solution.starts_s[window.out_task]
            arcs.append(Arc(window.task, window.out_task, -age, "impression's age"))
        elif problem.task(window.task).pin is None:
            lower[window.task] = max(lower[window.task], window.out_s + least - durations[window.task])
    return arcs


def _reread(goal: Goal, measured: Mapping[str, int]) -> Goal:
    """Take a goal's value from the timetable itself: pulling forward may have bettered it."""
    value = measured.get(goal.name, goal.value)
    return replace(goal, value=value, bound=min(value, goal.bound))


def _scalar(problem: Problem, goals: Sequence[Goal]) -> tuple[int, int]:
    """Return value and bound of the plan as one number; each weight exceeds all that later goals can add up to."""
    beyond = 1 + sum(window.weight for window in problem.windows)
    worst_um = sum(2 * max((b.error_um or 0 for b in window.bands), default=0) for window in problem.windows)
    most = {
        "makespan": problem.horizon_s(),
        "error": worst_um,
        "late": beyond * beyond,
        "overstep": 0,
    }
    weight, objective, bound = 1, 0, 0
    for name in reversed(SCALAR_GOALS):
        for goal in goals:
            if goal.name == name:
                objective += weight * goal.value
                bound += weight * goal.bound
        weight *= most[name] + 1
    return objective, bound


def _place(problem: Problem, task: Task, starts_s: Mapping[str, int], dealt: Assignment) -> Placed:
    places = {machine.id for machine in problem.machines if machine.is_place}
    return Placed(
        id=task.id,
        case=task.case,
        impression=task.impression,
        what=task.what,
        who=dealt.who.get(task.id, ""),
        equipment=tuple(name for name in dealt.equipment[task.id] if name not in places),
        start=problem.at(starts_s[task.id]),
        end=problem.at(starts_s[task.id] + length_s(task)),
        units=task.units,
        steps=task.steps,
        is_fixed=task.pin is not None,
    )


def _oversteps(problem: Problem, solution: Solution) -> tuple[Overstep, ...]:
    found = []
    for lag in problem.lags:
        over = solution.oversteps_s.get((lag.id, lag.first, lag.second), 0)
        if over:
            found.append(Overstep(lag.id, lag.first, lag.second, over / 60, lag.why))
    return tuple(found)
