"""Which bodies agree with each other, and who else might be right. Works on poses and covariances alone."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from seatwright.cast._lattice import FREE_FROM, Pose, design_of, invert_information
from seatwright.cast._misfit import gate_misfit
from seatwright.quantities import FloatArray, Measured

__all__ = ["SCALE_PRIOR", "StableSet", "accept_stable_set", "find_stable_set"]

_MOST_TRIPLES = 1500  # judgement: beyond 21 bodies pairs start the search; each pose alone already has six equations
# judgement: stone expands some 0.1 %, impressions change some 0.25 %, combined and rounded up
SCALE_PRIOR = Measured(0.0, 0.003, "1")
_U_FREE = 0.03  # judgement: ten times the prior: from four bodies on the scale is free
_MOST_STEPS = 12  # judgement: a set that has not come to rest by then goes round in circles


@dataclass(frozen=True, slots=True, eq=False)
class StableSet:
    """Largest set of bodies that agree, and its nearest rival."""

    members: tuple[int, ...]
    rival: tuple[int, ...]
    """Largest other set that agrees at another pose: at least half of it lies outside the members."""
    misfits: FloatArray
    """(n,): squared distance of each body from the members' frame and scale, itself left out; chi-square, 6 degrees."""
    gate: float
    """Limit of `misfits` at 5 % false alarms a cast: beyond it a body moved by itself."""

    def is_unique(self) -> bool:
        """Whether the members may say that the others moved: a majority, and no rival of nearly their size."""
        n = len(self.misfits)
        return 2 * len(self.members) > n and (not self.rival or len(self.rival) < len(self.members) - 1)


def find_stable_set(poses: Sequence[Pose], prior: Measured = SCALE_PRIOR, *, gate: float | None = None) -> StableSet:
    """Find the largest set of bodies that share one motion (and one scale), and the largest rival.

    Every triple of bodies starts a set; members are those that agree within a gate at 5 % false alarms a cast, with
    the covariance of the frame carried to them and each judged without itself; the set is refitted until it rests.
    `gate` is the limit of the squared distance (that of as many tests as bodies unless told).
    """
    problem = _Problem.of(poses, prior, gate or gate_misfit(len(poses)))
    everyone = tuple(range(len(poses)))
    found = _search(problem, everyone)
    members = max(found, key=lambda s: (len(s), -found[s])) if found else everyone[:1]
    outside = tuple(k for k in everyone if k not in members)
    # a rival is looked for among the others too: with the members' help sets like theirs would win the search
    found.update(_search(problem, outside))
    return _with_rival(problem, members, found)


def accept_stable_set(
    poses: Sequence[Pose], members: tuple[int, ...], prior: Measured = SCALE_PRIOR, *, gate: float | None = None
) -> StableSet:
    """Take the user's word for who is stable; misfits and rival are found as ever."""
    problem = _Problem.of(poses, prior, gate or gate_misfit(len(poses)))
    return _with_rival(problem, members, _search(problem, tuple(range(len(poses)))))


