import math

import numpy as np
import pytest
from scipy import stats

from seatwright.errors import ValueOutOfRange
from seatwright.quantities import (
    Arcsine,
    CurvilinearTrapezoid,
    Law,
    Normal,
    Rectangular,
    StudentT,
    check_correlation,
    combine,
    count_proportion,
    effective_dof,
    law_fields,
    propagate,
    propagate_jointly,
    summarize_draws,
)

LAWS: list[Law] = [
    Normal(2.0, 0.5),
    Rectangular(-1.0, 3.0),
    CurvilinearTrapezoid(-1.0, 3.0, 0.4),
    Arcsine(-2.0, 2.0),
    StudentT(1.0, 0.3, 8.0),
]


@pytest.mark.parametrize("law", LAWS, ids=lambda law: type(law).__name__)
def test_draws_have_the_law_s_mean_and_spread(law: Law) -> None:
    drawn = law.draw(np.random.default_rng(4), 400_000)
    assert drawn.mean() == pytest.approx(law.mean, abs=6 * law.u / 400_000**0.5)
    assert drawn.std() == pytest.approx(law.u, rel=0.01)


def test_draws_follow_the_library_s_distributions() -> None:
    rng = np.random.default_rng(6)
    assert stats.kstest(Arcsine(-1.0, 1.0).draw(rng, 20_000), stats.arcsine(-1, 2).cdf).pvalue > 0.001
    assert stats.kstest(StudentT(0.0, 2.0, 5.0).draw(rng, 20_000), stats.t(5, scale=2).cdf).pvalue > 0.001
    assert stats.kstest(Rectangular(-1.0, 1.0).draw(rng, 20_000), stats.uniform(-1, 2).cdf).pvalue > 0.001


@pytest.mark.parametrize("dof", [1.0, 2.0])
def test_a_t_law_without_finite_spread_is_refused(dof: float) -> None:
    with pytest.raises(ValueOutOfRange, match="no finite spread"):
        StudentT(0.0, 1.0, dof)


def test_negative_spread_and_crossed_limits_are_refused() -> None:
    with pytest.raises(ValueOutOfRange, match="negative"):
        Normal(0.0, -1.0)
    with pytest.raises(ValueOutOfRange, match="must not exceed"):
        Rectangular(2.0, 1.0)
    with pytest.raises(ValueOutOfRange, match="finite"):
        Normal(math.nan, 1.0)
    with pytest.raises(ValueOutOfRange, match="inexact"):
        CurvilinearTrapezoid(0.0, 1.0, 0.6)
    with pytest.raises(ValueOutOfRange, match="negative"):
        combine(np.ones(2), np.array([1.0, -1.0]))


def test_impossible_correlations_are_refused() -> None:
    impossible = np.array([[1.0, 0.9, -0.9], [0.9, 1.0, 0.9], [-0.9, 0.9, 1.0]])
    with pytest.raises(ValueOutOfRange, match="contradict"):
        check_correlation(impossible)
    with pytest.raises(ValueOutOfRange, match="symmetric"):
        check_correlation(np.array([[1.0, 0.2], [0.3, 1.0]]))
    check_correlation(np.array([[1.0, 1.0], [1.0, 1.0]]))  # singular is possible


def test_combined_uncertainty_ignores_order_and_grows_with_any_uncorrelated_part() -> None:
    u = np.array([3.0, 1.0, 2.0])
    assert combine(np.ones(3), u) == pytest.approx(combine(np.ones(3), u[::-1]), rel=1e-15)
    assert combine(np.ones(4), np.append(u, 0.1)) > combine(np.ones(3), u)


def test_effective_degrees_of_freedom_of_equal_parts_add_up() -> None:
    assert effective_dof(np.ones(4), [10.0] * 4) == pytest.approx(40)
    assert math.isinf(effective_dof(np.ones(2), [math.inf, math.inf]))
    found = propagate(lambda x: x[0] + x[1], [Normal(0, 1, 5), Normal(0, 1, 5)], correlation=np.eye(2))
    assert math.isinf(found.dof)  # the formula is not valid once correlations are in play


def test_shortest_interval_of_a_skewed_law_is_shorter_than_the_symmetric_one() -> None:
    drawn = np.random.default_rng(1).exponential(size=200_000)
    found = summarize_draws(drawn)
    assert found.shortest_low < 0.01
    assert found.shortest_high == pytest.approx(-math.log(0.05), abs=0.05)
    assert found.low == pytest.approx(-math.log(0.975), abs=0.01)
    assert found.shortest_high - found.shortest_low < found.high - found.low


def test_joint_propagation_stops_only_when_every_output_is_stable() -> None:
    def draw(rng: np.random.Generator, n: int) -> np.ndarray:
        a = rng.standard_normal((2, n))
        return np.array([a[0], 100 * a[1]])

    drawn, converged = propagate_jointly(draw, np.random.default_rng(2))
    assert converged
    assert drawn.shape[0] == 2
    again, _ = propagate_jointly(draw, np.random.default_rng(2))
    assert np.array_equal(drawn, again)
    _, too_few = propagate_jointly(draw, np.random.default_rng(2), n_digits=3, max_trials=50_000)
    assert not too_few


def test_a_law_tells_its_parameters() -> None:
    assert law_fields(StudentT(1.0, 0.3, 8.0)) == {"law": "student_t", "mean": 1.0, "scale": 0.3, "dof": 8.0}


def test_exact_interval_of_a_proportion_at_its_ends() -> None:
    # Clopper and Pearson: 0 of n ends at 1 - (alpha / 2)^(1 / n).
    assert count_proportion(0, 50).high == pytest.approx(1 - 0.025 ** (1 / 50))
    assert count_proportion(50, 50).low == pytest.approx(0.025 ** (1 / 50))
    found = count_proportion(5, 25)
    assert (round(found.low, 3), round(found.high, 3)) == (0.068, 0.407)
