"""One partial, one float: against closed forms, a brute search over the shift, and laws."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from seatwright.errors import CannotCompute
from seatwright.survey._shared_float import find_float_center, find_least_shift, measure_float_slack, reach_with_float
from seatwright.survey._walls import Wall, box_walls, cone_walls

X, Y, Z = np.eye(3)


def lean(x_deg: float, y_deg: float = 0.0) -> np.ndarray:
    axis = np.array([math.tan(math.radians(x_deg)), math.tan(math.radians(y_deg)), 1.0])
    return axis / np.linalg.norm(axis)


def box(name: str, axis: np.ndarray, gap_mm: float, length_mm: float = 5.0, turn: float = 0.0) -> tuple[Wall, ...]:
    one = X * math.cos(turn) + Y * math.sin(turn)
    other = np.cross(Z, one)
    sides = (("mesial", one), ("distal", -one), ("facial", other), ("lingual", -other))
    return box_walls(name, axis, sides, length_mm=length_mm, gap_mm=gap_mm)


def brute_slack_mm(walls: tuple[Wall, ...], direction: np.ndarray, step_mm: float = 0.0005) -> float:
    """Best least room over a grid of shifts across Z: slow and plain."""
    ticks = np.arange(-0.06, 0.06 + step_mm, step_mm)
    shifts = np.stack(np.meshgrid(ticks, ticks), axis=-1).reshape(-1, 2)
    room = [
        w.gap_mm + shifts @ w.normal[:2] + min(0.0, w.length_mm * (w.normal @ direction) / (w.along @ direction))
        for w in walls
    ]
    return float(np.min(room, axis=0).max())


@pytest.mark.parametrize("gap_mm", [0.005, 0.02, 0.1])
@pytest.mark.parametrize("length_mm", [2.0, 5.0])
def test_one_slide_reaches_the_angle_of_twice_its_gap(gap_mm: float, length_mm: float) -> None:
    walls = box("slide", Z, gap_mm, length_mm)
    for towards in (X, -X, Y, -Y):
        reach = reach_with_float(walls, Z, towards)
        assert math.degrees(reach.angle_rad) == pytest.approx(math.degrees(math.atan2(2 * gap_mm, length_mm)), abs=2e-4)


def test_two_parallel_slides_float_as_one() -> None:
    reach = reach_with_float(box("a", Z, 0.02) + box("b", Z, 0.05), Z, X)
    assert math.degrees(reach.angle_rad) == pytest.approx(math.degrees(math.atan2(0.04, 5.0)), abs=2e-4)
    assert {name.split()[0] for name, _ in reach.limits} == {"a"}


def test_two_slides_apart_lose_half_of_their_angle_on_each_side() -> None:
    walls = box("a", Z, 0.02) + box("b", lean(0.3), 0.02)
    middle = lean(0.15)
    expected = math.degrees(math.atan2(0.04, 5.0)) - 0.15
    for towards in (X, -X):
        assert math.degrees(reach_with_float(walls, middle, towards).angle_rad) == pytest.approx(expected, abs=3e-4)


def test_floats_may_not_simply_be_intersected() -> None:
    """A slide alone floats by 0.46 degree and a cone admits 6; the cone pins the partial, so both admit 0.23."""
    pinned = box("a", Z, 0.02) + cone_walls("conus", Z, taper_rad=math.radians(6), length_mm=4.0, gap_mm=0.0)
    reach = reach_with_float(pinned, Z, X)
    assert math.degrees(reach.angle_rad) == pytest.approx(math.degrees(math.atan2(0.02, 5.0)), abs=2e-4)


@pytest.mark.parametrize("seed", range(8))
def test_the_slack_is_that_of_a_brute_search_over_the_shift(seed: int) -> None:
    rng = np.random.default_rng(seed)
    walls: tuple[Wall, ...] = ()
    for k in range(3):
        walls += box(f"s{k}", lean(*rng.uniform(-0.2, 0.2, 2)), rng.uniform(0.01, 0.03), 4.0, rng.uniform(0, 1.5))
    direction = lean(*rng.uniform(-0.3, 0.3, 2))
    room = measure_float_slack(walls, direction)
    assert room.slack_mm == pytest.approx(brute_slack_mm(walls, direction), abs=0.0008)
    assert sum(share for _, share in room.limits) == pytest.approx(1.0)


def test_axes_too_far_apart_say_by_how_much_every_gap_would_have_to_grow() -> None:
    walls = box("a", Z, 0.01) + box("b", lean(2.6), 0.01)
    middle = find_float_center(walls, Z)
    needed_mm = 0.01 - middle.room.slack_mm
    assert needed_mm == pytest.approx(5.0 * math.tan(math.radians(1.3)), rel=0.05)
    assert {name.split()[0] for name, _ in middle.room.limits} == {"a", "b"}


def test_opposite_axes_are_refused_with_the_remedy() -> None:
    with pytest.raises(CannotCompute, match="opposite"):
        measure_float_slack(box("a", Z, 0.02) + box("b", -Z, 0.02), Z)


@settings(max_examples=25)
@given(st.integers(0, 1000), st.floats(0.0, 0.02), st.floats(-0.4, 0.4), st.floats(-0.4, 0.4))
def test_room_grows_with_clearance_and_shrinks_with_slides(seed: int, more: float, x: float, y: float) -> None:
    rng = np.random.default_rng(seed)
    axes = [lean(*rng.uniform(-0.2, 0.2, 2)) for _ in range(2)]
    few, both = box("a", axes[0], 0.02), box("a", axes[0], 0.02) + box("b", axes[1], 0.015)
    wider = box("a", axes[0], 0.02 + more) + box("b", axes[1], 0.015 + more)
    here = measure_float_slack(both, lean(x, y)).slack_mm
    assert measure_float_slack(few, lean(x, y)).slack_mm >= here - 1e-6
    assert measure_float_slack(wider, lean(x, y)).slack_mm >= here - 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_the_least_shift_is_the_shortest_of_a_brute_search(seed: int) -> None:
    rng = np.random.default_rng(seed)
    tilts = rng.uniform(-0.15, 0.15, 4)
    walls = (*box("a", lean(*tilts[:2]), 0.02), *box("b", lean(*tilts[2:]), 0.02, turn=rng.uniform(0, 1.5)))
    way = lean(*rng.uniform(-0.25, 0.25, 2))
    least = find_least_shift(walls, way)
    side = np.linspace(-0.03, 0.03, 601)
    x, y = np.meshgrid(side, side)
    shifts = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1)
    fits = np.ones(len(shifts), dtype=bool)
    for w in walls:
        run = w.length_mm * (w.normal @ way) / (w.along @ way)
        fits &= w.gap_mm + shifts @ w.normal + min(run, 0.0) >= 0
    if least is None:
        assert not fits.any()
        return
    assert np.linalg.norm(least) == pytest.approx(np.linalg.norm(shifts[fits], axis=1).min(), abs=2e-4)
