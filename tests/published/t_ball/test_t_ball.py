"""Probability that a shift is small enough when the size of its noise is an estimate: F table, mixture, drawn t vectors."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from seatwright.cast._length_law import LengthLaw, length_law
from seatwright.cast._points import judge_points

EXPECTED = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))["expected"]


def in_space(seen: np.ndarray, u: np.ndarray, dof: float) -> LengthLaw:
    """Law of the length for a prior that is flat in space: then the true shift is a t vector about the one seen."""
    law = length_law(seen, u, dof)
    return LengthLaw(law.lengths, law.density * law.lengths**2)


@pytest.mark.parametrize("dof", [8, 10, 20])
def test_centred_ball_holds_what_the_printed_table_says(dof: int) -> None:
    radius = 5.0 * np.sqrt(3 * float(EXPECTED[f"critical_{dof}"]))
    law = in_space(np.array([1e-9, 0.0, 0.0]), np.full(3, 5.0), dof)
    # half the last printed digit is 2e-5 of probability; beyond the ten scales looked at lie 7e-5 for 8
    assert law.chance_within(radius) == pytest.approx(0.95, abs=1.5e-4)


@pytest.mark.parametrize("dof", [8.0, 25.0, np.inf])
@pytest.mark.parametrize("length", [12.0, 40.0, 60.0])
def test_ball_off_the_centre_is_a_mixture_of_noncentral_laws(length: float, dof: float) -> None:
    u, limit = 9.0, 50.0
    sizes = np.ones(1) if np.isinf(dof) else dof / stats.chi2.ppf((np.arange(4000) + 0.5) / 4000, dof)
    known = stats.ncx2.cdf(limit**2 / (sizes * u**2), 3, length**2 / (sizes * u**2)).mean()
    law = in_space(np.array([0.0, length, 0.0]), np.full(3, u), dof)
    assert law.chance_within(limit) == pytest.approx(float(known), abs=1e-3)


def test_ball_of_unequal_axes_is_that_of_drawn_t_vectors() -> None:
    """400000 vectors of a general-purpose library: a share is known to 0.0008."""
    seen, u, dof = np.array([30.0, 20.0, -15.0]), np.array([15.0, 8.0, 4.0]), 9.0
    drawn = stats.multivariate_t(seen, np.diag(u**2), df=dof, seed=3).rvs(400_000)
    length = np.linalg.norm(drawn, axis=1)
    assert in_space(seen, u, dof).chance_within(50.0) == pytest.approx(float((length < 50).mean()), abs=0.003)


def test_chance_of_conformity_carries_the_doubt_about_the_noise() -> None:
    """The prior flat in the length weighs the drawn vectors by 1 / length²; the covariance is nu / (nu - 2) times S."""
    dof, scale = 9.0, np.diag([15.0, 8.0, 4.0]) ** 2 * 1e-6
    shift = np.array([0.030, 0.020, -0.015])
    covariance = np.diag([*np.diag(scale) * dof / (dof - 2), 1e-10, 1e-10, 1e-10])
    [judged] = judge_points(np.concatenate([shift, np.zeros(3)]), covariance, np.zeros(3), (), 50, dof=dof)
    length = np.linalg.norm(stats.multivariate_t(shift, scale, df=dof, seed=4).rvs(400_000), axis=1)
    weight = length**-2.0
    assert judged.p_conforms == pytest.approx(float(weight[length < 0.05].sum() / weight.sum()), abs=0.005)


def test_far_from_the_limit_doubt_about_the_noise_makes_the_chance_less_extreme() -> None:
    motion, covariance = np.array([0.085, 0, 0, 0, 0, 0.0]), np.diag([1e-4, 1e-4, 1e-4, 1e-10, 1e-10, 1e-10])
    chances = [
        judge_points(motion, covariance, np.zeros(3), (), 50, dof=dof)[0].p_conforms for dof in (np.inf, 30.0, 8.0)
    ]
    assert chances[0] < chances[1] < chances[2]
    # with equal axes the average over directions is sinh(a) / a, a = length seen times length over the variance
    sizes = 6 / stats.chi2.ppf((np.arange(2000) + 0.5) / 2000, 8) * 100.0
    true = np.linspace(0.05, 400.0, 8000)
    exponent = -((85.0 - true[:, None]) ** 2) / (2 * sizes)
    density = (np.exp(exponent) * -np.expm1(-2 * 85.0 * true[:, None] / sizes) / np.sqrt(sizes)).mean(axis=1) / true
    assert chances[2] == pytest.approx(float(density[true < 50].sum() / density.sum()), abs=3e-4)
