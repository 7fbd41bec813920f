"""Where a unit's movement is judged: at the points that must fit, with the probability that it is small enough."""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.spatial.transform import Rotation

from seatwright.cast._told_length import ToldLength, tell_length
from seatwright.findings import Verdict, limits_for_shift
from seatwright.quantities import FloatArray

__all__ = ["CENTROID", "MARGIN_CENTER", "Mark", "PointJudgement", "PointKind", "judge_points", "lever_to"]

CENTROID, MARGIN_CENTER = "centroid", "margin center"
_RISK = 0.05  # ISO 14253-1:2017: a stated risk each way; 5 % as in decision record 0011
_ORDER = (Verdict.DOES_NOT_CONFORM, Verdict.CANNOT_TELL, Verdict.CONFORMS)


class PointKind(StrEnum):
    """What a point at which a unit is judged is to it."""

    ATTACHMENT = "attachment"
    REST = "rest"
    MARGIN = "margin"
    CENTROID = "centroid"


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """A point of a unit at which its place matters: an attachment, a rest, the middle of its margin.

    Attributes
    ----------
    tooth : str
    name : str
    at_mm : ndarray of shape (3,)
        In the reference's frame.
    direction : ndarray of shape (3,) or None
        Way along which something enters there, a unit vector.
    kind : PointKind
    """

    tooth: str
    name: str
    at_mm: FloatArray
    direction: FloatArray | None = None
    kind: PointKind = PointKind.ATTACHMENT


@dataclass(frozen=True, slots=True, eq=False)
class PointJudgement:
    """The raw shift of one point of a unit against the tolerance.

    Attributes
    ----------
    name : str
        Of the mark, or ``centroid`` where none is named.
    at_mm, shift_mm : ndarray of shape (3,)
    covariance_mm2 : ndarray of shape (3, 3)
    length_um : float
        As seen; noise makes it too long on average.
    low_um, high_um : float
        95 % interval of the true length (see `ToldLength`): from 0 where no shift is seen.
    is_seen : bool
        Whether a shift is seen at all (95 %).
    p_conforms : float
        Probability that the true length lies within the tolerance, for the same prior.
    accept_below_um, reject_above_um : float
        Between them nothing is decided: guard bands for 5 % risk each way, for the worst direction; that of rejecting
        is shared out among the points of the unit.
    verdict : Verdict
    kind : PointKind
    """

    name: str
    at_mm: FloatArray
    shift_mm: FloatArray
    covariance_mm2: FloatArray
    length_um: float
    low_um: float
    high_um: float
    is_seen: bool
    p_conforms: float
    accept_below_um: float
    reject_above_um: float
    verdict: Verdict
    kind: PointKind

    @property
    def u_worst_um(self) -> float:
        """Standard uncertainty of the shift along the direction in which it is least known."""
        return 1e3 * float(np.sqrt(np.linalg.eigvalsh(self.covariance_mm2)[-1]))

    @property
    def told(self) -> ToldLength:
        """The true length as it is told."""
        return ToldLength(self.low_um, self.high_um, self.u_worst_um, self.is_seen)

    def shown(self) -> str:
        """Return the length as a person reads it: '180.2 ± 9.4 µm', or '0 to 30.1 µm' when no shift is seen."""
        return self.told.shown()

    def where(self) -> str:
        """Return where on the unit it is, as a person reads it after a number."""
        return f"at its {self.name}" if self.kind in _OWN else f"at {self.name}"


_OWN = (PointKind.MARGIN, PointKind.CENTROID)


def judge_points(
    motion: FloatArray,
    covariance: FloatArray,
    about_mm: FloatArray,
    marks: tuple[Mark, ...],
    tolerance_um: float,
    *,
    dof: float = math.inf,
) -> tuple[PointJudgement, ...]:
    """Judge a unit's raw motion at each of its marks, worst first; at its centroid when it has none.

    Parameters
    ----------
    motion : ndarray of shape (6,)
        Shift mm and turn rad about `about_mm`.
    covariance : ndarray of shape (6, 6)
    about_mm : ndarray of shape (3,)
    marks : tuple of Mark
        Those of this unit.
    tolerance_um : float
    dof : float
        Degrees of freedom behind the size of the covariance, which is that of the t law with so many; above 2.

    Notes
    -----
    A point q shifts by s + (R - I)(q - c). The verdict is that of `limits_for_shift`, the 5 % of a wrong rejection
    shared out among the unit's points (Bonferroni), since any of them rejects it. The probability weighs every true
    length alike beforehand and every direction alike (density 1 / length^2), so that neither noise nor the volume of
    space makes a shift longer than it is. The size of the noise is itself an estimate: interval and probability are
    averaged over what it may be (multivariate t law).

    References
    ----------
    .. [1] JCGM 106:2012, 7.1 and 8.3 (probability of conformity, guarded decisions); ISO 14253-1:2017 (guard band).
    .. [2] JCGM 101:2008, 6.4.9 (t law for an uncertainty with few degrees of freedom).
    """
    chosen = marks or (Mark("", CENTROID, about_mm, kind=PointKind.CENTROID),)
    judged = [_judge_point((motion, covariance, about_mm), mark, (tolerance_um, dof), len(chosen)) for mark in chosen]
    # chances that are shown alike do not part two points: then the one that may be longer is the worse
    return tuple(sorted(judged, key=lambda j: (_ORDER.index(j.verdict), round(j.p_conforms, 2), -j.high_um)))


def lever_to(at_mm: FloatArray, about_mm: FloatArray) -> FloatArray:
    """Return how the shift of a point answers to a small motion (shift, turn) about another; shape (3, 6)."""
    x, y, z = np.asarray(at_mm, dtype=float) - about_mm
    lever = np.eye(3, 6)
    lever[:, 3:] = [[0, z, -y], [-z, 0, x], [y, -x, 0]]
    return lever


def _judge_point(
    pose: tuple[FloatArray, FloatArray, FloatArray], mark: Mark, asked: tuple[float, float], n_points: int
) -> PointJudgement:
    (motion, covariance, about_mm), (tolerance_um, dof) = pose, asked
    arm = np.asarray(mark.at_mm, dtype=float) - about_mm
    shift = motion[:3] + Rotation.from_rotvec(motion[3:]).apply(arm) - arm
    lever = lever_to(mark.at_mm, about_mm)
    spread = lever @ covariance @ lever.T
    told, law = tell_length(shift, spread, dof=dof)
    limits = limits_for_shift(tolerance_um, spread * 1e6)
    # one point too far rejects the unit: the risk of that is shared out; accepting it takes all of them anyway
    reject = limits_for_shift(tolerance_um, spread * 1e6, risk=_RISK / n_points) if n_points > 1 else limits
    length = 1e3 * float(np.linalg.norm(shift))
    return PointJudgement(
        name=mark.name,
        at_mm=np.asarray(mark.at_mm, dtype=float),
        shift_mm=shift,
        covariance_mm2=(spread + spread.T) / 2,
        length_um=length,
        low_um=told.low_um,
        high_um=told.high_um,
        is_seen=told.is_seen,
        p_conforms=law.chance_within(tolerance_um),
        accept_below_um=limits.accept_below,
        reject_above_um=reject.reject_above,
        verdict=_verdict(length, limits.accept_below, reject.reject_above),
        kind=mark.kind,
    )


def _verdict(length_um: float, accept_below_um: float, reject_above_um: float) -> Verdict:
    if length_um > reject_above_um:
        return Verdict.DOES_NOT_CONFORM
    return Verdict.CONFORMS if length_um < accept_below_um else Verdict.CANNOT_TELL
