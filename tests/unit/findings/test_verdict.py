import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seatwright.errors import ValueOutOfRange
from seatwright.findings import (
    Finding,
    Severity,
    Verdict,
    judge_shift_length,
    judge_upper_limit,
    limits_for_shift,
    limits_for_shift_length,
    worst_severity,
)

lengths = st.floats(0, 300)
uncertainties = st.floats(0.5, 40)


def test_limits_at_the_tolerance_hold_their_risk_in_a_simulation() -> None:
    """Independent of the closed form: simulate noisy vectors whose true length is exactly the tolerance."""
    rng = np.random.default_rng(20260301)
    limits = limits_for_shift_length(50.0, 10.0)
    observed = np.linalg.norm(np.array([50.0, 0, 0]) + rng.normal(0, 10.0, (200_000, 3)), axis=1)
    assert np.mean(observed > limits.reject_above) == pytest.approx(0.05, abs=0.0025)
    assert np.mean(observed <= limits.accept_below) == pytest.approx(0.05, abs=0.0025)


@given(lengths, st.floats(5, 100), uncertainties)
def test_tightening_the_tolerance_never_clears_a_shift(length: float, tolerance: float, u: float) -> None:
    order = [Verdict.CONFORMS, Verdict.CANNOT_TELL, Verdict.DOES_NOT_CONFORM]
    loose = judge_shift_length(length, tolerance, u)
    tight = judge_shift_length(length, tolerance * 0.7, u)
    assert order.index(tight) >= order.index(loose)


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (8.3, Verdict.CONFORMS),
        (8.4, Verdict.CANNOT_TELL),
        (11.6, Verdict.CANNOT_TELL),
        (11.7, Verdict.DOES_NOT_CONFORM),
    ],
)
def test_upper_limit_keeps_a_guard_band_on_both_sides(value: float, verdict: Verdict) -> None:
    assert judge_upper_limit(value, 10.0, 1.0) is verdict


def test_impossible_tolerance_is_refused() -> None:
    with pytest.raises(ValueOutOfRange):
        limits_for_shift_length(0.0, 5.0)


def test_worst_severity_is_the_gravest_one_present() -> None:
    findings = tuple(Finding("x", s, "what") for s in (Severity.NOTE, Severity.STOP, Severity.CAUTION))
    assert worst_severity(findings) is Severity.STOP
    assert worst_severity(()) is None


def test_limits_of_an_uneven_shift_hold_for_the_worst_direction() -> None:
    """Outside check by simulation: over all directions of a true shift of 50 the risk is 5 % at most, and reached."""
    rng = np.random.default_rng(6)
    u = np.array([15.0, 6.0, 3.0])
    limits = limits_for_shift(50.0, np.diag(u**2))
    noise = rng.normal(size=(40_000, 3)) * u
    too_long, too_short = [], []
    for direction in [*np.eye(3), *(v / np.linalg.norm(v) for v in rng.normal(size=(40, 3)))]:
        length = np.linalg.norm(50.0 * direction + noise, axis=1)
        too_long.append((length > limits.reject_above).mean())
        too_short.append((length <= limits.accept_below).mean())
    # a share of .05 in 40000 has a standard error of .0011
    assert max(too_long) == pytest.approx(0.05, abs=0.005)
    assert max(too_short) == pytest.approx(0.05, abs=0.005)


@pytest.mark.parametrize(("u", "accept", "reject"), [(5.0, 42.3, 58.7), (10.0, 35.9, 68.2), (15.0, 31.1, 78.3)])
def test_limits_of_an_even_shift_are_those_of_the_noncentral_chi_square_law(
    u: float, accept: float, reject: float
) -> None:
    """Outside check: scipy.stats.ncx2, three degrees of freedom, noncentrality (50 / u)^2, printed to .1."""
    limits = limits_for_shift(50.0, np.eye(3) * u * u)
    assert round(limits.accept_below, 1) == accept
    assert round(limits.reject_above, 1) == reject
