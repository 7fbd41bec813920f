"""Which units agree with each other, and the frame and scale that they hold. Works on poses and covariances alone."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from seatwright.quantities import FloatArray

__all__ = ["FrameFit", "StableSet", "UnitPose", "find_stable_set", "fit_frame", "gate_chi2", "relative_covariance"]

_MOST_TRIPLES = 1500  # judgement: beyond 21 units pairs start the search; each pose alone already has six equations
_U_SCALE_PRIOR = 0.003  # judgement: stone expands some 0.1 %, impressions change some 0.25 %, combined and rounded up


@dataclass(frozen=True, slots=True, eq=False)
class UnitPose:
    """Pose of one unit in the global frame: shift at its centroid and turn, with covariance (mm, rad)."""

    center_mm: FloatArray
    motion: FloatArray
    """(6,): shift mm, rotation vector rad."""
    covariance: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class FrameFit:
    """Common motion of a set of units: shift at `middle_mm`, turn, and scale of their lattice."""

    motion: FloatArray
    """(6,): shift mm, turn rad."""
    covariance: FloatArray
    """(6, 6)."""
    middle_mm: FloatArray
    scale: float
    u_scale: float


@dataclass(frozen=True, slots=True, eq=False)
class StableSet:
    """Largest set of units that agree, and its nearest rival."""

    members: tuple[int, ...]
    frame: FrameFit
    """Rigid frame of the members (their scale left in)."""
    scaled: FrameFit
    """With the scale taken out."""
    rival: tuple[int, ...]
    """Largest set of other units that agree at another pose."""
    misfits: FloatArray
    """(n,): squared distance of each unit from the members' frame and scale, itself left out; chi-square, 6 degrees."""
    gate: float
    """Limit of `misfits` at 5 % false alarms a cast: beyond it a unit moved by itself."""


def gate_chi2(n_units: int) -> float:
    """Limit of chi-square with six degrees of freedom, 5 % false alarms over all units together.

    Examples
    --------
    >>> round(gate_chi2(10), 2), round(gate_chi2(14), 2)
    (18.49, 19.32)
    """
    return float(stats.chi2.ppf(0.95 ** (1 / max(1, n_units)), 6))


def find_stable_set(poses: tuple[UnitPose, ...]) -> StableSet:
    """Find the largest set of units that share one motion (and one scale), and the largest rival outside it.

    Every triple of units starts a set; members are those that agree within a gate at 5 % false alarms a cast, with the
    covariance of the frame carried to them and each judged without itself; the set is refitted until it rests.
    """
    middle = np.mean([p.center_mm for p in poses], axis=0)
    problem = _Problem.of(poses, middle)
    everyone = tuple(range(len(poses)))
    members = _largest(problem, everyone)
    others = tuple(k for k in everyone if k not in members)
    rival = _largest(problem, others) if others else ()
    chosen = [poses[k] for k in members]
    return StableSet(
        members=members,
        frame=fit_frame(chosen, middle, with_scale=False),
        scaled=fit_frame(chosen, middle, with_scale=True),
        rival=rival,
        misfits=problem.misfits(np.array(members)),
        gate=problem.gate,
    )


def fit_frame(poses: list[UnitPose], middle_mm: FloatArray, *, with_scale: bool) -> FrameFit:
    """Generalized least squares for the common motion of some units, with or without a common scale."""
    problem = _Problem.of(tuple(poses), middle_mm)
    n_columns = 7 if with_scale else 6
    matrix, right = problem.matrices.sum(axis=0), problem.rights.sum(axis=0)
    if with_scale:
        matrix[6, 6] += 1 / _U_SCALE_PRIOR**2
    covariance = _invert(matrix[:n_columns, :n_columns])
    solution = covariance @ right[:n_columns]
    scale, u_scale = (float(solution[6]), float(np.sqrt(covariance[6, 6]))) if with_scale else (0.0, 0.0)
    return FrameFit(solution[:6], covariance[:6, :6], np.asarray(middle_mm), scale, u_scale)


