"""Tripod marks: they lie in one plane on free places, give the path back, and their uncertainty covers."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from tests.shapes import ball, turned

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.survey import choose_tripod, make_path, measure_retilt, measure_undercut, read_tripod

EXPECTED = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))["expected"]
DOWN = make_path((0.0, 0.0, -1.0))


def equilateral(side: float) -> np.ndarray:
    return side * np.array([[0.0, 0, 0], [1, 0, 0], [0.5, np.sqrt(0.75), 0]])


def test_equilateral_marks_bring_the_tilt_back_as_the_closed_form_says() -> None:
    worst, best = measure_retilt(equilateral(40.0), DOWN, 0.1, 0.1)
    assert f"{worst:.3f}" == f"{best:.3f}" == EXPECTED["retilt_deg"]


def test_marks_on_a_dome_are_free_level_wide_and_give_the_path_back() -> None:
    outline = np.array([[12 * np.sin(t), 12 * np.cos(t)] for t in np.linspace(2.4, 0.02, 60)])
    surface = turned(outline, n_around=180)
    path = make_path((0.2, 0.1, -1.0))
    field = measure_undercut(surface, path)
    marks = choose_tripod(field)
    assert marks is not None
    heights = marks.points_mm @ np.array(path.withdraw_direction)
    assert np.ptp(heights) < 1e-9
    # on a ball of radius 12 the widest level circle in sight is the equator: sides near 12 sqrt(3)
    assert min(marks.sides_mm) > 0.8 * 12 * np.sqrt(3)
    back = read_tripod(marks.points_mm, withdraw_hint=(0, 0, 1.0))
    assert np.allclose(back.path.seat_direction, path.seat_direction, atol=1e-9)


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 0, 2)])
def test_mirrored_solution_is_resolved_by_the_way_out(order) -> None:
    turn = Rotation.from_euler("xy", [8, -12], degrees=True)
    marks = turn.apply(equilateral(30.0))[list(order)]
    up = turn.apply([0, 0, 1.0])
    assert np.allclose(read_tripod(marks, withdraw_hint=(0, 0, 1)).path.withdraw_direction, up, atol=1e-9)
    assert np.allclose(read_tripod(marks, withdraw_hint=(0, 0, -1)).path.withdraw_direction, -up, atol=1e-9)
    with pytest.raises(CannotCompute):
        read_tripod(marks, withdraw_hint=marks[1] - marks[0])


def test_marks_on_one_line_are_refused() -> None:
    line = np.array([[0.0, 0, 0], [10, 0.3, 0], [20, 0, 0]])
    with pytest.raises(CannotCompute):
        read_tripod(line, withdraw_hint=(0, 0, 1))
    with pytest.raises(CannotCompute):
        measure_retilt(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]]), DOWN, 0.1, 0.1)


@pytest.mark.parametrize("u", [0.0, -1.0, np.nan])
def test_mark_without_an_uncertainty_is_refused(u) -> None:
    with pytest.raises(ValueOutOfRange):
        read_tripod(equilateral(20.0), withdraw_hint=(0, 0, 1), u_mark_mm=u)


def test_drawn_marks_scatter_as_the_covariance_says() -> None:
    rng = np.random.default_rng(11)
    marks = np.array([[0.0, 0, 0], [45, 3, 0], [20, 14, 0]])
    truth = read_tripod(marks, withdraw_hint=(0, 0, 1), u_mark_mm=0.1)
    drawn = []
    for _ in range(4000):
        moved = marks + rng.normal(0, 0.1, (3, 3))
        drawn.append(read_tripod(moved, withdraw_hint=(0, 0, 1)).path.withdraw_direction)
    measured = np.cov(np.array(drawn).T)
    # standard error of a variance from 4000 draws: 2.2 %
    assert np.allclose(
        np.sort(np.linalg.eigvalsh(measured))[1:], np.sort(np.linalg.eigvalsh(truth.cov_rad2))[1:], rtol=0.07
    )
    worst, best = truth.u_tilt_deg
    assert worst > best
    assert np.degrees(np.sqrt(np.linalg.eigvalsh(measured)[-1])) == pytest.approx(worst, rel=0.04)


def test_nothing_free_offers_no_marks() -> None:
    assert choose_tripod(measure_undercut(ball(0.3, subdivisions=3), DOWN)) is None
