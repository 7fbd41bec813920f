"""What makes a window less often missed, when the plan fits but the day may be slow.

Owns trying changes for a chance. Each is planned anew and simulated with the same draws.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from seatwright.errors import CannotCompute
from seatwright.pour.timetable._assemble import assemble_timetable
from seatwright.pour.timetable._problem import Problem
from seatwright.pour.timetable._remedies import Change, changes_of, with_more_hands
from seatwright.pour.timetable._simulate import simulate_misses
from seatwright.pour.timetable._solve import solve_problem
from seatwright.pour.timetable._timetable import Miss, Remedy
from seatwright.progress import SILENT, Progress

__all__ = ["RISK", "find_risk_remedies"]

RISK = 0.05  # judgement: a window missed in one of twenty such days is worth a reserve
_EACH_S = 1.0  # judgement: time to plan with one change
_RUNS = 500  # judgement: two digits of a chance are enough to compare changes
_HALF = 0.5  # judgement: a change that halves a chance helps


def find_risk_remedies(
    problem: Problem,
    misses: Sequence[Miss],
    *,
    seed: int,
    alternatives: Mapping[str, Problem] | None = None,
    limit_s: float = 10.0,
    progress: Progress = SILENT,
) -> tuple[Remedy, ...]:
    """Try changes on the windows that are missed in more than one of twenty days; empty when there are none.

    Parameters
    ----------
    problem : Problem
        Its plan has no late pour.
    misses : sequence of Miss
        Of its plan.
    seed : int
        Of the draws.
    alternatives : mapping of str to Problem, optional
    limit_s : float
        For all changes together.

    Returns
    -------
    tuple of Remedy
        For each such window and change; `helps` when the chance falls below one in twenty, or to half.
    """
    risky = {miss.what: miss.chance for miss in misses if miss.kind == "window" and miss.chance > RISK}
    if not risky:
        return ()
    found: list[Remedy] = []
    used_s = 0.0
    changes = [Change("one more pair of hands", with_more_hands(problem, 1)), *changes_of(problem, alternatives)]
    for change in changes:
        if used_s > limit_s:
            break
        try:
            solution = solve_problem(change.problem, limit_s=_EACH_S, progress=progress)
        except CannotCompute:
            continue
        used_s += solution.solver_s
        table = assemble_timetable(change.problem, solution, now=problem.origin)
        drawn = simulate_misses(change.problem, table, rng=np.random.default_rng(seed), n_runs=_RUNS)
        chances = {miss.what: miss.chance for miss in drawn if miss.kind == "window"}
        for name, before in risky.items():
            after = chances.get(name, 0.0)
            detail = f"missed in {100 * after:.0f} of 100 such days instead of {100 * before:.0f}"
            helps = after <= RISK or after <= _HALF * before
            found.append(Remedy(change.change, len(table.late), table.proven, helps, detail, name))
    return tuple(found)
