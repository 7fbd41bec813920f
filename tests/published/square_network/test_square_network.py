"""A 40 mm square with its diagonals: everything is known in closed form."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from seatwright.cast import Distances, adjust_network, localize, snoop

EXPECTED = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))["expected"]
SQUARE = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]])
PAIRS = np.array([[0, 1], [1, 2], [2, 3], [3, 0], [0, 2], [1, 3]])
TRUE = np.linalg.norm(SQUARE[PAIRS[:, 0]] - SQUARE[PAIRS[:, 1]], axis=1)


def agrees(found: float, printed: str) -> bool:
    return abs(found - float(printed)) <= 0.5001 * 10.0 ** -len(printed.partition(".")[2])


def test_rank_redundancy_and_trace() -> None:
    fit = adjust_network(SQUARE, Distances(PAIRS, TRUE, np.ones(6)))
    assert (fit.defect, fit.n_redundant) == (3, 1)
    assert all(agrees(r, EXPECTED["r_side"]) for r in fit.redundancy[:4])
    assert all(agrees(r, EXPECTED["r_diagonal"]) for r in fit.redundancy[4:])
    assert agrees(np.trace(fit.covariance), EXPECTED["trace_q"])
    assert np.linalg.matrix_rank(fit.covariance, tol=1e-9) == 5


@pytest.mark.parametrize("wrong", [4, 5])
def test_error_of_one_diagonal_spreads_over_all_and_is_detected_not_located(wrong) -> None:
    length = TRUE.copy()
    length[wrong] += 0.100
    distances = Distances(PAIRS, length, np.full(6, 0.010))
    fit = adjust_network(SQUARE, distances)
    assert all(agrees(v, EXPECTED["v_side"]) for v in fit.residual_mm[:4])
    assert all(agrees(v, EXPECTED["v_diagonal"]) for v in fit.residual_mm[4:])
    found = snoop(fit, distances)
    assert np.ptp(np.abs(found.w)) < 1e-2
    assert len(found.suspects) == 6
    assert not found.is_located


def test_fourth_mark_localized_on_the_others() -> None:
    fit = adjust_network(SQUARE, Distances(PAIRS, TRUE, np.ones(6)))
    _, covariance = localize(SQUARE, np.zeros(8), 2 * fit.covariance, stable=(0, 1, 2))
    block = covariance[6:, 6:]
    assert agrees(block[0, 0], EXPECTED["mark_4_diagonal"])
    assert agrees(block[1, 1], EXPECTED["mark_4_diagonal"])
    assert agrees(abs(block[0, 1]), EXPECTED["mark_4_mixed"])
