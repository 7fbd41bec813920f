"""Splints, bridges and bars: units that are one rigid body share one pose, have one vote, and are judged as one too."""

from collections.abc import Sequence
from dataclasses import dataclass

from scipy import stats

from seatwright.cast._lattice import Pose, combine_poses

__all__ = ["Body", "gather_bodies"]

_LEAST_CHANCE = 0.001  # judgement: rarer than this the units of a splint do not fit one rigid motion


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """One rigid body: the places of its units in the list of units, and its pose."""

    units: tuple[int, ...]
    pose: Pose
    chance: float
    """Probability of units as much at odds with one rigid motion as these; 1 for a single unit."""


def gather_bodies(poses: Sequence[Pose], groups: Sequence[Sequence[int]]) -> tuple[tuple[Body, ...], tuple[Body, ...]]:
    """Return the rigid bodies that the units make, and those said to be rigid whose units do not fit one motion.

    Parameters
    ----------
    poses : sequence of Pose
        Of the units.
    groups : sequence of sequence of int
        Units said to be one body; groups may overlap (they unite), units named nowhere stand alone.

    Notes
    -----
    A body whose units contradict each other is split: its units are judged one by one.
    """
    whole, broken = [], []
    for members in _unite(len(poses), groups):
        pose, chi2 = combine_poses([poses[k] for k in members])
        chance = float(stats.chi2.sf(chi2, 6 * (len(members) - 1))) if len(members) > 1 else 1.0
        body = Body(members, pose, chance)
        if chance >= _LEAST_CHANCE:
            whole.append(body)
        else:
            broken.append(body)
            whole.extend(Body((k,), poses[k], 1.0) for k in members)
    return tuple(sorted(whole, key=lambda b: b.units)), tuple(broken)


def _unite(n_units: int, groups: Sequence[Sequence[int]]) -> list[tuple[int, ...]]:
    leader = list(range(n_units))

    def head(k: int) -> int:
        while leader[k] != k:
            k = leader[k]
        return k

    for group in groups:
        for k in group[1:]:
            one, other = sorted((head(group[0]), head(k)))
            leader[other] = one
    return [tuple(k for k in range(n_units) if head(k) == top) for top in range(n_units) if head(top) == top]
