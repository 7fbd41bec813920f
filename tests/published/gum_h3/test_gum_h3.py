"""A line through readings as conditioning of a vague joint law: the thermometer of JCGM 100:2008, H.3."""

import numpy as np

from seatwright.forecast import condition_linear
from seatwright.quantities import Normal, propagate

TEMPERATURE = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
CORRECTION = np.array([-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160])


def fitted() -> tuple[np.ndarray, np.ndarray, float]:
    observe = np.column_stack([np.ones(11), TEMPERATURE - 20.0])
    vague = np.eye(2) * 1e6
    estimate, _ = condition_linear(np.zeros(2), vague, observe, CORRECTION, np.eye(11))
    s = float(np.sqrt(np.sum((CORRECTION - observe @ estimate) ** 2) / 9))
    estimate, covariance = condition_linear(np.zeros(2), vague, observe, CORRECTION, np.eye(11) * s**2)
    return estimate, covariance, s


def test_intercept_slope_and_their_correlation_match_the_guide() -> None:
    (y1, y2), covariance, s = fitted()
    u1, u2 = np.sqrt(np.diag(covariance))
    assert abs(y1 - -0.1712) <= 0.00005
    assert abs(u1 - 0.0029) <= 0.00005
    assert abs(y2 - 0.00218) <= 0.000005
    assert abs(u2 - 0.00067) <= 0.000005
    assert abs(covariance[0, 1] / (u1 * u2) - -0.930) <= 0.0005
    assert abs(s - 0.0035) <= 0.00005


def test_prediction_at_30_degrees_needs_the_correlation() -> None:
    estimate, covariance, _ = fitted()
    u = np.sqrt(np.diag(covariance))
    laws = [Normal(float(e), float(v)) for e, v in zip(estimate, u, strict=True)]
    found = propagate(lambda x: x[0] + 10.0 * x[1], laws, correlation=covariance / np.outer(u, u))
    assert abs(found.value - -0.1494) <= 0.00005
    assert abs(found.u - 0.0041) <= 0.00005
    assert propagate(lambda x: x[0] + 10.0 * x[1], laws).u > 0.006
