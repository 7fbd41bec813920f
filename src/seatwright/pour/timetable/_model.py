"""From data to a constraint model: the only place that writes CP-SAT constraints.

Owns the translation of a `Problem`. Refuses to decide in which order goals count: that is `_solve`'s.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from seatwright.pour._result import Band
from seatwright.pour.timetable._pools import Pool, options_for, pools_of, roles_of
from seatwright.pour.timetable._problem import Edge, Problem, Task, Window
from seatwright.pour.timetable._solver import cp_model

__all__ = ["Keep", "Model", "build_model"]

Linear: TypeAlias = cp_model.LinearExpr | int
Literal: TypeAlias = cp_model.IntVar | int


@dataclass(frozen=True, slots=True)
class Keep:
    """Where a task stood in the timetable before; a new one should leave it there."""

    start_s: int
    who: str = ""
    equipment: tuple[str, ...] = ()


@dataclass(slots=True)
class Model:
    """The CP-SAT model with the handles that reading a solution needs."""

    cp: cp_model.CpModel
    pools: tuple[Pool, ...]
    starts: dict[str, Linear] = field(default_factory=dict)
    chosen: dict[tuple[str, str], list[tuple[Pool, Literal]]] = field(default_factory=dict)
    """(task, role) to its possible pools, each with its literal; 1 where there is no choice."""
    bands: dict[str, list[cp_model.IntVar]] = field(default_factory=dict)
    """Window's task to one literal per age band."""
    oversteps: dict[tuple[str, str, str], Linear] = field(default_factory=dict)
    """(lag, first, second) to the seconds by which its longest time is exceeded; empty while lags are hard."""
    goals: dict[str, Linear] = field(default_factory=dict)
    """Named expressions to minimize."""
    grid_s: int = 1
    """Seconds in one unit of the model's time."""

    def down(self, seconds: int) -> int:
        """Return model time, rounded down: for the latest that something may be."""
        return seconds // self.grid_s

    def up(self, seconds: int) -> int:
        """Return model time, rounded up: for the earliest that something may be, and for lengths."""
        return -(-seconds // self.grid_s)


def build_model(
    problem: Problem,
    *,
    keep: Mapping[str, Keep] | None = None,
    soft_lags: bool = False,
    change_weight_s: int = 0,
    grid_s: int | None = None,
) -> Model:
    """Translate a sound problem into a CP-SAT model.

    Parameters
    ----------
    problem : Problem
        Passed `require_sound`.
    keep : mapping of str to Keep, optional
        The timetable before; adds the goal ``change``.
    soft_lags : bool
        Let maximum lags be overstepped, at the goal ``overstep`` in seconds.
    change_weight_s : int
        What another person or machine counts as, in seconds of shift.
    grid_s : int, optional
        Seconds in one unit of the model's time; the problem's own grid when not given.

    Notes
    -----
    Facts are not argued with: lags that lead to a fact are dropped, and pinned work of one person may overlap,
    since it happened. Times are counted on the grid; every rounding makes the problem stricter, never looser.
    """
    one_by_one = bool(keep) or any(task.pin for task in problem.tasks)
    model = Model(cp_model.CpModel(), pools_of(problem, one_by_one=one_by_one), grid_s=grid_s or problem.grid_s)
    horizon = model.up(problem.horizon_s()) + 2 * len(problem.tasks)  # every task may lose a rounding at either end
    _add_starts(model, problem, horizon)
    _add_lags(model, problem, horizon, soft=soft_lags)
    _add_resources(model, problem)
    for window in problem.windows:
        _add_window(model, problem, window)
    _add_goals(model, problem, horizon)
    if keep:
        _add_change_goal(model, problem, keep, horizon, change_weight_s)
    return model


def _add_starts(model: Model, problem: Problem, horizon: int) -> None:
    for task in problem.tasks:
        if task.pin is not None:
            model.starts[task.id] = model.down(task.pin.start_s)
        else:
            latest = horizon - model.up(task.duration_s)
            model.starts[task.id] = model.cp.new_int_var(model.up(task.not_before_s), latest, task.id)


def _edge(model: Model, task: Task, edge: Edge, *, early: bool = False) -> Linear:
    """Return a task's start or end; a pinned one's rounded so that what follows it is judged strictly."""
    if task.pin is not None:
        moment = task.pin.end_s if edge is Edge.END else task.pin.start_s
        return model.down(moment) if early else model.up(moment)
    return model.starts[task.id] + (model.up(task.duration_s) if edge is Edge.END else 0)


def _add_lags(model: Model, problem: Problem, horizon: int, *, soft: bool) -> None:
    by_id = {task.id: task for task in problem.tasks}
    for lag in problem.open_lags():
        first, second = by_id[lag.first], by_id[lag.second]
        if lag.min_s is not None:
            gap = _edge(model, second, lag.second_at, early=True) - _edge(model, first, lag.first_at)
            model.cp.add(gap >= model.up(lag.min_s))
        if lag.max_s is not None:
            excess: Linear = 0
            if soft:
                excess = model.cp.new_int_var(0, 2 * horizon + abs(model.down(lag.max_s)), f"over {lag.id}")
                model.oversteps[lag.id, lag.first, lag.second] = excess
            gap = _edge(model, second, lag.second_at) - _edge(model, first, lag.first_at, early=True)
            model.cp.add(gap - excess <= model.down(lag.max_s))
    if soft:
        model.goals["overstep"] = sum(model.oversteps.values())


def _add_resources(model: Model, problem: Problem) -> None:
    load: dict[str, list[cp_model.IntervalVar]] = {pool.id: [] for pool in model.pools}
    facts: dict[str, list[tuple[int, int]]] = {pool.id: list(pool.breaks_s) for pool in model.pools}
    for task in problem.tasks:
        if task.pin is not None:
            _note_fact(task, model.pools, facts)
            continue
        for role in roles_of(task):
            options = options_for(task, role, model.pools)
            model.chosen[task.id, role] = _add_options(model, task, options, load)
    for pool in model.pools:
        size = len(pool.members)
        blocked = [
            model.cp.new_fixed_size_interval_var(since, until - since, f"{pool.id} away")
            for since, until in _merged((model.down(since), model.up(until)) for since, until in facts[pool.id])
        ]
        busy = load[pool.id]
        if size == 1:
            model.cp.add_no_overlap(busy + blocked)
        elif len(busy) > size or blocked:
            model.cp.add_cumulative(busy + blocked, [1] * len(busy) + [size] * len(blocked), size)


def _add_options(
    model: Model, task: Task, options: Sequence[Pool], load: Mapping[str, list[cp_model.IntervalVar]]
) -> list[tuple[Pool, Literal]]:
    start = model.starts[task.id]
    if len(options) == 1:
        interval = model.cp.new_fixed_size_interval_var(
            start, model.up(task.duration_s), f"{task.id} on {options[0].id}"
        )
        load[options[0].id].append(interval)
        return [(options[0], 1)]
    chosen: list[tuple[Pool, Literal]] = []
    for pool in options:
        literal = model.cp.new_bool_var(f"{task.id} by {pool.id}")
        load[pool.id].append(
            model.cp.new_optional_fixed_size_interval_var(
                start, model.up(task.duration_s), literal, f"{task.id} on {pool.id}"
            )
        )
        chosen.append((pool, literal))
    model.cp.add_exactly_one([literal for _, literal in chosen])
    return chosen


def _note_fact(task: Task, pools: Iterable[Pool], facts: Mapping[str, list[tuple[int, int]]]) -> None:
    if task.pin is None:
        return
    named = {task.pin.who, *task.pin.equipment}
    for pool in pools:
        if named & set(pool.members):
            facts[pool.id].append((task.pin.start_s, task.pin.end_s))


def _merged(spans: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return overlapping spans as one."""
    merged: list[tuple[int, int]] = []
    for since, until in sorted(spans):
        if merged and since <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], until))
        else:
            merged.append((since, until))
    return merged


def _add_window(model: Model, problem: Problem, window: Window) -> None:
    age = _age(model, problem, window)
    literals = [model.cp.new_bool_var(f"{window.impression} {band.since_s}") for band in window.bands]
    for band, literal in zip(window.bands, literals, strict=True):
        if band.since_s > 0:
            model.cp.add(age >= model.up(band.since_s + 1)).only_enforce_if(literal)
        if band.until_s is not None:
            model.cp.add(age <= model.down(band.until_s)).only_enforce_if(literal)
    model.cp.add_exactly_one(literals)
    model.bands[window.task] = literals
    if window.out_s is None:
        model.goals["age"] = model.goals.get("age", 0) + age


def _age(model: Model, problem: Problem, window: Window) -> Linear:
    pour_end = _edge(model, problem.task(window.task), Edge.END)
    if window.out_s is not None:
        return pour_end - model.down(window.out_s)
    return pour_end - _edge(model, problem.task(window.out_task), Edge.END, early=True)


def _add_goals(model: Model, problem: Problem, horizon: int) -> None:
    beyond = 1 + sum(window.weight for window in problem.windows)
    late: Linear = 0
    error: Linear = 0
    reserve: Linear = 0
    for window in problem.windows:
        known = [band.error_um for band in window.bands if band.error_um is not None]
        unknown_um = 2 * max(known, default=0)  # only orders what no number is known for; lateness has judged it
        for band, literal in zip(window.bands, model.bands[window.task], strict=True):
            cost = {Band.WITHIN: 0, Band.STRETCHED: 1, Band.BEYOND: beyond}[band.band]
            late += window.weight * cost * literal
            error += (band.error_um if band.error_um is not None else unknown_um) * literal
        reserve += _shortfall(model, problem, window, horizon)
    if problem.windows:
        model.goals["late"] = late
        model.goals["reserve"] = reserve
        model.goals["error"] = error
    last = model.cp.new_int_var(0, horizon, "makespan")
    for task in problem.tasks:
        model.cp.add(last >= _edge(model, task, Edge.END))
    model.goals["makespan"] = last


def _shortfall(model: Model, problem: Problem, window: Window, horizon: int) -> Linear:
    window_s = window.window_s()
    if not window.reserve_s or window_s is None:
        return 0
    age = _age(model, problem, window)
    missing = model.cp.new_int_var(0, horizon + abs(model.down(window.out_s or 0)), f"reserve {window.impression}")
    model.cp.add(missing >= age - max(model.down(window_s - window.reserve_s), 0))
    return window.weight * missing


def _add_change_goal(
    model: Model, problem: Problem, keep: Mapping[str, Keep], horizon: int, change_weight_s: int
) -> None:
    change: Linear = 0
    places = {machine.kind for machine in problem.machines if machine.is_place}
    for task_id, before in keep.items():
        start = model.starts.get(task_id)
        if start is None or isinstance(start, int):
            continue
        was = model.down(before.start_s)
        shift = model.cp.new_int_var(0, 2 * horizon + abs(was), f"shift {task_id}")
        model.cp.add(shift >= start - was)
        model.cp.add(shift >= was - start)
        change += shift
        names = {before.who, *before.equipment}
        for (task, role), options in model.chosen.items():
            if task == task_id and role not in places:
                change += model.up(change_weight_s) * sum(lit for pool, lit in options if not names & set(pool.members))
    model.goals["change"] = change
