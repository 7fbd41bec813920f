"""Examples of JCGM 101:2008, clause 9, at their printed digits; Monte Carlo noise is allowed for where it exceeds them."""

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from seatwright.quantities import (
    Arcsine,
    CurvilinearTrapezoid,
    Distribution,
    Law,
    Normal,
    Rectangular,
    StudentT,
    compare_with_budget,
    propagate,
    propagate_distributions,
)

Model = Callable[[np.ndarray], np.ndarray]


def simulate(model: Model, laws: Sequence[Law], *, level: float = 0.95, seed: int = 1) -> Distribution:
    def draw(rng: np.random.Generator, n: int) -> np.ndarray:
        return model(np.array([law.draw(rng, n) for law in laws]))

    return propagate_distributions(draw, np.random.default_rng(seed), level=level, max_trials=4_000_000)


def total(x: np.ndarray) -> np.ndarray:
    return x.sum(axis=0)


def test_9_2_2_four_normals() -> None:
    laws = [Normal(0.0, 1.0)] * 4
    found = simulate(total, laws)
    assert found.converged
    assert abs(found.u - 2.0) <= 0.05
    assert abs(found.high - 3.92) <= 0.05
    assert propagate(total, laws).interval() == pytest.approx((-3.92, 3.92), abs=0.005)


def test_9_2_3_four_rectangulars_match_the_closed_form() -> None:
    half = math.sqrt(3.0)
    found = simulate(total, [Rectangular(-half, half)] * 4)
    closed = 2 * math.sqrt(3) * (2 - (3 / 5) ** 0.25)
    assert abs(closed - 3.88) <= 0.005
    assert abs(found.high - closed) <= 0.03
    assert abs(found.low + closed) <= 0.03


def test_9_2_4_one_wide_rectangular_is_where_propagation_fails() -> None:
    half = math.sqrt(3.0)
    laws = [Rectangular(-half, half)] * 3 + [Rectangular(-10 * half, 10 * half)]
    found, budget = simulate(total, laws), propagate(total, laws)
    assert abs(found.u - 10.1) <= 0.05
    assert abs(found.high - 17.0) <= 0.1
    assert abs(budget.interval()[1] - 19.9) <= 0.05
    assert not compare_with_budget(found, budget).agrees


def mass(x: np.ndarray) -> np.ndarray:
    reference, small, air, weight, standard = x
    return (reference + small) * (1 + (air - 1.2) * (1 / weight - 1 / standard)) - 100_000.0


MASS_LAWS = [
    Normal(100_000.0, 0.050),
    Normal(1.234, 0.020),
    Rectangular(1.10, 1.30),
    Rectangular(7000.0, 9000.0),
    Rectangular(7950.0, 8050.0),
]


def test_9_3_mass_first_and_second_order_at_printed_digits() -> None:
    first, second = propagate(mass, MASS_LAWS), propagate(mass, MASS_LAWS, second_order=True)
    assert abs(first.u - 0.0539) <= 0.00005
    assert first.interval() == pytest.approx((1.1285, 1.3395), abs=0.0001)
    assert abs(second.u - 0.0750) <= 0.00005
    assert second.interval() == pytest.approx((1.087, 1.381), abs=0.0005)


def test_9_3_mass_by_simulation_and_first_order_is_refused() -> None:
    found = simulate(mass, MASS_LAWS)
    assert abs(found.u - 0.0754) <= 0.0005
    # The printed shortest interval lies at random; its width is what can be checked.
    assert abs((found.high - found.low) - 0.299) <= 0.003
    assert not compare_with_budget(found, propagate(mass, MASS_LAWS)).agrees


@pytest.mark.parametrize(
    ("x1", "r", "mean", "u", "low", "high"),
    [
        (0.0, 0.0, 50, 50, 0, 150),
        (0.010, 0.0, 150, 112, 0, 367),
        (0.050, 0.0, 2551, 502, 1590, 3543),
        (0.0, 0.9, 50, 67, 0, 185),
        (0.010, 0.9, 150, 121, 13, 398),
        (0.050, 0.9, 2551, 505, 1628, 3555),
    ],
)
def test_9_4_comparison_loss(x1: float, r: float, mean: float, u: float, low: float, high: float) -> None:
    def draw(rng: np.random.Generator, n: int) -> np.ndarray:
        a, b = rng.standard_normal((2, n))
        first = x1 + 0.005 * a
        second = 0.005 * (r * a + math.sqrt(1 - r * r) * b)
        return 1e6 * (first**2 + second**2)

    found = propagate_distributions(draw, np.random.default_rng(5), n_digits=2, max_trials=2_000_000)
    assert found.mean == pytest.approx(mean, abs=1.5)
    assert found.u == pytest.approx(u, abs=1.5)
    assert found.shortest_low == pytest.approx(low, abs=8)
    assert found.shortest_high == pytest.approx(high, abs=8)


def test_9_4_propagation_first_order_at_printed_digits() -> None:
    def loss(x: np.ndarray) -> np.ndarray:
        return 1e6 * (x[0] ** 2 + x[1] ** 2)

    for x1, low, high in ((0.010, -96, 296), (0.050, 1520, 3480)):
        found = propagate(loss, [Normal(x1, 0.005), Normal(0.0, 0.005)])
        assert found.interval() == pytest.approx((low, high), abs=0.5)
    at_zero = propagate(loss, [Normal(0.0, 0.005), Normal(0.0, 0.005)])
    assert at_zero.u == 0.0
    assert propagate(loss, [Normal(0.0, 0.005), Normal(0.0, 0.005)], second_order=True).u == pytest.approx(50)


def gauge(x: np.ndarray) -> np.ndarray:
    length, difference, random, systematic, alpha, theta0, cycle, delta_alpha, delta_theta = x
    theta = theta0 + cycle
    top = length * (1 + alpha * (theta - delta_theta)) + difference + random + systematic
    return top / (1 + (alpha + delta_alpha) * theta) - 50_000_000.0


def test_9_5_gauge_block() -> None:
    laws: list[Law] = [
        StudentT(50_000_623.0, 25.0, 18),
        StudentT(215.0, 6.0, 24),
        StudentT(0.0, 4.0, 5),
        StudentT(0.0, 7.0, 8),
        Rectangular(9.5e-6, 13.5e-6),
        Normal(-0.1, 0.2),
        Arcsine(-0.5, 0.5),
        CurvilinearTrapezoid(-1e-6, 1e-6, 0.1e-6),
        CurvilinearTrapezoid(-0.050, 0.050, 0.025),
    ]
    found = simulate(gauge, laws, level=0.99)
    assert abs(found.mean - 838) <= 0.5
    assert abs(found.u - 36) <= 0.5
    # Both the printed ends and ours are simulated: half a digit and four standard errors of an end point.
    assert found.shortest_low == pytest.approx(745, abs=3)
    assert found.shortest_high == pytest.approx(932, abs=3)
