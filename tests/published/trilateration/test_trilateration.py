"""A published trilateration: two known points, two new ones, five distances."""

import tomllib
from pathlib import Path

import numpy as np

from seatwright.cast import Distances, adjust_network, snoop

EXPECTED = tomllib.loads(Path(__file__).with_name("source.toml").read_text(encoding="utf-8"))["expected"]
PAIRS = np.array([[0, 2], [0, 3], [1, 2], [1, 3], [2, 3]])
# meters here: the adjustment knows no unit of its own
LENGTH = np.array([1000.02, 1414.20, 1414.24, 999.98, 1000.00])
START = np.array([[0.0, 1000.0], [1000.0, 1000.0], [5.0, -7.0], [990.0, 4.0]])


def half_digit(printed: str) -> float:
    return 0.5001 * 10.0 ** -len(printed.partition(".")[2])


def agrees(found: float, printed: str) -> bool:
    return abs(found - float(printed)) <= half_digit(printed)


def fitted():
    distances = Distances(PAIRS, LENGTH, np.full(5, 0.010))
    return adjust_network(START, distances, fixed=(0, 1)), distances


def test_coordinates_match() -> None:
    fit, _ = fitted()
    for found, name in zip(fit.points_mm[2:].ravel(), ("x3_m", "y3_m", "x4_m", "y4_m"), strict=True):
        assert agrees(found, EXPECTED[name]), name
    assert fit.defect == 0
    assert fit.n_redundant == 1
    assert fit.converged


def test_spreads_match() -> None:
    fit, _ = fitted()
    sigma0 = 10.0 * np.sqrt(fit.variance_factor)
    assert agrees(sigma0, EXPECTED["sigma0_mm"])
    sd_cm = 100 * np.sqrt(np.diag(fit.covariance)[4:6] * fit.variance_factor)
    assert sorted(np.round(sd_cm, 3)) == sorted([float(EXPECTED["sd_x3_cm"]), float(EXPECTED["sd_y3_cm"])])


def test_residuals_redundancies_and_normalized_residuals_match() -> None:
    fit, distances = fitted()
    for k in range(5):
        assert agrees(100 * fit.residual_mm[k], EXPECTED["v_cm"][k])
        assert agrees(fit.redundancy[k], EXPECTED["r"][k])
    found = snoop(fit, distances)
    assert all(agrees(abs(w), EXPECTED["w"]) for w in found.w)
    assert found.suspects == ()
