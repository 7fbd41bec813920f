import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seatwright.errors import ValueOutOfRange
from seatwright.quantities import Measured, apply_transform, invert_transform, make_transform, rotation_vector_rad

numbers = st.floats(-1e3, 1e3, allow_nan=False)
vectors = st.tuples(numbers, numbers, numbers).map(np.array)
rotations = st.tuples(*[st.floats(-1.7, 1.7)] * 3).map(np.array)


@pytest.mark.parametrize("bad", [(math.nan, 1.0), (1.0, math.inf), (1.0, -0.1)])
def test_measured_with_an_impossible_value_is_refused(bad: tuple[float, float]) -> None:
    with pytest.raises(ValueOutOfRange):
        Measured(*bad, "mm")


def test_measured_interval_with_few_degrees_of_freedom_is_wider() -> None:
    assert Measured(0.0, 1.0, "mm", dof=5).interval()[1] > Measured(0.0, 1.0, "mm").interval()[1]


def test_measured_without_uncertainty_shows_the_value_alone() -> None:
    assert Measured(5.0, 0.0, "min").shown() == "5 min"


@given(rotations, vectors, vectors)
def test_transform_followed_by_its_inverse_returns_the_point(rotation, translation, point) -> None:
    T_target_source = make_transform(rotation, translation)
    back = apply_transform(invert_transform(T_target_source), apply_transform(T_target_source, point[None]))
    assert np.allclose(back, point, atol=1e-9)


@given(rotations)
def test_rotation_vector_survives_the_round_trip(rotation) -> None:
    assert np.allclose(rotation_vector_rad(make_transform(rotation, np.zeros(3))), rotation, atol=1e-9)


def test_a_scaled_matrix_is_not_a_rigid_motion() -> None:
    with pytest.raises(ValueOutOfRange, match="not a rigid motion"):
        invert_transform(np.diag([2.0, 2.0, 2.0, 1.0]))
