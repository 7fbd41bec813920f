"""The scale of the cast, from the scans alone and together with what pour and impression let expect.

Owns the rule by which an expectation is used. The motions of the units rest on the scans alone, whatever is expected.
"""

import math
from dataclasses import dataclass

from seatwright.quantities import Measured, ScaleCause

__all__ = ["UNEVEN_CHANCE", "ScaleExpectation", "ScaleReport", "percent_of", "weigh_scale"]

UNEVEN_CHANCE = 0.01  # judgement: rarer than this a change is not called a uniform scale
_MOST_ERROR = 1.0  # ISO 13528:2022, 9.7: a normalized error (k = 2) of at most 1 is agreement
_LEAST_GAIN = 1e-6  # judgement: below this share of the information the scans say nothing of the scale


@dataclass(frozen=True, slots=True)
class ScaleExpectation:
    """Scale of the lattice (a fraction, + larger) that pour and impression let expect, and its causes."""

    value: Measured
    causes: tuple[ScaleCause, ...]


@dataclass(frozen=True, slots=True)
class ScaleReport:
    """What is known of the scale.

    Attributes
    ----------
    plain : Measured or None
        From the two scans alone, every prior taken out; None when they do not determine it.
    expected : ScaleExpectation or None
        From pour and impression.
    posterior : Measured or None
        Both together where the expectation is used, else the plain one.
    is_used : bool
    normalized_error : float or None
        Difference of the two over their joint expanded uncertainty (k = 2).
    why : str
        Why the expectation is used, or why not.
    """

    plain: Measured | None
    expected: ScaleExpectation | None
    posterior: Measured | None
    is_used: bool
    normalized_error: float | None
    why: str


def weigh_scale(
    found: Measured, taken_in: Measured, expected: ScaleExpectation | None, uniform_chance: float | None
) -> ScaleReport:
    """Take out the prior that steadied the fit, and take in the expected scale where it agrees.

    Parameters
    ----------
    found : Measured
        Scale of the fit, a fraction.
    taken_in : Measured
        Prior that took part in it.
    expected : ScaleExpectation, optional
    uniform_chance : float, optional
        Probability of a lattice as uneven as this one under a uniform scale.

    Notes
    -----
    The rule: an expectation is used when there is one, when the scans determine a scale, when that change is not
    uneven, and when both agree (normalized error at most 1). Normal laws multiply: informations (1 / u²) add, and
    values are weighted by them; a prior is taken out by the same rule backwards.

    References
    ----------
    .. [1] JCGM 106:2012, 6.2 (prior and measurement); ISO 13528:2022, 9.7 (normalized error).

    Examples
    --------
    >>> weigh_scale(Measured(0.001, 1e-4, "1"), Measured(0.0, 0.03, "1"), None, None).why
    'the case does not say what to expect'
    """
    information = 1 / found.u**2
    kept = information - 1 / taken_in.u**2
    plain = None
    if kept > _LEAST_GAIN * information:
        value = (found.value * information - taken_in.value / taken_in.u**2) / kept
        plain = Measured(value, math.sqrt(1 / kept), "1")
    if expected is None or plain is None:
        why = "the case does not say what to expect" if expected is None else "the scans do not determine a scale"
        return ScaleReport(plain, expected, plain, False, None, why)
    error = abs(plain.value - expected.value.value) / (2 * math.hypot(plain.u, expected.value.u))
    if uniform_chance is not None and uniform_chance < UNEVEN_CHANCE:
        return ScaleReport(plain, expected, plain, False, error, "the change is uneven: no uniform scale explains it")
    if error > _MOST_ERROR:
        why = "the two differ by more than their uncertainties allow"
        return ScaleReport(plain, expected, plain, False, error, why)
    return ScaleReport(plain, expected, _multiply(plain, expected.value), True, error, "the two agree")


def percent_of(scale: Measured) -> Measured:
    """Return a scale in percent, as it is shown."""
    return Measured(100 * scale.value, 100 * scale.u, "%")


def _multiply(one: Measured, other: Measured) -> Measured:
    a, b = 1 / one.u**2, 1 / other.u**2
    return Measured((one.value * a + other.value * b) / (a + b), math.sqrt(1 / (a + b)), "1")
