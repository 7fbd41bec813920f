"""Verdicts on a mark's movement and on a distance's change, with an uncertainty that may rest on few repeats."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from seatwright.errors import ValueOutOfRange
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray

__all__ = ["ShiftJudgement", "judge_change", "judge_shift", "posterior_length", "shift_limits"]

_RISK = 0.05  # common practice: ISO 14253-1 leaves the level to agreement and defaults to 95 %
_HELD = 1e-6  # definition: a direction whose spread is this small a share is held by the frame itself
_N_SPREADS = 10.0  # definition: so many standard uncertainties hold all that matters of a posterior
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
    p, interval = posterior_length(seen, u_seen, tolerance_um, dof)
    return ShiftJudgement(length, worst, n_axes, verdict, low, high, p, *interval)


def posterior_length(
    seen: FloatArray, u: FloatArray, tolerance: float, dof: float
) -> tuple[float, tuple[float, float]]:
    """Probability of a length within the tolerance, and its 95 % interval, by quadrature over length and direction.

    `seen` and `u` are components along independent directions; the prior is flat in the length, whatever the direction.
    """
    length, reach = float(np.linalg.norm(seen)), _N_SPREADS * float(u.max())
    lengths = np.linspace(max(0.0, length - reach), length + reach, 401)
    directions = _directions(seen, reach)
    off = (lengths[:, None, None] * directions[None] - seen) / u
    squares = (off**2).sum(axis=2)
    d = seen.size
    logs = -0.5 * squares if math.isinf(dof) else -0.5 * (dof + d) * np.log1p(squares / dof)
    density = np.exp(logs - logs.max()).mean(axis=1)
    cumulated = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2)])
    cumulated /= cumulated[-1]
    p = float(np.interp(tolerance, lengths, cumulated))
    low, high = (float(np.interp(q, cumulated, lengths)) for q in (0.025, 0.975))
    return p, (low, high)


def _directions(seen: FloatArray, reach: float) -> FloatArray:
    """Return unit vectors spread evenly over the directions that matter: a cap round the shift."""
    length = float(np.linalg.norm(seen))
    half = math.pi if length <= reach / 2 else min(math.pi, 2 * math.asin(min(1.0, reach / (2 * length))))
    if seen.size == 1:
        return np.array([[1.0], [-1.0]])
    if seen.size == 2:
        angle = math.atan2(seen[1], seen[0]) + half * np.linspace(-1.0, 1.0, 121)[:-1]
        return np.column_stack([np.cos(angle), np.sin(angle)])
    k = np.arange(500) + 0.5
    across, around = 1 - (1 - math.cos(half)) * k / 500, math.pi * (1 + math.sqrt(5)) * k
    side = np.sqrt(1 - across**2)
    cap = np.column_stack([np.cos(around) * side, np.sin(around) * side, across])
    return np.asarray(cap @ _frame_along(seen).T)


def _frame_along(seen: FloatArray) -> FloatArray:
    """Return a rotation whose third column points along a vector of three components."""
    axis = seen / max(float(np.linalg.norm(seen)), 1e-300) if np.any(seen) else np.array([0.0, 0.0, 1.0])
    basis, _ = np.linalg.qr(np.column_stack([axis, np.eye(3)[np.argsort(np.abs(axis))[:2]].T]))
    return np.column_stack([basis[:, 1], basis[:, 2], axis])


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
