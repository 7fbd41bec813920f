"""Goals one after the other: each is minimized with all earlier ones kept at what they reached.

Owns the search and its settings. Deterministic: one worker and a fixed seed; only a time limit that cuts the search
short can make two runs differ.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from seatwright.errors import CannotCompute
from seatwright.pour.timetable._grid import grids_of
from seatwright.pour.timetable._model import Keep, Linear, Model, build_model
from seatwright.pour.timetable._pools import Pool
from seatwright.pour.timetable._problem import Problem
from seatwright.pour.timetable._solver import cp_model
from seatwright.pour.timetable._timetable import Goal
from seatwright.progress import SILENT, Progress

__all__ = ["GOAL_ORDER", "N_WORKERS", "REPLAN_ORDER", "SEED", "Solution", "solve_problem"]

GOAL_ORDER = ("overstep", "late", "reserve", "error", "makespan", "age")
REPLAN_ORDER = ("overstep", "late", "reserve", "error", "change", "makespan", "age")
UNITS = {
    "overstep": "s", "late": "points", "reserve": "s", "error": "µm", "makespan": "s", "age": "s", "change": "s",
}  # fmt: skip
SEED = 20260310  # judgement: any fixed number; recorded with the result
N_WORKERS = 1  # judgement: repeatable; two workers were no faster on job shops and bench days
_FROM_BELOW = ("makespan",)
"""Goals whose bound is raised from below, after others: measured, it proves makespans of simultaneous impressions."""
_WINDOWS = ("late", "reserve", "error")
"""Goals settled first, and never worsened for a coarser grid."""
_FIRST_S = 10.0  # judgement: nobody waits longer for a first timetable
_LEAST_S = 0.05  # judgement: a goal gets at least this long, else nothing would be found for it


@dataclass(frozen=True, slots=True)
class Solution:
    """Starts and choices as the solver found them, before names are dealt."""

    starts_s: dict[str, int]
    chosen: dict[tuple[str, str], Pool]
    bands: dict[str, int]
    """Window's task to the index of its age band."""
    oversteps_s: dict[tuple[str, str, str], int]
    goals: tuple[Goal, ...]
    solver_s: float


def solve_problem(
    problem: Problem,
    *,
    limit_s: float,
    keep: Mapping[str, Keep] | None = None,
    change_weight_s: int = 0,
    hint: Mapping[str, Keep] | None = None,
    goals: tuple[str, ...] | None = None,
    may_overstep: bool = True,
    progress: Progress = SILENT,
) -> Solution:
    """Solve a sound problem; where maximum lags cannot all be kept, overstep them as little as possible.

    Parameters
    ----------
    problem : Problem
    limit_s : float
        Wall time for all goals together, > 0.
    keep, change_weight_s
        See `build_model`; with `keep` the goal ``change`` stands before ``makespan``.
    hint : mapping of str to Keep, optional
        Starts and names to try first.
    goals : tuple of str, optional
        Only these goals.
    may_overstep : bool
        Whether longest times may be overstepped when they cannot all be kept.
    progress : Progress

    Raises
    ------
    CannotCompute
        No timetable was found within the limit; or none exists around what is pinned (then `details` says ``pinned``).
    """
    order = goals or (REPLAN_ORDER if keep else GOAL_ORDER)
    make = partial(build_model, problem, keep=keep, change_weight_s=change_weight_s)
    search, found = _begin([make(grid_s=grid_s) for grid_s in grids_of(problem)], order, limit_s, hint, keep)
    if found != cp_model.INFEASIBLE:
        found = search.run([name for name in order if name not in _WINDOWS], progress)
    if found == cp_model.INFEASIBLE and may_overstep:
        search = _Search(make(soft_lags=True), limit_s, search.used_s, is_patient=not keep)
        search.hint_places(hint or {})
        found = search.run(("overstep", *(g for g in order if g != "overstep")), progress)
    if found == cp_model.INFEASIBLE:
        raise CannotCompute(
            "no timetable exists: the pinned steps leave no room",
            hint="check the log for steps that cannot be true",
            details={"pinned": True},
        )
    return search.solution()


def _begin(
    models: Sequence[Model],
    order: Sequence[str],
    limit_s: float,
    hint: Mapping[str, Keep] | None,
    keep: Mapping[str, Keep] | None,
) -> tuple["_Search", cp_model.CpSolverStatus]:
    """Settle the windows on each grid; return the first search that no later one betters, and what it found."""
    windows = [name for name in order if name in _WINDOWS]
    best: tuple[tuple[float, ...], _Search, cp_model.CpSolverStatus] | None = None
    used_s = 0.0
    for model in models:
        search = _Search(model, limit_s, used_s, is_patient=not keep)
        search.hint_places(hint or {})
        found = search.run(windows, SILENT, is_all=False)
        used_s = search.used_s
        cost = tuple(goal.value for goal in search.goals) if found != cp_model.INFEASIBLE else (math.inf,)
        if best is None or cost < best[0]:
            best = cost, search, found
    if best is None:
        raise ValueError("no model to search")
    best[1].used_s = used_s
    return best[1:]