def _with_rival(problem: "_Problem", members: tuple[int, ...], found: dict[tuple[int, ...], float]) -> StableSet:
    outside = [k for k in range(len(problem.motions)) if k not in members]
    # a body alone always agrees with itself
    rivals = [s for s in found if 2 * len(set(s) - set(members)) >= len(s)] + [(k,) for k in outside]
    rival = max(rivals, key=lambda s: (len(s), -found.get(s, np.inf)), default=())
    return StableSet(members, rival, problem.misfits(np.array(members)), problem.gate)


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """All bodies' equations, ready to be summed over any set."""

    motions: FloatArray
    covariances: FloatArray
    designs: FloatArray
    matrices: FloatArray
    """(n, 7, 7): D' C^-1 D."""
    rights: FloatArray
    """(n, 7): D' C^-1 y."""
    shared: FloatArray
    """(n, 6, k): what causes common to all make of the motions."""
    shared_rights: FloatArray
    """(n, 7, k): D' C^-1 of that."""
    prior: Measured
    gate: float

    @classmethod
    def of(cls, poses: Sequence[Pose], prior: Measured, gate: float) -> "_Problem":
        middle = np.mean([p.center_mm for p in poses], axis=0)
        designs = np.array([design_of(p.center_mm, p.anchor_mm, middle) for p in poses])
        motions = np.array([p.motion for p in poses])
        covariances = np.array([p.covariance for p in poses])
        weighted = np.einsum("kia,kij->kaj", designs, np.linalg.inv(covariances))
        rights = np.einsum("kaj,kj->ka", weighted, motions)
        shared = np.array([p.shared for p in poses])
        return cls(motions, covariances, designs, weighted @ designs, rights, shared, weighted @ shared, prior, gate)

    def misfits(self, members: NDArray[np.int64]) -> FloatArray:
        """Squared distance of each body from the members' frame, itself left out when it is a member; shape (n,)."""
        own = np.zeros(len(self.motions))
        own[members] = 1.0
        matrix = self.matrices[members].sum(axis=0) - own[:, None, None] * self.matrices
        right = self.rights[members].sum(axis=0) - own[:, None] * self.rights
        shared = self.shared_rights[members].sum(axis=0) - own[:, None, None] * self.shared_rights
        value, u = (0.0, _U_FREE) if len(members) >= FREE_FROM else (self.prior.value, self.prior.u)
        matrix[:, 6, 6] += 1 / u**2
        right[:, 6] += value / u**2
        if len(members) == 1:
            # a body without the others has no frame: it agrees with itself
            matrix[members[0]] = self.matrices[members[0]]
            matrix[members[0], 6, 6] += 1 / u**2
            right[members[0]] = self.rights[members[0]]
            right[members[0], 6] += value / u**2
            shared[members[0]] = self.shared_rights[members[0]]
        covariance = invert_information(matrix)
        solution = np.einsum("kab,kb->ka", covariance, right)
        difference = self.motions - np.einsum("kia,ka->ki", self.designs, solution)
        total = self.covariances + self.designs @ covariance @ self.designs.transpose(0, 2, 1)
        common = self.shared - self.designs @ (covariance @ shared)
        total += common @ common.transpose(0, 2, 1)
        return np.asarray(np.einsum("ki,kij,kj->k", difference, np.linalg.inv(total), difference))


def _search(problem: _Problem, allowed: tuple[int, ...]) -> dict[tuple[int, ...], float]:
    """Return every set of two or more among the allowed that rests, with its mean misfit."""
    found: dict[tuple[int, ...], float] = {}
    tried: set[tuple[int, ...]] = set()
    for start in _starts(allowed):
        members, misfit = _grow(problem, allowed, start, tried)
        if len(members) >= 2:
            found[members] = misfit
        if len(members) == len(allowed):
            break
    return found


def _starts(allowed: tuple[int, ...]) -> list[tuple[int, ...]]:
    n = len(allowed)
    triples = list(combinations(allowed, 3)) if n * (n - 1) * (n - 2) // 6 <= _MOST_TRIPLES else []
    # everyone first: a cast without movement is settled at once; pairs come last, for small sets
    return [allowed, *triples, *combinations(allowed, 2)]


def _grow(
    problem: _Problem, allowed: tuple[int, ...], start: tuple[int, ...], tried: set[tuple[int, ...]]
) -> tuple[tuple[int, ...], float]:
    """Let a set take in what agrees and drop what does not, until it rests; nothing when it was met before."""
    members, among = start, np.array(allowed)
    for _ in range(_MOST_STEPS):
        if len(members) < 2 or members in tried:
            return (), np.inf
        tried.add(members)
        misfits = problem.misfits(np.array(members))[among]
        grown = tuple(int(k) for k in among[misfits <= problem.gate])
        if grown == members:
            return members, float(misfits[misfits <= problem.gate].mean())
        members = grown
    return (), np.inf
