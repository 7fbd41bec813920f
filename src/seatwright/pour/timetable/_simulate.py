"""Chance that a window or a longest time is missed when work takes as long as it takes.

Owns the law of durations and the replay of a timetable's order with drawn durations. Refuses to plan.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from seatwright.case import Duration
from seatwright.pour.timetable._problem import Edge, Lag, Problem, Task
from seatwright.pour.timetable._timetable import Miss, Timetable

__all__ = ["Replay", "draw_durations", "replay_runs", "simulate_misses"]

Runs = NDArray[np.float64]

_SHAPE = 4.0  # definition: weight of the typical value in the beta law of PERT
_SHARED = 0.3  # judgement: correlation of two steps' pace on one day; a slow day slows everything
_GRID = 257  # judgement: nodes of the tabulated quantile, error below 0.1 s
_TIE_S = 0.5  # judgement: half a second is no delay


@dataclass(frozen=True, slots=True, eq=False)
class Replay:
    """Starts and ends in every run, seconds, each (n_runs,)."""

    starts_s: dict[str, Runs]
    ends_s: dict[str, Runs]


def draw_durations(spread: Duration, z: Runs) -> Runs:
    """Return durations in seconds for standard normal scores, by the beta law of PERT.

    Parameters
    ----------
    spread : Duration
        Low, typical, high minutes.
    z : ndarray of shape (n_runs,)

    References
    ----------
    .. [1] Malcolm, Roseboom, Clark, Fazar, Application of a technique for research and development program evaluation,
       Operations Research 7, 646 (1959): mean (a + 4 m + b)/6 (from memory).

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> float(np.round(draw_durations(Duration(1, 2, 6), rng.standard_normal(200_000)).mean() / 60, 1))
    2.5
    """
    low, typical, high = spread.low_min * 60, spread.typical_min * 60, spread.high_min * 60
    if high - low < 1e-9:
        return np.full(z.shape, typical)
    alpha = 1 + _SHAPE * (typical - low) / (high - low)
    beta = 1 + _SHAPE * (high - typical) / (high - low)
    nodes = np.linspace(0.0, 1.0, _GRID)
    quantiles = low + (high - low) * scipy.stats.beta.ppf(nodes, alpha, beta)
    drawn: Runs = np.interp(scipy.stats.norm.cdf(z), nodes, quantiles)
    return drawn


def replay_runs(problem: Problem, timetable: Timetable, *, rng: np.random.Generator, n_runs: int) -> Replay:
    """Carry out the timetable's order of work `n_runs` times with drawn durations.

    Notes
    -----
    Everybody keeps the order of the timetable and starts as soon as what must be before is done; nobody starts a step
    with a longest time behind it (a mix) before everything else that its follower needs is nearly done, as people at a
    bench do. Impressions are taken, and breaks begin, as planned; work that a break would cut waits for its end.
    """
    order = _order(problem, timetable)
    shared = rng.standard_normal(n_runs)
    lengths = {task.id: _length(task, shared, rng) for task in order}
    waits_for = _waits_for(problem, timetable, order)
    breaks = {worker.id: worker.breaks_s for worker in problem.workers}
    who = {row.id: row.who for row in timetable.tasks}
    planned = {row.id: float(problem.offset_s(row.start)) for row in timetable.tasks}
    replay = Replay({}, {})
    for task in order:
        if task.pin is not None:
            start: Runs = np.full(n_runs, float(task.pin.start_s))
            start_floor = start
        else:
            start_floor = np.full(n_runs, planned[task.id] if task.steps == ("take",) else float(task.not_before_s))
            start = start_floor
        for first, at, gap_s, to in waits_for[task.id] if task.pin is None else ():
            reached = replay.starts_s[first] if at is Edge.START else replay.ends_s[first]
            due = reached + gap_s - (lengths[task.id] if to is Edge.END else 0.0)
            start = np.maximum(start, due)
        if task.pin is None:
            start = _after_breaks(start, lengths[task.id], breaks.get(who[task.id], ()))
        replay.starts_s[task.id] = start
        replay.ends_s[task.id] = start + lengths[task.id]
    return replay


def _length(task: Task, shared: Runs, rng: np.random.Generator) -> Runs:
    own = rng.standard_normal(shared.shape)
    if task.pin is not None:
        return np.full(shared.shape, float(task.pin.end_s - task.pin.start_s))
    if task.spread is None:
        return np.full(shared.shape, float(task.duration_s))
    return draw_durations(task.spread, math.sqrt(_SHARED) * shared + math.sqrt(1 - _SHARED) * own)


def _after_breaks(start: Runs, length: Runs, breaks_s: Sequence[tuple[int, int]]) -> Runs:
    """Put off what has not begun when a break begins; a step that runs long is finished first."""
    for since, until in breaks_s:
        start = np.where((start > since - 0.5 * length) & (start < until), float(until), start)
    return start


def _order(problem: Problem, timetable: Timetable) -> list[Task]:
    """Return the tasks by planned start; before a tie, what ends first."""
    planned = {row.id: (row.start, row.end) for row in timetable.tasks}
    return sorted(problem.tasks, key=lambda task: (*planned[task.id], task.id))


def _waits_for(
    problem: Problem, timetable: Timetable, order: Sequence[Task]
) -> dict[str, list[tuple[str, Edge, float, Edge]]]:
    """Return what each task waits for: (earlier task, its edge, gap, own edge)."""
    rank = {task.id: index for index, task in enumerate(order)}
    waits: dict[str, list[tuple[str, Edge, float, Edge]]] = {task.id: [] for task in order}
    for lag in problem.lags:
        if lag.min_s is not None and rank[lag.first] < rank[lag.second]:
            waits[lag.second].append((lag.first, lag.first_at, float(lag.min_s), lag.second_at))
    last: dict[str, str] = {}
    rows = {row.id: row for row in timetable.tasks}
    for task in order:
        for name in filter(None, (rows[task.id].who, *rows[task.id].equipment)):
            if name in last:
                waits[task.id].append((last[name], Edge.END, 0.0, Edge.START))
            last[name] = task.id
    for lag in problem.lags:
        if lag.max_s is not None and rank[lag.first] < rank[lag.second]:
            ready_s = float(problem.task(lag.first).duration_s)
            for before, at, gap_s, _ in tuple(waits[lag.second]):
                if before != lag.first and rank[before] < rank[lag.first]:
                    slack = ready_s if lag.first_at is Edge.START else float(lag.max_s) + ready_s
                    waits[lag.first].append((before, at, gap_s - slack, Edge.START))
    return waits


def simulate_misses(
    problem: Problem, timetable: Timetable, *, rng: np.random.Generator, n_runs: int
) -> tuple[Miss, ...]:
    """Return the chance of missing each window, and each longest time that is ever missed.

    Parameters
    ----------
    problem, timetable
        A timetable of this problem.
    rng : numpy.random.Generator
    n_runs : int
        > 0; the standard uncertainty of a chance p is sqrt(p (1 - p)/n_runs), at least 1/n_runs.
    """
    replay = replay_runs(problem, timetable, rng=rng, n_runs=n_runs)
    misses = []
    for window in problem.windows:
        limit = window.window_s()
        if limit is None or problem.task(window.task).pin is not None:
            continue
        out = replay.ends_s[window.out_task] if window.out_s is None else float(window.out_s)
        late = replay.ends_s[window.task] - out > limit + _TIE_S
        name = f"{window.case}/{window.impression}"
        misses.append(_miss(name, "window", late, window.reserve_s))
    for lag in problem.lags:
        if lag.max_s is None or problem.task(lag.second).pin is not None:
            continue
        missed = _gap(replay, lag) > lag.max_s + _TIE_S
        if missed.any():
            misses.append(_miss(f"{lag.id}: {lag.first} to {lag.second}", "lag", missed, 0))
    return tuple(misses)


def _gap(replay: Replay, lag: Lag) -> Runs:
    ends = replay.ends_s if lag.second_at is Edge.END else replay.starts_s
    begins = replay.ends_s if lag.first_at is Edge.END else replay.starts_s
    return ends[lag.second] - begins[lag.first]


def _miss(what: str, kind: str, missed: NDArray[np.bool_], reserve_s: int) -> Miss:
    n_runs = len(missed)
    chance = float(missed.mean())
    u_chance = max(math.sqrt(chance * (1 - chance) / n_runs), 1 / n_runs)
    return Miss(what, kind, chance, u_chance, reserve_s / 60, n_runs)
