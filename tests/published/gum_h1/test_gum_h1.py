"""Coverage factor and expanded uncertainty of JCGM 100:2008, H.1.6, at the printed digits."""

from seatwright.quantities import Measured


def test_expanded_uncertainty_of_the_end_gauge_matches_the_guide() -> None:
    length = Measured(50_000_838.0, 32.0, "nm", dof=16)
    assert abs(length.coverage_factor(0.99) - 2.92) <= 0.005
    low, high = length.interval(0.99)
    assert abs((high - low) / 2 - 93) <= 0.5
