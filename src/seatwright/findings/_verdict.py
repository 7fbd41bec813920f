"""Tolerance verdicts by stated decision rules, never by a bare comparison."""

import math
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

import numpy as np
import scipy
from numpy.typing import NDArray

from seatwright.errors import ValueOutOfRange

__all__ = [
    "DecisionLimits",
    "Verdict",
    "judge_shift",
    "judge_shift_length",
    "judge_upper_limit",
    "limits_for_shift",
    "limits_for_shift_length",
]

_N_SIDEWAYS = 97  # quadrature: the trapezoid on six standard deviations is exact to far below the digits shown


class Verdict(StrEnum):
    """Answer to 'does it meet its tolerance?'."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does_not_conform"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True, slots=True)
class DecisionLimits:
    """Acceptance and rejection limits around a tolerance; between them nothing is decided."""

    accept_below: float
    reject_above: float


def limits_for_shift_length(tolerance: float, u: float, *, risk: float = 0.05) -> DecisionLimits:
    """Limits for the observed length of a 3-D shift with isotropic standard uncertainty.

    The length of a noisy vector is biased upwards, so a normal law on the length is wrong. With y ~ N(delta, u^2 I),
    (|y|/u)^2 follows a noncentral chi-square law with three degrees of freedom and noncentrality (|delta|/u)^2.

    Parameters
    ----------
    tolerance : float
        Largest allowed |delta|, > 0.
    u : float
        Standard uncertainty of each component, same unit, > 0.
    risk : float
        Probability of a wrong decision at the limit itself, each way.

    Returns
    -------
    DecisionLimits
        `accept_below` is the risk quantile, `reject_above` the 1 - risk quantile, at |delta| = tolerance.

    References
    ----------
    .. [1] Johnson, Kotz, Balakrishnan, Continuous Univariate Distributions 2, 2nd ed., ch. 29 (noncentral chi-square).
    .. [2] ISO 14253-1:2017 (guard bands on both sides of the limit; the principle, not the formula).

    Examples
    --------
    >>> limits = limits_for_shift_length(50.0, 5.0)
    >>> round(limits.accept_below, 1), round(limits.reject_above, 1)
    (42.3, 58.7)
    """
    if not (tolerance > 0 and u > 0 and 0 < risk < 0.5):
        raise ValueOutOfRange(f"need tolerance > 0, u > 0 and 0 < risk < 0.5, got {tolerance}, {u}, {risk}")
    noncentrality = (tolerance / u) ** 2
    low = float(scipy.stats.ncx2.ppf(risk, 3, noncentrality))
    high = float(scipy.stats.ncx2.ppf(1 - risk, 3, noncentrality))
    return DecisionLimits(accept_below=u * math.sqrt(low), reject_above=u * math.sqrt(high))


def judge_shift_length(length: float, tolerance: float, u: float, *, risk: float = 0.05) -> Verdict:
    """Judge the observed length of a 3-D shift against a tolerance (see `limits_for_shift_length`).

    Examples
    --------
    >>> judge_shift_length(60.0, 50.0, 5.0)
    <Verdict.DOES_NOT_CONFORM: 'does_not_conform'>
    """
    limits = limits_for_shift_length(tolerance, u, risk=risk)
    return _judge(length, limits)


def limits_for_shift(tolerance: float, covariance: NDArray[np.float64], *, risk: float = 0.05) -> DecisionLimits:
    """Limits for the observed length of a 3-D shift whose uncertainty differs with the direction.

    A true shift of the tolerance's length may point anywhere. The limits hold for the worst of these directions, the
    one in which the uncertainty is largest: there a length is seen both too long and too short most often.

    Parameters
    ----------
    tolerance : float
        Largest allowed length, > 0.
    covariance : ndarray of shape (3, 3)
        Of the observed shift, same unit squared.
    risk : float
        Probability of a wrong decision at the limit itself, at most, each way.

    Notes
    -----
    With equal uncertainties these are the limits of `limits_for_shift_length`. Below the worst direction's quantile
    nothing is decided even when the shift looks short: a length that large spreads of noise hide is not known.

    References
    ----------
    .. [1] ISO 14253-1:2017 (guard bands on both sides of the limit; the principle, not the formula).

    Examples
    --------
    >>> limits = limits_for_shift(50.0, np.diag([25.0, 25.0, 25.0]))
    >>> round(limits.accept_below, 1), round(limits.reject_above, 1)
    (42.3, 58.7)
    """
    values = np.linalg.eigvalsh(covariance)
    if not (tolerance > 0 and values[-1] > 0 and 0 < risk < 0.5):
        raise ValueOutOfRange(f"need tolerance > 0, a covariance and 0 < risk < 0.5, got {tolerance}, {risk}")
    small, middle, large = np.sqrt(np.clip(values, 0.0, None))
    z = np.linspace(-6.0, 6.0, _N_SIDEWAYS)
    weight = np.exp(-0.5 * (z[:, None] ** 2 + z[None] ** 2))
    weight /= weight.sum()
    sideways = (small * z[:, None]) ** 2 + (middle * z[None]) ** 2

    def excess(length: float, level: float) -> float:
        room = length * length - sideways
        along = np.sqrt(np.clip(room, 0.0, None))
        inside = scipy.special.ndtr((along - tolerance) / large) - scipy.special.ndtr((-along - tolerance) / large)
        return float((weight * inside * (room > 0)).sum()) - level

    longest = tolerance + 10.0 * float(large + middle + small)
    low, high = (float(scipy.optimize.brentq(excess, 0.0, longest, args=(level,))) for level in (risk, 1 - risk))
    return DecisionLimits(accept_below=low, reject_above=high)


def judge_shift(
    shift: NDArray[np.float64], covariance: NDArray[np.float64], tolerance: float, *, risk: float = 0.05
) -> Verdict:
    """Judge a 3-D shift with its covariance against the largest allowed length (see `limits_for_shift`)."""
    return _judge(float(np.linalg.norm(shift)), limits_for_shift(tolerance, covariance, risk=risk))


def judge_upper_limit(value: float, limit: float, u: float, *, risk: float = 0.05) -> Verdict:
    """Judge one number against an upper limit with guard bands of z u on both sides.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3.2 (guarded acceptance) and 7.4 (one-sided tolerance, normal law).
    """
    if u < 0:
        raise ValueOutOfRange(f"a standard uncertainty cannot be negative, got {u}")
    guard = NormalDist().inv_cdf(1 - risk) * u
    return _judge(value, DecisionLimits(accept_below=limit - guard, reject_above=limit + guard))


def _judge(value: float, limits: DecisionLimits) -> Verdict:
    if value <= limits.accept_below:
        return Verdict.CONFORMS
    if value > limits.reject_above:
        return Verdict.DOES_NOT_CONFORM
    return Verdict.CANNOT_TELL
