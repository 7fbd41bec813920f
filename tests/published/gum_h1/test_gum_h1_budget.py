"""The whole budget of JCGM 100:2008, H.1, by our law of propagation, and the same by a general-purpose package."""

import math

import metrolopy
import numpy as np
import pytest

from seatwright.quantities import Budget, Normal, combine, effective_dof, propagate

# JCGM 100:2008, table H.1, nm and degrees Celsius.
L_S, U_L_S, DOF_L_S = 50_000_623.0, 25.0, 18.0
D, U_D, DOF_D = 215.0, 9.7, 25.6
ALPHA, U_ALPHA = 11.5e-6, 1.2e-6
THETA, U_THETA = -0.1, 0.41
U_DELTA_ALPHA, DOF_DELTA_ALPHA = 0.58e-6, 50.0
U_DELTA_THETA, DOF_DELTA_THETA = 0.029, 2.0


def end_gauge(x: np.ndarray) -> np.ndarray:
    length, difference, alpha, theta, delta_alpha, delta_theta = x
    return length + difference - length * (delta_alpha * theta + alpha * delta_theta)


def budget(*, second_order: bool = False) -> Budget:
    laws = [
        Normal(L_S, U_L_S, DOF_L_S),
        Normal(D, U_D, DOF_D),
        Normal(ALPHA, U_ALPHA),
        Normal(THETA, U_THETA),
        Normal(0.0, U_DELTA_ALPHA, DOF_DELTA_ALPHA),
        Normal(0.0, U_DELTA_THETA, DOF_DELTA_THETA),
    ]
    return propagate(end_gauge, laws, second_order=second_order)


def test_end_gauge_matches_the_printed_budget() -> None:
    found = budget()
    assert abs(found.value - 50_000_838) <= 0.5
    assert abs(found.u - 32) <= 0.5
    assert math.floor(found.dof) == 16
    low, high = found.interval(0.99)
    assert abs((high - low) / 2 - 93) <= 0.5
    # Printed contributions 25, 9.7, 0, 0, 2.9 and 16.6 nm; the guide rounds 575 x 0.029 = 16.675 down.
    assert found.contributions == pytest.approx([25, 9.7, 0, 0, 2.9, 16.6], abs=0.08)


def test_end_gauge_second_order_gives_34_nm() -> None:
    assert abs(budget(second_order=True).u - 34) <= 0.5


def test_difference_component_combines_to_9_7_nm_and_25_6_degrees_of_freedom() -> None:
    parts = np.array([5.8, 3.9, 6.7])
    assert abs(combine(np.ones(3), parts) - 9.7) <= 0.05
    assert abs(effective_dof(parts, [24, 5, 8]) - 25.6) <= 0.2  # the guide works with unrounded parts


def test_a_general_purpose_package_gives_the_same_budget() -> None:
    length = metrolopy.gummy(L_S, U_L_S, dof=DOF_L_S)
    difference = metrolopy.gummy(D, U_D, dof=DOF_D)
    alpha, theta = metrolopy.gummy(ALPHA, U_ALPHA), metrolopy.gummy(THETA, U_THETA)
    delta_alpha = metrolopy.gummy(0, U_DELTA_ALPHA, dof=DOF_DELTA_ALPHA)
    delta_theta = metrolopy.gummy(0, U_DELTA_THETA, dof=DOF_DELTA_THETA)
    other = length + difference - length * (delta_alpha * theta + alpha * delta_theta)
    own = budget()
    assert own.value == pytest.approx(float(other.x), abs=1e-3)
    assert own.u == pytest.approx(float(other.u), rel=1e-6)
    assert own.dof == pytest.approx(float(other.dof), rel=1e-4)
