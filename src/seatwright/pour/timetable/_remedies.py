"""What would make everything fit: more hands, one more light, another order of taking, and what the caller adds.

Owns trying changes on the problem, one at a time, for the number of late pours alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from seatwright.errors import CannotCompute
from seatwright.pour._result import Band
from seatwright.pour.timetable._problem import Machine, Problem, Window, Worker
from seatwright.pour.timetable._solve import Solution, solve_problem
from seatwright.pour.timetable._timetable import Remedy, Timetable
from seatwright.progress import SILENT, Progress

__all__ = ["Change", "changes_of", "count_hands", "find_remedies", "is_planned", "with_more_hands"]

_MOST_HANDS = 4  # judgement: more extra pairs of hands are not to be had on a day
_EACH_S = 1.0  # judgement: time to try one change


@dataclass(frozen=True, slots=True)
class Change:
    """A change to try: what it is, and the problem with it."""

    change: str
    problem: Problem


def with_more_hands(problem: Problem, n_more: int) -> Problem:
    """Return the problem with more people who can do everything and take no break."""
    skills = frozenset(task.skill for task in problem.tasks if task.skill)
    extra = tuple(Worker(f"extra-{i + 1}", skills) for i in range(n_more))
    return replace(problem, workers=problem.workers + extra)


def find_remedies(
    problem: Problem,
    timetable: Timetable,
    *,
    alternatives: Mapping[str, Problem] | None = None,
    limit_s: float = 10.0,
    progress: Progress = SILENT,
) -> tuple[Remedy, ...]:
    """Try changes until the time is up; empty when nothing is late.

    Parameters
    ----------
    problem, timetable
    alternatives : mapping of str to Problem, optional
        Other changes by name: a better storage, a more stable material, fewer resin dies at once.
    limit_s : float
        For all of them together.

    Returns
    -------
    tuple of Remedy
        Hands first: the fewest that suffice, or the most that were tried; `helps` when fewer or none are late.
    """
    if not timetable.late:
        return ()
    base = sum(late.band is Band.BEYOND for late in timetable.late), len(timetable.late)
    search = _Search(base, limit_s, progress)
    is_open = any(late.window_end > timetable.now for late in timetable.late)
    others = changes_of(problem, alternatives) if is_open else []
    hands: list[Remedy] = []
    for n_more in range(1, _MOST_HANDS + 1) if is_open else ():
        hands = [search.attempt(Change(_hands(n_more), with_more_hands(problem, n_more)))]
        if hands[0].n_late == 0 or search.used_s > limit_s / 2:
            break
    found = [*hands, *(search.attempt(c) for c in (*others, *_without_late(problem, timetable)) if search.has_time)]
    if is_open and not any(remedy.n_late == 0 and remedy.change != _given_up(problem, timetable) for remedy in found):
        found += _together(search, alternatives or {})
    return tuple(found)


def changes_of(problem: Problem, alternatives: Mapping[str, Problem] | None) -> list[Change]:
    """Return the single changes that can be tried but for more hands: equipment, a longer visit, the caller's own."""
    mine = [*_more_equipment(problem), *_longer_visit(problem)]
    return [*mine, *(Change(change, other) for change, other in (alternatives or {}).items())]


@dataclass(slots=True)
class _Search:
    """Tries changes for the number of late pours, and minds the time."""

    base: tuple[int, int]
    limit_s: float
    progress: Progress
    used_s: float = 0.0

    @property
    def has_time(self) -> bool:
        return self.used_s <= self.limit_s

    def attempt(self, change: Change) -> Remedy:
        remedy, seconds = _attempt(change, self.base, self.progress)
        self.used_s += seconds
        return remedy


def _together(search: _Search, alternatives: Mapping[str, Problem]) -> list[Remedy]:
    """Return the first that suffices of more hands together with another change; empty when none does."""
    for n_more in range(1, _MOST_HANDS + 1):
        for change, other in alternatives.items():
            if not search.has_time:
                return []
            words = f"{_hands(n_more)}, and {change}"
            remedy = search.attempt(Change(words, with_more_hands(other, n_more)))
            if remedy.n_late == 0:
                return [remedy]
    return []


def count_hands(problem: Problem) -> int | None:
    """Return the fewest pairs of hands, each able to do everything and without a break, with which no pour is late."""
    nobody = replace(problem, workers=())
    for n_hands in range(1, len(problem.workers) + _MOST_HANDS + 1):
        remedy, _ = _attempt(Change("", with_more_hands(nobody, n_hands)), (0, 0), SILENT)
        if remedy.n_late == 0:
            return n_hands
    return None


def _hands(n_more: int) -> str:
    return "one more pair of hands" if n_more == 1 else f"{n_more} more pairs of hands"


def _attempt(attempt: Change, base: tuple[int, int], progress: Progress) -> tuple[Remedy, float]:
    try:
        solution = solve_problem(attempt.problem, limit_s=_EACH_S, goals=("late",), progress=progress)
    except CannotCompute as error:
        return Remedy(attempt.change, -1, is_proven=False, helps=False, detail=error.message), _EACH_S
    bands = _bands(attempt.problem, solution)
    reached = (sum(b is Band.BEYOND for b in bands), sum(b is not Band.WITHIN for b in bands))
    goal = next((g for g in solution.goals if g.name == "late"), None)
    proven = goal is None or goal.is_proven
    detail = "all in time" if reached[1] == 0 else f"{reached[1]} late, {reached[0]} of them beyond use"
    return Remedy(attempt.change, reached[1], proven, reached < base, detail), solution.solver_s


def _bands(problem: Problem, solution: Solution) -> list[Band]:
    return [window.bands[solution.bands[window.task]].band for window in problem.windows]


def _more_equipment(problem: Problem) -> list[Change]:
    used = dict.fromkeys(kind for task in problem.tasks if task.pin is None for kind in task.needs)
    places = {machine.kind for machine in problem.machines if machine.is_place}
    return [
        Change(
            f"a second {kind.replace('_', ' ')}",
            replace(problem, machines=(*problem.machines, Machine(f"{kind} extra", kind))),
        )
        for kind in used
        if kind not in places
    ]


def _without_late(problem: Problem, timetable: Timetable) -> list[Change]:
    """Return the others alone: what giving up, or retaking later, does for the rest."""
    lost = {(late.case, late.impression) for late in timetable.late}
    if len(lost) == len(problem.windows):
        return []
    gone = {task.id for task in problem.tasks if (task.case, task.impression) in lost}
    rest = replace(
        problem,
        tasks=tuple(task for task in problem.tasks if task.id not in gone),
        lags=tuple(lag for lag in problem.lags if lag.first not in gone and lag.second not in gone),
        windows=tuple(window for window in problem.windows if (window.case, window.impression) not in lost),
    )
    return [Change(_given_up(problem, timetable), rest)]


def _given_up(problem: Problem, timetable: Timetable) -> str:
    lost = {(late.case, late.impression) for late in timetable.late}
    names = ", ".join(sorted(name for _, name in lost))
    is_out = any(not is_planned(w) for w in problem.windows if (w.case, w.impression) in lost)
    return f"{names} taken again later" if is_out else f"{names} at another visit"


def _longer_visit(problem: Problem) -> list[Change]:
    eased = tuple(lag for lag in problem.lags if lag.id != "one-visit")
    if len(eased) == len(problem.lags) or not any(is_planned(window) for window in problem.windows):
        return []
    return [Change("the opposing arch at another time", replace(problem, lags=eased))]


def is_planned(window: Window) -> bool:
    """Tell whether the impression is still to be taken."""
    return window.out_s is None