def relative_covariance(pose: UnitPose, frame: FrameFit) -> FloatArray:
    """Covariance of a unit's motion relative to a frame that does not contain it."""
    design = _design(pose.center_mm - frame.middle_mm)[:, :6]
    total = pose.covariance + design @ frame.covariance @ design.T
    return np.asarray((total + total.T) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """All units' equations, ready to be summed over any set."""

    motions: FloatArray
    covariances: FloatArray
    designs: FloatArray
    matrices: FloatArray
    """(n, 7, 7): D' C^-1 D."""
    rights: FloatArray
    """(n, 7): D' C^-1 y."""
    gate: float

    @classmethod
    def of(cls, poses: tuple[UnitPose, ...], middle: FloatArray) -> "_Problem":
        designs = np.array([_design(p.center_mm - middle) for p in poses])
        motions = np.array([p.motion for p in poses])
        covariances = np.array([p.covariance for p in poses])
        weighted = np.einsum("kia,kij->kaj", designs, np.linalg.inv(covariances))
        return cls(
            motions,
            covariances,
            designs,
            weighted @ designs,
            np.einsum("kaj,kj->ka", weighted, motions),
            gate_chi2(len(poses)),
        )

    def misfits(self, members: NDArray[np.int64]) -> FloatArray:
        """Squared distance of each unit from the members' frame, itself left out when it is a member; shape (n,)."""
        own = np.zeros(len(self.motions))
        own[members] = 1.0
        matrix = self.matrices[members].sum(axis=0) - own[:, None, None] * self.matrices
        right = self.rights[members].sum(axis=0) - own[:, None] * self.rights
        matrix[:, 6, 6] += 1 / _U_SCALE_PRIOR**2
        covariance = _invert(matrix)
        solution = np.einsum("kab,kb->ka", covariance, right)
        difference = self.motions - np.einsum("kia,ka->ki", self.designs, solution)
        total = self.covariances + self.designs @ covariance @ self.designs.transpose(0, 2, 1)
        return np.asarray(np.einsum("ki,kij,kj->k", difference, np.linalg.inv(total), difference))


def _invert(matrix: FloatArray) -> FloatArray:
    """Invert information whose shifts (mm), turns (rad) and scale differ by orders; one matrix or a stack."""
    balance = 1 / np.sqrt(np.einsum("...ii->...i", matrix))
    scale = balance[..., :, None] * balance[..., None, :]
    return np.asarray(np.linalg.inv(matrix * scale) * scale)


def _design(arm: FloatArray) -> FloatArray:
    """Rows of (shift, turn) at a unit for (shift, turn, scale) of the frame."""
    x, y, z = arm
    design = np.zeros((6, 7))
    design[:3, :3] = np.eye(3)
    design[:3, 3:6] = np.array([[0, z, -y], [-z, 0, x], [y, -x, 0]])
    design[3:, 3:6] = np.eye(3)
    design[:3, 6] = arm
    return design


def _largest(problem: _Problem, allowed: tuple[int, ...]) -> tuple[int, ...]:
    """Largest agreeing set among the allowed units; ties go to the better agreement."""
    best, best_misfit = allowed[:1], np.inf
    tried: set[tuple[int, ...]] = set()
    for start in _starts(allowed):
        members, misfit = _grow(problem, allowed, start, tried)
        if (len(members), -misfit) > (len(best), -best_misfit):
            best, best_misfit = members, misfit
        if len(best) == len(allowed):
            break
    return best


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
    for _ in range(12):
        if len(members) < 2 or members in tried:
            return (), np.inf
        tried.add(members)
        misfits = problem.misfits(np.array(members))[among]
        grown = tuple(int(k) for k in among[misfits <= problem.gate])
        if grown == members:
            return members, float(misfits[misfits <= problem.gate].mean())
        members = grown
    return (), np.inf
