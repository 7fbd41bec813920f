"""How coarse a search may count time.

Owns which grids are worth a look: with fewer moments to rule out, a timetable is proven sooner.
"""

from collections.abc import Iterator

from seatwright.pour.timetable._problem import Problem

__all__ = ["grids_of"]


def grids_of(problem: Problem) -> tuple[int, ...]:
    """Return the grids, in seconds, on which a problem may be solved, the coarsest first.

    The coarse one where every length, lag, break and planned pin is a multiple of it: moving every start up to the grid
    then keeps every rule and delays nothing by as much as one step. A window may be lost by that step, so the finer
    grid is looked at as well.
    """
    coarse_s = problem.coarse_grid_s
    if coarse_s > problem.grid_s and all(span_s % coarse_s == 0 for span_s in _spans_s(problem)):
        return coarse_s, problem.grid_s
    return (problem.grid_s,)


def _spans_s(problem: Problem) -> Iterator[int]:
    for task in problem.tasks:
        if task.pin is None:
            yield task.duration_s
        elif not task.pin.is_fact:
            yield task.pin.start_s
    for lag in problem.open_lags():
        yield from (limit for limit in (lag.min_s, lag.max_s) if limit is not None)
    for worker in problem.workers:
        yield from (moment for span in worker.breaks_s for moment in span)
