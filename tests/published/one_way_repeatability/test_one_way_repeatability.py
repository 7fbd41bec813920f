"""Repeatability of repeated readings (ISO 5725-2, 7.4.5) against NIST's certified one-way analysis."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from seatwright.cast import RepeatPoses, estimate_repeatability, pool_repeats

EXPECTED = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))["expected"]
READINGS = [
    [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
]
# fifteen digits are printed; readings of 196 in double precision carry a sum of squares to about twelve
REL = 1e-11


def test_repeatability_is_the_certified_residual_standard_deviation() -> None:
    pooled = pool_repeats(READINGS)
    assert pooled.dof == EXPECTED["within_dof"]
    assert pooled.s == pytest.approx(float(EXPECTED["residual_standard_deviation"]), rel=REL)
    assert pooled.s**2 * pooled.dof == pytest.approx(float(EXPECTED["within_sum_of_squares"]), rel=REL)


def test_spread_between_instruments_is_that_of_the_certified_mean_squares() -> None:
    between = (float(EXPECTED["between_mean_square"]) - float(EXPECTED["within_mean_square"])) / 5
    assert pool_repeats(READINGS).s_between == pytest.approx(np.sqrt(between), rel=1e-9)


def test_scans_of_one_cast_give_the_two_way_residual_of_the_same_readings() -> None:
    """Units for instruments, scans for repeats: what is common to a scan is taken out, as the two-way table does."""
    table = np.array(READINGS) - 196
    units = [
        RepeatPoses(str(k), np.array([float(k), k * k / 3.0, 0.0]), tuple(range(5)), _along_x(row))
        for k, row in enumerate(table)
    ]
    left = table - table.mean(axis=0) - table.mean(axis=1)[:, None] + table.mean()
    found = estimate_repeatability(units)
    assert found.n_scans == found.n_units == 5
    # nothing scatters along y and z, so no turn is seen and the shift along x alone is common to a scan
    assert float(found.dof_shift[0]) == pytest.approx(16, abs=1e-6)
    assert float(found.s_shift_um[0]) == pytest.approx(1e3 * float(np.sqrt((left**2).sum() / 16)), rel=1e-6)


def _along_x(row: np.ndarray) -> np.ndarray:
    motions = np.zeros((5, 6))
    motions[:, 0] = row
    return motions
