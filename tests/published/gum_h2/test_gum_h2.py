"""Correlated inputs: resistance, reactance and impedance of JCGM 100:2008, H.2."""

import numpy as np
import pytest

from seatwright.errors import ValueOutOfRange
from seatwright.quantities import Normal, propagate

VOLTAGE = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
CURRENT = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) / 1000
PHASE = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
READINGS = np.vstack([VOLTAGE, CURRENT, PHASE])

CASES = {
    "R": (lambda x: x[0] / x[1] * np.cos(x[2]), 127.732, 0.071),
    "X": (lambda x: x[0] / x[1] * np.sin(x[2]), 219.847, 0.295),
    "Z": (lambda x: x[0] / x[1], 254.260, 0.236),
}


def laws() -> list[Normal]:
    return [Normal(float(r.mean()), float(r.std(ddof=1) / len(r) ** 0.5)) for r in READINGS]


@pytest.mark.parametrize("name", CASES)
def test_correlated_inputs_match_the_printed_results(name: str) -> None:
    model, value, u = CASES[name]
    found = propagate(model, laws(), correlation=np.corrcoef(READINGS))
    assert abs(found.value - value) <= 0.0005
    # The guide works with rounded means and correlations: one unit of the last printed digit.
    assert abs(found.u - u) <= 0.001


def test_dropping_the_correlations_gives_the_wrong_uncertainty() -> None:
    model, _, u = CASES["R"]
    assert propagate(model, laws()).u == pytest.approx(0.1945, abs=0.0005)
    assert u < 0.1


def test_second_order_with_correlations_is_refused() -> None:
    with pytest.raises(ValueOutOfRange, match="independent"):
        propagate(CASES["R"][0], laws(), correlation=np.corrcoef(READINGS), second_order=True)
