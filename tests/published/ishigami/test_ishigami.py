"""Sobol indices of the Ishigami function against its closed form."""

import numpy as np

from seatwright.quantities import estimate_sobol

A, B = 7.0, 0.1


def ishigami(x: np.ndarray) -> np.ndarray:
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_indices_match_the_closed_form_within_their_standard_errors() -> None:
    rng = np.random.default_rng(20)
    one, two = rng.uniform(-np.pi, np.pi, (2, 1 << 17, 3))
    found = estimate_sobol(ishigami, one, two, [[0], [1], [2]])
    assert abs(found.variance - 13.8446) < 0.15
    first, total = np.array([0.3139, 0.4424, 0.0]), np.array([0.5576, 0.4424, 0.2437])
    assert np.all(np.abs(found.first - first) < 4 * found.u_first + 0.00005)
    assert np.all(np.abs(found.total - total) < 4 * found.u_total + 0.00005)
    assert np.all(found.u_total < 0.01)


def test_an_interaction_shows_as_total_above_first() -> None:
    rng = np.random.default_rng(3)
    one, two = rng.uniform(-np.pi, np.pi, (2, 1 << 14, 3))
    found = estimate_sobol(ishigami, one, two, [[0], [1], [2]])
    assert found.total[2] - found.first[2] > 0.2
    assert abs(found.total[1] - found.first[1]) < 0.05
