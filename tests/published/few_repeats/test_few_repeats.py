"""What few degrees of freedom make of a repeatability: Student's factor as the guide prints it, chi-square as a handbook does."""

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from seatwright.cast import RepeatPoses, estimate_repeatability, spread_interval
from seatwright.quantities import Measured

SOURCE = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("dof", [3, 4, 5, 10, 20, 50])
def test_two_sided_interval_of_a_repeatability_is_students(dof: int) -> None:
    """1.96 times the standard uncertainty that counts, against t times s_r: within 7 % from three degrees of freedom on."""
    printed = float(SOURCE["expected"][f"t_{dof}"])
    assert stats.t.ppf(0.975, dof) == pytest.approx(printed, abs=0.005)
    rng = np.random.default_rng(1)
    units = [RepeatPoses(str(k), rng.uniform(-20, 20, 3), (0, 1), rng.normal(0, 1e-3, (2, 6))) for k in range(6)]
    few = replace(
        estimate_repeatability(units),
        shift_um=Measured(10.0, 1.0, "µm", dof),
        turn_deg=Measured(0.1, 0.01, "deg", dof),
    )
    assert few.is_enough
    covariance = few.covariance()
    assert 1.96 * np.sqrt(covariance[0, 0]) == pytest.approx(printed * 0.010, rel=0.07)
    assert 1.96 * np.sqrt(covariance[5, 5]) == pytest.approx(printed * np.radians(0.1), rel=0.07)
    if dof >= 4:
        assert 1.96 * np.sqrt(covariance[0, 0]) == pytest.approx(printed * 0.010, rel=0.02)
    assert not replace(few, shift_um=Measured(10.0, 1.0, "µm", 2.9)).is_enough


@pytest.mark.parametrize("dof", [10, 20])
def test_interval_of_a_repeatability_is_that_of_the_printed_chi_square(dof: int) -> None:
    upper, lower = (float(SOURCE["chi_square"][f"{side}_{dof}"]) for side in ("upper", "lower"))
    low, high = spread_interval(6.0, dof)
    # half the last printed digit, carried through s sqrt(dof / chi-square)
    assert low == pytest.approx(6 * np.sqrt(dof / upper), abs=6 * np.sqrt(dof) * 0.5 * upper**-1.5 * 0.0005)
    assert high == pytest.approx(6 * np.sqrt(dof / lower), abs=6 * np.sqrt(dof) * 0.5 * lower**-1.5 * 0.0005)
