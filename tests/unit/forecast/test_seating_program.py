"""The seating program against a general solver, a closed form, and the laws it must obey."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import linprog
from scipy.spatial.transform import Rotation

from seatwright.case import MaleJoin
from seatwright.errors import ValueOutOfRange
from seatwright.forecast import _simplex
from seatwright.forecast._bodies import Abutment, Body
from seatwright.forecast._choices import Choices
from seatwright.forecast._program import SeatingProgram, build_program

from .seating_cases import (
    IMPLANT_GIVE_MM,
    UP,
    four_slides_three_rests,
    implant_body,
    program,
    random_errors,
    rest,
    slide,
    tooth_body,
    two_slides,
)


def solve_generally(made: SeatingProgram, limits: np.ndarray) -> float:
    answer = linprog(-np.eye(made.rows.shape[1])[-1], A_ub=made.rows, b_ub=limits, bounds=(None, None), method="highs")
    assert answer.status == 0
    return -float(answer.fun)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_slack_equals_that_of_a_general_solver(seed: int) -> None:
    features, bodies = four_slides_three_rests()
    made = program(features, bodies)
    errors = random_errors(features, 60, seed=seed, side_mm=0.12)
    found = made.solve(errors).slack_mm
    general = [solve_generally(made, limits) for limits in made.limits(errors)]
    assert found == pytest.approx(general, abs=5e-6)
    assert (found < 0).any()
    assert (found > 0).any()


def test_sign_only_decides_like_the_full_solution() -> None:
    features, bodies = four_slides_three_rests()
    errors = random_errors(features, 3000, side_mm=0.12)
    full = program(features, bodies).solve(errors).slack_mm
    fast = program(features, bodies).solve(errors, sign_only=True).slack_mm
    clear = np.abs(full) > 1e-5
    assert np.array_equal(full[clear] < 0, fast[clear] < 0)
    assert 0.05 < (full < 0).mean() < 0.95


def test_least_squares_placement_is_sufficient_but_not_necessary() -> None:
    features, bodies = four_slides_three_rests()
    made = program(features, bodies)
    errors = random_errors(features, 2000, side_mm=0.10)
    exact = made.solve(errors, sign_only=True).slack_mm >= 0
    walls = made.projection.shape[0]
    moves = made.rows[:walls, :-1]
    placed = -np.linalg.lstsq(moves, (errors @ made.projection.T).T, rcond=None)[0].T
    left = made.limits(errors) - placed @ made.rows[:, :-1].T
    accepted = np.all(left >= 0, axis=1)
    assert not np.any(accepted & ~exact)
    assert accepted.sum() < exact.sum()


def test_two_slides_match_the_closed_form() -> None:
    # Distance error N(0, 30 µm), 20 µm of room on each side of each: 2 Phi(2 g / u) - 1 = .8176.
    features, bodies = two_slides(0.020 - IMPLANT_GIVE_MM)
    made = program(features, bodies)
    n = 200_000
    errors = np.zeros((n, 12))
    errors[:, 6] = np.random.default_rng(8).normal(0.0, 0.030, n)
    seats = np.mean(made.solve(errors, sign_only=True).slack_mm >= 0)
    expected = 2 * stats.norm.cdf(40 / 30) - 1
    assert expected == pytest.approx(0.8176, abs=0.00005)
    assert seats == pytest.approx(expected, abs=4 * math.sqrt(expected * (1 - expected) / n))


def test_a_turned_male_is_held_by_its_length_and_takes_the_other_along() -> None:
    # A single slide of 5 mm turns the partial with it: nothing else holds, so any turn seats.
    features, bodies = (slide("a", 0, (0.0, 0.0, 0.0)),), (implant_body(34, (0.0, 0.0, 0.0)),)
    turned = np.zeros((1, 6))
    turned[0, 4] = 0.05
    assert program(features, bodies, rest_gap_um=311.0).solve(turned).slack_mm[0] > 0
    # Two of them with opposite turns: each end must take half length times the difference halved.
    features, bodies = two_slides(0.020 - IMPLANT_GIVE_MM)
    for half_turn, seats in ((0.006, True), (0.012, False)):
        errors = np.zeros((1, 12))
        errors[0, 3], errors[0, 9] = half_turn, -half_turn
        assert (program(features, bodies).solve(errors).slack_mm[0] >= 0) == seats


def test_more_clearance_never_takes_room_away() -> None:
    previous = None
    for gap in (0.005, 0.010, 0.020, 0.040):
        features, bodies = four_slides_three_rests(gap)
        slack = program(features, bodies).solve(random_errors(features, 400, side_mm=0.1)).slack_mm
        assert previous is None or np.all(slack >= previous - 1e-5)
        previous = slack


def test_one_more_feature_never_adds_room() -> None:
    features, bodies = four_slides_three_rests()
    errors = random_errors(features, 400, side_mm=0.1)
    fewer = program(features[:3] + features[4:], bodies).solve(
        np.delete(errors.reshape(400, 7, 6), 3, 1).reshape(400, -1)
    )
    more = program(features, bodies).solve(errors)
    assert np.all(more.slack_mm <= fewer.slack_mm + 1e-5)


def test_moving_the_whole_case_changes_nothing() -> None:
    features, bodies = four_slides_three_rests()
    errors = random_errors(features, 200, side_mm=0.1)
    turn, shift = Rotation.from_rotvec([0.4, -0.7, 1.1]), np.array([12.0, -40.0, 7.0])
    moved = tuple(replace(f, at_mm=turn.apply(f.at_mm) + shift, axis=turn.apply(f.axis)) for f in features)
    moved_bodies = tuple(
        replace(b, abutments=tuple(replace(a, at_mm=turn.apply(a.at_mm) + shift) for a in b.abutments)) for b in bodies
    )
    moved_errors = turn.apply(errors.reshape(-1, 3)).reshape(errors.shape)
    there = build_program(moved, moved_bodies, turn.apply(UP), Choices()).solve(moved_errors)
    here = program(features, bodies).solve(errors)
    assert there.slack_mm == pytest.approx(here.slack_mm, abs=1e-5)


def test_diverging_axes_are_a_nominal_interference() -> None:
    # Two slides of 5 mm with 20 µm a side: atan(2 * .02 / 5) = .46 degrees is the most one path can bridge.
    for divergence_deg, enters in ((0.3, True), (2.6, False)):
        features, bodies = two_slides(0.020)
        lean = np.array([math.sin(math.radians(divergence_deg)), 0.0, math.cos(math.radians(divergence_deg))])
        features = (features[0], replace(features[1], axis=lean))
        slack = program(features, bodies, rest_gap_um=311.0).solve(np.zeros((1, 12))).slack_mm[0]
        assert (slack >= 0) == enters


def test_two_males_on_one_crown_share_its_play() -> None:
    # One crown may follow one male, not two that disagree: 60 µm between them exceeds 2 x 20 µm of clearance.
    bodies = (tooth_body(35, (0.0, 0.0, 0.0)), tooth_body(44, (30.0, 0.0, 0.0)))
    shared = (slide("a", 0, (0.0, 0.0, 0.0)), slide("b", 0, (4.0, 0.0, 0.0)))
    apart = (slide("a", 0, (0.0, 0.0, 0.0)), slide("b", 1, (4.0, 0.0, 0.0)))
    errors = np.zeros((1, 12))
    errors[0, 6] = 0.060
    assert program(shared, bodies).solve(errors).slack_mm[0] < 0
    assert program(apart, bodies).solve(errors).slack_mm[0] > 0


def test_a_crown_on_an_implant_has_no_play_of_its_own() -> None:
    errors = np.zeros((1, 12))
    errors[0, 6] = 0.060
    features, on_implants = two_slides(0.020)
    on_teeth = (tooth_body(34, (0.0, 0.0, 0.0)), tooth_body(44, (30.0, 0.0, 0.0)))
    assert program(features, on_implants).solve(errors).slack_mm[0] < 0
    assert program(features, on_teeth).solve(errors).slack_mm[0] > 0


def test_a_rest_may_stand_off_but_never_sink_in() -> None:
    bodies = tuple(
        implant_body(t, p) for t, p in ((34, (0.0, 0.0, 0.0)), (44, (30.0, 0.0, 0.0)), (37, (0.0, 30.0, 0.0)))
    )
    rests = tuple(rest(f"r{i}", i, tuple(b.abutments[0].at_mm)) for i, b in enumerate(bodies))
    fourth = Body("47", (47,), (Abutment(47, np.array([30.0, 30.0, 0.0]), True, True, None, "analog"),))
    features = (*rests, rest("r3", 3, (30.0, 30.0, 0.0)))
    made = program(features, (*bodies, fourth), rest_gap_um=50.0)
    for lift_um, seats in ((0, True), (80, True), (160, False)):
        errors = np.zeros((1, 24))
        errors[0, 20] = lift_um / 1000  # the fourth rest stands high: it must not sink in, the others must stay near
        assert (made.solve(errors).slack_mm[0] >= 0) == seats


def test_a_male_picked_up_in_the_mouth_is_not_asked_to_fit_the_cast() -> None:
    errors = np.zeros((1, 12))
    errors[0, 6] = 0.200
    features, bodies = two_slides(0.020)
    picked = (features[0], replace(features[1], joined=MaleJoin.PICKED_UP_IN_MOUTH))
    assert program(features, bodies).solve(errors).slack_mm[0] < 0
    # The same error at a male joined in the mouth is its pick-up error and counts in the second stage.
    assert program(picked, bodies).solve(errors).slack_mm[0] < 0
    errors[0, 6], errors[0, 0] = 0.0, 0.200
    assert program(picked, bodies).solve(errors).slack_mm[0] > 0


def test_weights_name_what_binds() -> None:
    features, bodies = two_slides(0.020)
    errors = np.zeros((1, 12))
    errors[0, 6] = 0.2
    weights = program(features, bodies).solve(errors).weights[0]
    assert weights.sum() == pytest.approx(1)
    assert weights == pytest.approx([0.5, 0.5], abs=0.05)


def test_a_walk_that_does_not_end_goes_to_the_general_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    features, bodies = two_slides(0.020)
    errors = random_errors(features, 5)
    expected = program(features, bodies).solve(errors).slack_mm

    def never_ends(*arguments: np.ndarray) -> None:
        arguments[8][:] = np.nan

    monkeypatch.setattr(_simplex, "solve_from_pool", never_ends)
    assert program(features, bodies).solve(errors).slack_mm == pytest.approx(expected, abs=5e-6)


def test_nothing_to_fit_is_refused() -> None:
    with pytest.raises(ValueOutOfRange, match="at least one"):
        build_program((), (), UP, Choices())
