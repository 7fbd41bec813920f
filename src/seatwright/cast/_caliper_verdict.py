"""Verdicts on a mark's movement and on a distance's change, with an uncertainty that may rest on few repeats."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from seatwright.cast._length_law import length_law
from seatwright.errors import ValueOutOfRange
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray

__all__ = ["ShiftJudgement", "judge_change", "judge_shift", "shift_limits"]

_RISK = 0.05  # common practice: ISO 14253-1 leaves the level to agreement and defaults to 95 %
_HELD = 1e-6  # definition: a direction whose spread is this small a share is held by the frame itself
_STRAIGHT = 400.0  # definition: beyond this noncentrality the length is normal to better than a thousandth of u


@dataclass(frozen=True, slots=True)
class ShiftJudgement:
    """A shift of one to three components against its tolerance.

    Attributes
    ----------
    length_um : float
        Of the components that are judged.
    u_worst_um : float
        Standard uncertainty along the worst of them; the limits use it.
    n_axes : int
        How many components are judged; 0: none is known well enough.
    verdict : Verdict
    accept_below_um, reject_above_um : float or None
    p_within : float or None
        Probability that the true length lies within the tolerance, for a prior that is flat in the length.
    low_um, high_um : float or None
        95 % interval of the true length under the same prior.
    """

    length_um: float
    u_worst_um: float
    n_axes: int
    verdict: Verdict
    accept_below_um: float | None
    reject_above_um: float | None
    p_within: float | None
    low_um: float | None
    high_um: float | None


def shift_limits(tolerance: float, u: float, n_axes: int, *, dof: float = math.inf) -> tuple[float, float]:
    """Limits of an observed length: below the first it conforms, above the second it does not.

    The squared length over u squared follows a noncentral chi-square law with `n_axes` degrees of freedom. Where u is
    estimated with `dof` degrees of freedom it is widened by the ratio of Student's to the normal quantile, exact where
    the tolerance is large against u.

    Examples
    --------
    >>> low, high = shift_limits(50.0, 5.0, 3)
    >>> round(low, 1), round(high, 1)
    (42.3, 58.7)
    """
    if not (tolerance > 0 and u > 0 and n_axes > 0 and dof > 0):
        raise ValueOutOfRange(f"need tolerance, u and dof above 0, got {tolerance}, {u} and {dof}")
    z = float(stats.norm.ppf(1 - _RISK))
    wide = u if math.isinf(dof) else u * float(stats.t.ppf(1 - _RISK, dof)) / z
    noncentrality = (tolerance / wide) ** 2
    if noncentrality > _STRAIGHT:
        lift = (n_axes - 1) * wide**2 / (2 * tolerance)
        return max(0.0, tolerance + lift - z * wide), tolerance + lift + z * wide
    low, high = (float(stats.ncx2.ppf(q, n_axes, noncentrality)) for q in (_RISK, 1 - _RISK))
    return wide * math.sqrt(low), wide * math.sqrt(high)


def judge_shift(
    shift_um: FloatArray, covariance_um2: FloatArray, tolerance_um: float, *, dof: float = math.inf
) -> ShiftJudgement:
    """Judge the length of a shift against its tolerance, in the directions that are seen.

    Parameters
    ----------
    shift_um : ndarray of shape (d,)
    covariance_um2 : ndarray of shape (d, d)
    tolerance_um : float
    dof : float
        Degrees of freedom of the covariance's scale.

    Notes
    -----
    A direction whose standard uncertainty exceeds the tolerance is left out, and so is one that the frame itself holds
    (no spread at all); `n_axes` says so. The rule is that of
    decision record 0002, with as many components as are judged.

    References
    ----------
    .. [1] Johnson, Kotz, Balakrishnan, Continuous Univariate Distributions 2, 2nd ed., ch. 29 and 30.
    .. [2] JCGM 106:2012, 7.1 (probability of conformity) and 8.3 (guarded decisions).
    """
    values, axes = np.linalg.eigh(covariance_um2)
    u = np.sqrt(np.clip(values, 1e-12, None))
    is_seen = (u <= tolerance_um) & (u > _HELD * u.max())
    n_axes = int(is_seen.sum())
    if n_axes == 0:
        worst = float(u.max())
        return ShiftJudgement(
            float(np.linalg.norm(shift_um)), worst, 0, Verdict.CANNOT_TELL, None, None, None, None, None
        )
    seen, u_seen = (axes.T @ shift_um)[is_seen], u[is_seen]
    length, worst = float(np.linalg.norm(seen)), float(u_seen.max())
    low, high = shift_limits(tolerance_um, worst, n_axes, dof=dof)
    verdict = Verdict.CANNOT_TELL
    if length <= low:
        verdict = Verdict.CONFORMS
    elif length > high:
        verdict = Verdict.DOES_NOT_CONFORM
    law = length_law(seen, u_seen, dof)
    p, ends = law.chance_within(tolerance_um), (law.quantile(0.025), law.quantile(0.975))
    return ShiftJudgement(length, worst, n_axes, verdict, low, high, p, *ends)


def judge_change(change: float, u: float, tolerance: float, *, dof: float = math.inf) -> tuple[Verdict, float]:
    """Judge a signed change against ± tolerance; return the verdict and the probability that it lies within.

    References
    ----------
    .. [1] JCGM 106:2012, 7.5 (two-sided interval) and 8.3.

    Examples
    --------
    >>> judge_change(0.0, 10.0, 50.0)[0]
    <Verdict.CONFORMS: 'conforms'>
    """
    law = stats.norm if math.isinf(dof) else stats.t(dof)
    within = float(law.cdf((tolerance - change) / u) - law.cdf((-tolerance - change) / u))
    if within >= 1 - _RISK:
        return Verdict.CONFORMS, within
    return (Verdict.DOES_NOT_CONFORM if within <= _RISK else Verdict.CANNOT_TELL), within
