"""From a problem to a timetable, and from a timetable to the next one when the day slips.

Owns the sequence: solve, assemble, simulate, hold reserves back, try remedies, explain. Each part stands in its own
module.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, tzinfo

import numpy as np

from seatwright.errors import CannotCompute, InputError
from seatwright.pour.timetable._assemble import assemble_timetable
from seatwright.pour.timetable._explain import explain_changes, find_findings
from seatwright.pour.timetable._freeze import freeze_close, let_go_openers
from seatwright.pour.timetable._history import Fact
from seatwright.pour.timetable._learn import apply_paces, learn_paces
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._pins import pin_facts
from seatwright.pour.timetable._problem import Problem
from seatwright.pour.timetable._pushed import better_of, propose
from seatwright.pour.timetable._remedies import count_hands, find_remedies, is_planned
from seatwright.pour.timetable._risks import RISK, find_risk_remedies
from seatwright.pour.timetable._simulate import simulate_misses
from seatwright.pour.timetable._solve import solve_problem
from seatwright.pour.timetable._timetable import Miss, Remedy, Timetable
from seatwright.pour.timetable._validate import require_sound
from seatwright.pour.timetable._waits import find_waits
from seatwright.progress import SILENT, Progress

__all__ = ["PlanOptions", "make_timetable", "replan"]

_OTHER_HANDS_S = 600  # judgement: another person or machine disturbs as much as ten minutes of shift
_ROUNDS = 2  # judgement: a second look at the reserves; more gain nothing
_LONGEST_RESERVE = 0.5  # judgement: never more than half of a window


@dataclass(frozen=True, slots=True)
class PlanOptions:
    """How a timetable is made.

    Attributes
    ----------
    limit_s : float
        Wall time of the search, > 0.
    n_runs : int
        Simulated days; 0: no simulation and no reserves.
    keep : mapping of (case, impression) to (str, str)
        How it is kept while it waits, before and after the pour.
    alternatives : callable, optional
        Asked for changes to try, by name, only when something is late.
    remedies_s : float
        Time for trying changes; 0: none are tried.
    zone : tzinfo
        For times in words.
    may_move_close : bool
        Whether a new timetable may also move what starts within five minutes: only when somebody asks for it.
    past : tuple of Problem
        Days that are over; a new timetable learns durations from them too.
    """

    limit_s: float = 10.0
    n_runs: int = 0
    keep: Mapping[tuple[str, str], tuple[str, str]] | None = None
    alternatives: Callable[[], Mapping[str, Problem]] | None = None
    remedies_s: float = 0.0
    zone: tzinfo = UTC
    may_move_close: bool = False
    past: tuple[Problem, ...] = ()


def make_timetable(
    problem: Problem,
    *,
    options: PlanOptions | None = None,
    rng: np.random.Generator | None = None,
    progress: Progress = SILENT,
) -> tuple[Problem, Timetable]:
    """Make the timetable of a problem; return it with the problem it solves (reserves included).

    Parameters
    ----------
    problem : Problem
    options : PlanOptions, optional
    rng : numpy.random.Generator, optional
        Needed when `options.n_runs` > 0.
    progress : Progress

    Raises
    ------
    CaseError
        See `require_sound`.
    CannotCompute
        Nothing was found within the limit.
    """
    options = options or PlanOptions()
    require_sound(problem)
    timetable = _solve(problem, options, progress.part(0.0, 0.5))
    if options.n_runs and rng is not None:
        problem, timetable = _hold_reserves(problem, timetable, options, rng, progress=progress.part(0.5, 0.8))
    if options.remedies_s:
        timetable = _with_remedies(problem, timetable, options, rng, progress=progress.part(0.8, 1.0))
    return problem, _finish(problem, timetable, options)


def _solve(problem: Problem, options: PlanOptions, progress: Progress) -> Timetable:
    solution = solve_problem(problem, limit_s=options.limit_s, progress=progress)
    return assemble_timetable(problem, solution, now=problem.origin)


def _with_remedies(
    problem: Problem,
    timetable: Timetable,
    options: PlanOptions,
    rng: np.random.Generator | None,
    *,
    progress: Progress,
) -> Timetable:
    """Add what would help: for late pours, else for windows that a slow day would miss; and the hands needed."""
    risky = rng is not None and any(m.kind == "window" and m.chance > RISK for m in timetable.misses)
    others = options.alternatives() if options.alternatives and (timetable.late or risky) else None
    remedies: tuple[Remedy, ...] = ()
    if timetable.late:
        remedies = find_remedies(problem, timetable, alternatives=others, limit_s=options.remedies_s, progress=progress)
    elif risky and rng is not None:
        remedies = find_risk_remedies(
            problem,
            timetable.misses,
            seed=int(rng.integers(2**32)),
            alternatives=others,
            limit_s=options.remedies_s,
            progress=progress,
        )
    hands = count_hands(problem) if any(is_planned(window) for window in problem.windows) else None
    return replace(timetable, remedies=remedies, hands_needed=hands)


def _finish(problem: Problem, timetable: Timetable, options: PlanOptions) -> Timetable:
    waits = find_waits(problem, timetable.tasks, options.keep or {}, now=timetable.now)
    timetable = replace(timetable, waits=waits)
    return replace(timetable, findings=find_findings(problem, timetable))


def _hold_reserves(
    problem: Problem, timetable: Timetable, options: PlanOptions, rng: np.random.Generator, *, progress: Progress
) -> tuple[Problem, Timetable]:
    """Where a window is often missed, ask for an earlier pour; keep the plan with the smaller chances."""
    seed = rng.integers(2**32)
    timetable = replace(timetable, misses=_simulated(problem, timetable, seed, options.n_runs))
    for index in range(_ROUNDS):
        progress.report(index / _ROUNDS, "timetable: reserves")
        asked = _with_reserves(problem, timetable)
        if asked == problem:
            break
        tried = _solve(asked, options, SILENT)
        tried = replace(tried, misses=_simulated(asked, tried, seed, options.n_runs))
        if _risk(asked, tried) >= _risk(problem, timetable) or len(tried.late) > len(timetable.late):
            break
        problem, timetable = asked, tried
    return problem, timetable


def _simulated(problem: Problem, timetable: Timetable, seed: np.int64, n_runs: int) -> tuple[Miss, ...]:
    return simulate_misses(problem, timetable, rng=np.random.default_rng(int(seed)), n_runs=n_runs)


def _risk(problem: Problem, timetable: Timetable) -> float:
    weights = {f"{w.case}/{w.impression}": w.weight for w in problem.windows}
    return sum(weights.get(miss.what, 0) * miss.chance for miss in timetable.misses if miss.kind == "window")


def _with_reserves(problem: Problem, timetable: Timetable) -> Problem:
    risky = {miss.what for miss in timetable.misses if miss.kind == "window" and miss.chance > RISK}
    lost = {f"{late.case}/{late.impression}" for late in timetable.late}
    ends = {row.id: row.end for row in timetable.tasks}
    windows = []
    for window in problem.windows:
        name = f"{window.case}/{window.impression}"
        limit = window.window_s()
        if name not in risky or name in lost or limit is None:
            windows.append(window)
            continue
        out = window.out_s if window.out_s is not None else problem.offset_s(ends[window.out_task])
        left = limit - (problem.offset_s(ends[window.task]) - out)
        reserve = min(max(window.reserve_s, left) + 60, round(limit * _LONGEST_RESERVE))
        windows.append(replace(window, reserve_s=max(reserve, window.reserve_s)))
    return replace(problem, windows=tuple(windows))


def replan(
    base: Problem,
    before: Timetable,
    facts: Sequence[Fact],
    *,
    now: datetime,
    options: PlanOptions | None = None,
    progress: Progress = SILENT,
) -> tuple[Problem, Timetable]:
    """Make the timetable anew at `now`, changing as little as possible.

    What the log says stands. What was to start within five minutes keeps its time and its hands, unless what it waits
    for cannot be done by then. Windows and forecast error come first, then the least change (shift of starts, ten
    minutes for another person or machine), then the makespan.

    Parameters
    ----------
    base : Problem
        The day's problem with nothing pinned but what `build_problem` pinned.
    before : Timetable
        The one that people hold in their hands.
    facts : sequence of Fact
        All facts up to `now`.
    now : datetime
    options : PlanOptions, optional

    Raises
    ------
    InputError
        If the clock went backwards: `now` lies before the timetable's own moment.
    """
    options = options or PlanOptions(limit_s=0.8)
    if now < before.now:
        raise InputError(
            f"the clock went backwards: {now.isoformat()} is before {before.now.isoformat()}",
            hint="set the machine's clock right, or give --now",
        )
    pinned = pin_facts(base, facts, now=now)
    pinned = apply_paces(pinned, learn_paces([*options.past, pinned]))
    frozen = pinned if options.may_move_close else freeze_close(pinned, before, now=now)
    keep = {row.id: Keep(pinned.offset_s(row.start), row.who, row.equipment) for row in before.tasks}
    problem, timetable = _solve_again(pinned, frozen, keep, options, now=now, progress=progress)
    timetable = replace(timetable, changes=explain_changes(problem, before, timetable, zone=options.zone))
    return problem, _finish(problem, timetable, options)


def _solve_again(
    pinned: Problem,
    frozen: Problem,
    keep: Mapping[str, Keep],
    options: PlanOptions,
    *,
    now: datetime,
    progress: Progress,
) -> tuple[Problem, Timetable]:
    """Keep all that is close; else let go what opens a longest time (a mix); else overstep; else move what is close."""
    error: CannotCompute | None = None
    for problem, may_overstep in (
        (frozen, False),
        (let_go_openers(frozen, pinned), False),
        (frozen, True),
        (pinned, True),
    ):
        places, proposed = propose(problem, keep, now=now, change_weight_s=_OTHER_HANDS_S)
        try:
            solution = solve_problem(
                problem,
                limit_s=options.limit_s,
                keep=keep,
                change_weight_s=_OTHER_HANDS_S,
                hint=places,
                may_overstep=may_overstep,
                progress=progress,
            )
        except CannotCompute as caught:
            error = caught
            if proposed is not None and not caught.details.get("pinned"):
                return problem, proposed
            continue
        found = assemble_timetable(problem, solution, now=now, keep=keep, change_weight_s=_OTHER_HANDS_S)
        return problem, better_of(found, proposed)
    raise error or CannotCompute("no timetable was found", hint="give it more time")
