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
