"""Changes of distances between two epochs into movements of marks: one network of differences.

What both epochs share and no mark did (marks of unlike height drawn in one plane, a jaw that always sits aside) cancels
in the changes, so that it neither blames a reading nor moves a mark.
"""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.cast._caliper_epochs import Figure
from seatwright.cast._network_change import ChangeFit, Changes, adjust_changes
from seatwright.cast._network_tests import GlobalTest, judge_globally, snoop
from seatwright.errors import CannotCompute
from seatwright.quantities import FloatArray

__all__ = ["EpochChange", "compare_epochs", "expect_change"]

Pair = tuple[str, str]

_MOST_SET_ASIDE = 2  # judgement: more contradictions than this ask for reading again
_ALPHA_FIT = 0.05  # common practice: level of the global test


@dataclass(frozen=True, slots=True, eq=False)
class EpochChange:
    """Movements of all marks in one datum (minimum norm), from the changes of their distances.

    Attributes
    ----------
    points_mm : ndarray of shape (n, d)
    moved_mm : ndarray of shape (n d,)
    covariance : ndarray of shape (n d, n d)
        Raised by `inflation` squared.
    test : GlobalTest
        Whether the changes fit each other.
    inflation, dof : float
        Factor by which they do so worse than stated, 1 when they do; degrees of freedom that go with the covariance.
    set_aside, suspects : tuple of pairs
        Changes left out as contradicted by all others; those of which one is wrong without saying which.
    """

    points_mm: FloatArray
    moved_mm: FloatArray
    covariance: FloatArray
    test: GlobalTest
    inflation: float
    dof: float
    set_aside: tuple[Pair, ...]
    suspects: tuple[Pair, ...]


def compare_epochs(figure: Figure, *, dof: float) -> EpochChange:
    """Adjust the changes of the distances that both epochs hold; set aside single ones that all others contradict."""
    first, second = figure.networks
    index = {name: k for k, name in enumerate(figure.marks)}
    before = dict(zip(first.pairs, zip(first.distances.length_mm, first.distances.u_mm, strict=True), strict=True))
    after = dict(zip(second.pairs, zip(second.distances.length_mm, second.distances.u_mm, strict=True), strict=True))
    left = [pair for pair in first.pairs if pair in after]
    aside: list[Pair] = []
    fit, changes = _adjust(left, (before, after, index), first.fit.points_mm)
    while True:
        found = snoop(fit, changes, dof=dof)
        suspects = tuple(left[k] for k in found.suspects)
        if not found.is_located or len(aside) == _MOST_SET_ASIDE:
            break
        rest = [pair for pair in left if pair != suspects[0]]
        try:
            fit, changes = _adjust(rest, (before, after, index), first.fit.points_mm)
        except CannotCompute:  # without it some mark is free: it stays, under suspicion
            break
        left = rest
        aside.append(suspects[0])
    test = judge_globally(fit, dof=dof, alpha=_ALPHA_FIT)
    inflation = 1.0
    if not test.passes and test.ratio is not None and test.ratio > 1:
        inflation, dof = math.sqrt(test.ratio), float(fit.n_redundant)
    return EpochChange(
        first.fit.points_mm, fit.moved_mm, inflation**2 * fit.covariance, test, inflation, dof, tuple(aside), suspects
    )


_Side = dict[Pair, tuple[float, float]]


def _adjust(
    pairs: list[Pair], sides: tuple[_Side, _Side, dict[str, int]], points_mm: FloatArray
) -> tuple[ChangeFit, Changes]:
    before, after, index = sides
    changes = Changes(
        np.array([[index[a], index[b]] for a, b in pairs], dtype=np.intp),
        np.array([after[p][0] - before[p][0] for p in pairs]),
        np.array([math.hypot(after[p][1], before[p][1]) for p in pairs]),
    )
    return adjust_changes(points_mm, changes), changes


def expect_change(figure: Figure, *, dof: float) -> EpochChange:
    """Return what two epochs would give that were both read as the one at hand, and nothing moved."""
    network = figure.networks[0]
    u = network.distances.u_mm
    changes = Changes(network.distances.pairs, np.zeros(u.size), math.sqrt(2.0) * u)
    fit = adjust_changes(network.fit.points_mm, changes)
    test = judge_globally(fit, dof=dof, alpha=_ALPHA_FIT)
    return EpochChange(network.fit.points_mm, fit.moved_mm, fit.covariance, test, 1.0, dof, (), ())