class _Search:
    """One model, solved for one goal after the other."""

    def __init__(self, model: Model, limit_s: float, used_s: float = 0.0, *, is_patient: bool = True) -> None:
        self.model = model
        self.is_patient = is_patient
        self.limit_s = limit_s
        self.used_s = used_s
        self.goals: list[Goal] = []
        self.solver = cp_model.CpSolver()
        self.found: Solution | None = None

    def hint(self, starts_s: Mapping[str, int]) -> None:
        for task, start_s in starts_s.items():
            start = self.model.starts.get(task)
            if isinstance(start, cp_model.IntVar):
                self.model.cp.add_hint(start, self.model.up(start_s))

    def hint_places(self, places: Mapping[str, Keep]) -> None:
        """Suggest starts, and the pools that hold the names."""
        self.hint({task: place.start_s for task, place in places.items()})
        for (task, _), options in self.model.chosen.items():
            names = {places[task].who, *places[task].equipment} if task in places else set()
            if not any(names & set(pool.members) for pool, _ in options):
                continue
            for pool, literal in options:
                if not isinstance(literal, int):
                    self.model.cp.add_hint(literal, bool(names & set(pool.members)))

    def run(self, order: Sequence[str], progress: Progress, *, is_all: bool = True) -> cp_model.CpSolverStatus:
        """Minimize each goal in turn; return INFEASIBLE or OPTIMAL (found, whether proven or not).

        With `is_all` the last goal gets all the time that is left.
        """
        active = [name for name in order if name in self.model.goals]
        for index, name in enumerate(active):
            progress.report(index / len(active), f"timetable: {name}")
            expression = self.model.goals[name]
            if isinstance(expression, int):
                self.goals.append(self._goal(name, expression, expression))
                continue
            status = self._minimize(name, expression, last=is_all and index == len(active) - 1)
            if status == cp_model.INFEASIBLE:
                return status
        progress.report(1.0, "timetable: done")
        return cp_model.OPTIMAL

    def _minimize(self, name: str, expression: Linear, *, last: bool) -> cp_model.CpSolverStatus:
        cp = self.model.cp
        cp.minimize(expression)
        self._set_parameters(name, last=last)
        status = self.solver.solve(cp)
        self.used_s += self.solver.wall_time
        if status == cp_model.UNKNOWN and self.found is None and self.is_patient:
            status = self._find_any()
        if status == cp_model.INFEASIBLE:
            return status
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            if self.found is None:
                raise CannotCompute(
                    f"no timetable was found within {self.used_s:.0f} s",
                    hint="allow more time, or plan fewer cases at once",
                )
            self.goals.append(self._goal(name, self.last_values[name], self._bound()))
            return cp_model.OPTIMAL
        value = int(self.solver.value(expression))
        self.goals.append(self._goal(name, value, self._bound()))
        self._read()
        cp.clear_hints()
        self.hint(self.found.starts_s if self.found else {})
        self._hint_choices()
        cp.add(expression == value if status == cp_model.OPTIMAL else expression <= value)
        return cp_model.OPTIMAL

    def _find_any(self) -> cp_model.CpSolverStatus:
        """Look longer than the limit for a first timetable: on a busy machine a late answer is better than none."""
        parameters = self.solver.parameters
        parameters.max_time_in_seconds = max(_FIRST_S, self.limit_s)
        parameters.stop_after_first_solution = True
        status = self.solver.solve(self.model.cp)
        parameters.stop_after_first_solution = False
        self.used_s += self.solver.wall_time
        return status

    def _bound(self) -> int:
        return math.ceil(float(self.solver.best_objective_bound) - 1e-6)

    def _goal(self, name: str, value: int, bound: int) -> Goal:
        unit_s = self.model.grid_s if UNITS[name] == "s" else 1
        return Goal(name, UNITS[name], value * unit_s, min(bound, value) * unit_s)

    def _set_parameters(self, name: str, *, last: bool) -> None:
        left_s = max(self.limit_s - self.used_s, _LEAST_S)
        parameters = self.solver.parameters
        parameters.max_time_in_seconds = left_s if last else max(left_s * 0.7, _LEAST_S)
        parameters.random_seed = SEED
        parameters.num_workers = N_WORKERS
        parameters.catch_sigint_signal = False  # the solver would leave Ctrl-C without a handler afterwards
        parameters.use_objective_lb_search = name in _FROM_BELOW and bool(self.goals)
        parameters.linearization_level = 0  # the relaxation says little where people are the bottleneck
        parameters.use_timetable_edge_finding_in_cumulative = True
        parameters.use_overload_checker_in_cumulative = True
        parameters.use_strong_propagation_in_disjunctive = True
        if not self.is_patient:  # a new timetable is wanted within a second: search at once
            parameters.symmetry_level = 0
            parameters.cp_model_probing_level = 0

    def _hint_choices(self) -> None:
        for options in self.model.chosen.values():
            for _, literal in options:
                if not isinstance(literal, int):
                    self.model.cp.add_hint(literal, self.solver.boolean_value(literal))
        for literals in self.model.bands.values():
            for literal in literals:
                self.model.cp.add_hint(literal, self.solver.boolean_value(literal))

    def _read(self) -> None:
        value, grid = self.solver.value, self.model.grid_s
        self.last_values = {name: int(value(goal)) for name, goal in self.model.goals.items()}
        self.found = Solution(
            starts_s={task: int(value(start)) * grid for task, start in self.model.starts.items()},
            chosen={
                key: next(pool for pool, literal in options if self.solver.boolean_value(literal))
                for key, options in self.model.chosen.items()
            },
            bands={
                task: next(i for i, literal in enumerate(literals) if self.solver.boolean_value(literal))
                for task, literals in self.model.bands.items()
            },
            oversteps_s={key: int(value(over)) * grid for key, over in self.model.oversteps.items() if value(over) > 0},
            goals=(),
            solver_s=0.0,
        )

    def solution(self) -> Solution:
        """Return the last solution with its goals."""
        if self.found is None:
            raise CannotCompute("there is nothing to plan", hint="every step is done")
        return Solution(
            self.found.starts_s,
            self.found.chosen,
            self.found.bands,
            self.found.oversteps_s,
            tuple(self.goals),
            self.used_s,
        )
