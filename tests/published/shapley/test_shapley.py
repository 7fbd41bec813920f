"""Shapley effects against closed forms: dependent linear inputs, and the Ishigami function with independent ones."""

import numpy as np
import pytest

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities import estimate_shapley, shapley_of_linear

COV = np.array([[1.0, 0.5], [0.5, 1.0]])
LINEAR = np.array([1.0, 2.0])
EXPECTED = np.array([0.339286, 0.660714])


def test_two_correlated_linear_inputs_match_the_closed_form() -> None:
    found = shapley_of_linear(LINEAR, COV, [[0], [1]])
    assert found / found.sum() == pytest.approx(EXPECTED, abs=5e-7)
    assert found.sum() == pytest.approx(LINEAR @ COV @ LINEAR)


def test_the_sampled_estimate_covers_the_closed_form_for_correlated_inputs() -> None:
    samples = np.random.default_rng(4).multivariate_normal(np.zeros(2), COV, (2, 40_000))
    found = estimate_shapley(
        lambda x: x @ LINEAR, (samples[0], samples[1]), [[0], [1]], np.random.default_rng(1), joint=([0, 1], COV)
    )
    assert np.all(np.abs(found.effect - EXPECTED) < 4 * found.u_effect)
    assert np.all(found.u_effect < 0.01)
    assert found.effect.sum() == pytest.approx(1)


def test_ishigami_effects_match_the_closed_form() -> None:
    def ishigami(x: np.ndarray) -> np.ndarray:
        return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])

    one, two = np.random.default_rng(20).uniform(-np.pi, np.pi, (2, 1 << 16, 3))
    found = estimate_shapley(ishigami, (one, two), [[0], [1], [2]], np.random.default_rng(2))
    assert np.all(np.abs(found.effect - [0.4357, 0.4424, 0.1218]) < 4 * found.u_effect + 0.00005)
    assert np.all(found.u_effect < 0.01)
    assert abs(found.variance - 13.8446) < 0.2


def test_groups_share_a_nonlinear_output_of_correlated_inputs_as_the_subsets_say() -> None:
    # Y = X1 X2 + X3 with corr(X1, X2) = r: known subsets give 0, r^2-terms and all; computed by hand from moments.
    r = 0.6
    cov = np.array([[1.0, r, 0.0], [r, 1.0, 0.0], [0.0, 0.0, 1.0]])
    samples = np.random.default_rng(6).multivariate_normal(np.zeros(3), cov, (2, 60_000))
    found = estimate_shapley(
        lambda x: x[:, 0] * x[:, 1] + x[:, 2],
        (samples[0], samples[1]),
        [[0], [1], [2]],
        np.random.default_rng(1),
        joint=([0, 1], cov[:2, :2]),
    )
    # Var(X1 X2) = 1 + r^2; E[X1 X2 | X1] = r X1^2 with variance 2 r^2: each gets half of 1 + r^2 by symmetry.
    total = 2 + r**2
    assert np.all(np.abs(found.effect - np.array([(1 + r**2) / 2, (1 + r**2) / 2, 1.0]) / total) < 4 * found.u_effect)


def test_inputs_that_move_together_share_alike_though_only_one_is_used() -> None:
    whole = np.ones((2, 2))
    assert shapley_of_linear(np.array([1.0, 0.0]), whole, [[0], [1]]) == pytest.approx([0.5, 0.5])


def test_what_does_not_vary_cannot_be_ranked_and_too_little_is_refused() -> None:
    rng = np.random.default_rng(1)
    one, two = rng.standard_normal((2, 200, 2))
    with pytest.raises(CannotCompute, match="not vary"):
        estimate_shapley(lambda x: np.ones(len(x)), (one, two), [[0], [1]], rng)
    with pytest.raises(ValueOutOfRange, match="two rows"):
        estimate_shapley(lambda x: x[:, 0], (one[:20], two[:20]), [[0], [1]], rng)
    with pytest.raises(ValueOutOfRange, match="at most"):
        shapley_of_linear(np.ones(20), np.eye(20), [[k] for k in range(20)])
