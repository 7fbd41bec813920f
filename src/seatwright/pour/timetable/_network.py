"""Minimum and maximum lags as a network of differences: least starts, and the knot when there is none.

Owns longest paths over start times. Refuses to know people and equipment: their order comes in as extra lags.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from seatwright.pour.timetable._problem import Edge, Lag, Problem

__all__ = ["Arc", "Knot", "find_knot", "lag_arcs", "least_starts"]


@dataclass(frozen=True, slots=True)
class Arc:
    """start(second) >= start(first) + gap_s; `why` names the rule."""

    first: str
    second: str
    gap_s: int
    why: str


@dataclass(frozen=True, slots=True)
class Knot:
    """Arcs that run in a circle and ask for more time than there is."""

    arcs: tuple[Arc, ...]
    excess_s: int


def lag_arcs(lag: Lag, durations_s: Mapping[str, int]) -> tuple[Arc, ...]:
    """Return a lag as one or two arcs between starts.

    Examples
    --------
    >>> [arc.gap_s for arc in lag_arcs(Lag("pour-in-time", "mix", "pour", max_s=300), {"mix": 60, "pour": 120})]
    [60, -360]
    """
    shift = (durations_s[lag.first] if lag.first_at is Edge.END else 0) - (
        durations_s[lag.second] if lag.second_at is Edge.END else 0
    )
    arcs = []
    if lag.min_s is not None:
        arcs.append(Arc(lag.first, lag.second, lag.min_s + shift, lag.id))
    if lag.max_s is not None:
        arcs.append(Arc(lag.second, lag.first, -(lag.max_s + shift), lag.id))
    return tuple(arcs)


def least_starts(
    tasks: Sequence[str], arcs: Sequence[Arc], lower_s: Mapping[str, int]
) -> tuple[dict[str, int], Knot | None]:
    """Return the componentwise least starts that satisfy every arc, or the knot that forbids any.

    Parameters
    ----------
    tasks : sequence of str
    arcs : sequence of Arc
    lower_s : mapping of str to int
        Earliest start of each task; 0 where absent.

    Returns
    -------
    tuple of (dict, Knot or None)
        With a knot the dict is empty.

    Notes
    -----
    Longest paths by Bellman-Ford: after n rounds without rest there is a circle of positive length. The set of starts
    that satisfies differences and lower bounds is closed under the componentwise minimum, so the least start is unique.

    References
    ----------
    .. [1] Cormen, Leiserson, Rivest, Stein, Introduction to Algorithms, 3rd ed., 24.4 (difference constraints).

    Examples
    --------
    >>> least_starts(["a", "b"], [Arc("a", "b", 60, "order")], {"a": 5})
    ({'a': 5, 'b': 65}, None)
    """
    starts = {task: lower_s.get(task, 0) for task in tasks}
    came_by: dict[str, Arc] = {}
    for _ in range(len(tasks) + 1):
        moved = ""
        for arc in arcs:
            due = starts[arc.first] + arc.gap_s
            if due > starts[arc.second]:
                starts[arc.second] = due
                came_by[arc.second] = arc
                moved = arc.second
        if not moved:
            return starts, None
    return {}, _walk_back(moved, came_by, len(tasks))


def _walk_back(task: str, came_by: Mapping[str, Arc], n_tasks: int) -> Knot:
    for _ in range(n_tasks):  # after so many steps back we stand inside the circle
        task = came_by[task].first
    circle: list[Arc] = []
    at = task
    while not circle or at != task:
        arc = came_by[at]
        circle.append(arc)
        at = arc.first
    arcs = tuple(reversed(circle))
    return Knot(arcs, sum(arc.gap_s for arc in arcs))


def find_knot(problem: Problem) -> Knot | None:
    """Return a circle of lags that no timetable can satisfy, or None.

    Minimum lags alone make a plain cycle of precedence; with maximum lags two rules contradict each other.
    """
    durations_s = {task.id: task.duration_s for task in problem.tasks}
    arcs = [arc for lag in problem.lags for arc in lag_arcs(lag, durations_s)]
    return least_starts(list(durations_s), arcs, {})[1]
