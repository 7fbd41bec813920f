"""Constants of reliability: critical value, noncentrality, smallest detectable error."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from seatwright.cast import critical_normalized, detectable_along_mm, noncentrality

EXPECTED = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))["expected"]


def agrees(found: float, printed: str) -> bool:
    return abs(found - float(printed)) <= 0.5001 * 10.0 ** -len(printed.partition(".")[2])


def test_constants_match_the_printed_ones() -> None:
    assert agrees(critical_normalized(), EXPECTED["critical_w"])
    assert agrees(math.sqrt(noncentrality(1, 0.001)), EXPECTED["delta0"])
    assert agrees(noncentrality(1, 0.001), EXPECTED["lambda0_one_axis"])
    assert agrees(noncentrality(2, 0.05), EXPECTED["lambda0_two_axes"])
    assert agrees(noncentrality(3, 0.05), EXPECTED["lambda0_three_axes"])


def test_one_axis_constant_is_the_sum_of_two_normal_quantiles() -> None:
    closed = (stats.norm.ppf(0.9995) + stats.norm.ppf(0.80)) ** 2
    assert noncentrality(1, 0.001) == pytest.approx(closed, rel=1e-6)


@pytest.mark.parametrize("n_axes", [2, 3])
def test_movement_of_the_detectable_size_is_found_in_four_of_five_trials(n_axes) -> None:
    rng = np.random.default_rng(12)
    root = rng.normal(size=(n_axes, n_axes)) * 0.02
    covariance = root @ root.T
    direction = np.eye(n_axes)[0]
    size = detectable_along_mm(covariance, direction)
    drawn = rng.multivariate_normal(size * direction, covariance, 20_000)
    found = np.einsum("ij,jk,ik->i", drawn, np.linalg.inv(covariance), drawn) > stats.chi2.ppf(0.95, n_axes)
    assert abs(found.mean() - 0.80) < 0.01


def test_few_degrees_of_freedom_ask_for_a_larger_movement() -> None:
    assert noncentrality(2, 0.05, 10) > noncentrality(2, 0.05, 60) > noncentrality(2, 0.05)
    assert noncentrality(2, 0.05, 1e5) == pytest.approx(noncentrality(2, 0.05), rel=1e-3)
