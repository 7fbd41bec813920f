"""Free networks: laws of the adjustment, degenerate geometry, two epochs, false alarms at the stated level."""

import math
from itertools import combinations

import numpy as np
import pytest
from scipy import integrate, optimize, special, stats
from tests.unit.cast.caliper_readings import ARCH, HEIGHTS

from seatwright.cast import (
    Changes,
    Distances,
    adjust_changes,
    adjust_network,
    datum_defect,
    find_rigid_marks,
    find_stable_marks,
    fit_scale,
    judge_congruency,
    judge_globally,
    judge_shift,
    localize,
    place_marks,
    settle_network,
    shift_limits,
    snoop,
)
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.findings import Verdict

PLANE = ARCH[:, :2]
SPACE = np.column_stack([PLANE, HEIGHTS])


def distances_of(points, pairs=None, u=0.01, rng=None):
    pairs = np.array(list(pairs or combinations(range(len(points)), 2)))
    length = np.linalg.norm(points[pairs[:, 0]] - points[pairs[:, 1]], axis=1)
    if rng is not None:
        length = length + rng.normal(0, u, length.size)
    return Distances(pairs, length, np.full(length.size, u))


@pytest.mark.parametrize(("points", "defect", "beyond"), [(PLANE, 3, 6), (SPACE, 6, 3), (PLANE[:, :1], 1, 10)])
def test_defect_and_redundancy_are_counted(points, defect, beyond) -> None:
    fit = adjust_network(points, distances_of(points))
    assert (fit.defect, fit.n_redundant) == (defect, beyond)
    assert datum_defect(points.shape[1]) == defect
    assert fit.redundancy.sum() == pytest.approx(beyond, abs=1e-6)


@pytest.mark.parametrize(("n", "beyond"), [(4, 0), (5, 1), (6, 3)])
def test_redundancy_in_space_is_0_1_3_for_four_five_six_marks(n, beyond) -> None:
    assert adjust_network(SPACE[:n], distances_of(SPACE[:n])).n_redundant == beyond


@pytest.mark.parametrize("points", [PLANE, SPACE])
def test_adjustment_agrees_with_a_general_purpose_optimizer(points) -> None:
    distances = distances_of(points, rng=np.random.default_rng(1), u=0.02)
    fit = adjust_network(points, distances)

    def misfit(x):
        at = x.reshape(points.shape)
        gaps = np.linalg.norm(at[distances.pairs[:, 1]] - at[distances.pairs[:, 0]], axis=1)
        return (gaps - distances.length_mm) / distances.u_mm

    peer = optimize.least_squares(misfit, points.ravel(), xtol=1e-14, ftol=1e-14, gtol=1e-12)
    assert fit.square_sum == pytest.approx(2 * peer.cost, rel=1e-7)
    assert fit.residual_mm == pytest.approx(misfit(peer.x) * distances.u_mm, abs=1e-7)


def test_minimum_norm_datum_has_the_smallest_trace() -> None:
    fit = adjust_network(PLANE, distances_of(PLANE))
    for stable in ((0, 1), (0, 5), (2, 3, 4)):
        _, other = localize(PLANE, np.zeros(12), fit.covariance, stable=stable)
        assert np.trace(other) > np.trace(fit.covariance)


def test_covariance_is_that_of_repeated_adjustments() -> None:
    rng = np.random.default_rng(3)
    exact = distances_of(PLANE, u=0.02)
    fit = adjust_network(PLANE, exact)
    found = []
    for _ in range(800):
        noisy = Distances(exact.pairs, exact.length_mm + rng.normal(0, 0.02, 15), exact.u_mm)
        found.append(adjust_network(PLANE, noisy).points_mm.ravel())
    spread = np.cov(np.array(found).T)
    assert np.sqrt(np.diag(spread)) == pytest.approx(np.sqrt(np.diag(fit.covariance)), rel=0.1)


@pytest.mark.parametrize("points", [PLANE, SPACE])
def test_places_are_found_from_distances_alone(points) -> None:
    settled = settle_network(6, distances_of(points), points.shape[1])
    i, j = np.triu_indices(6, 1)
    found = np.linalg.norm(settled.fit.points_mm[i] - settled.fit.points_mm[j], axis=1)
    assert found == pytest.approx(np.linalg.norm(points[i] - points[j], axis=1), abs=1e-6)
    assert settled.mirrored == ()


def test_mark_on_two_distances_may_lie_on_the_other_side() -> None:
    pairs = [*combinations(range(4), 2), (0, 4), (3, 4)]
    settled = settle_network(5, distances_of(PLANE[:5], pairs), 2)
    assert settled.fit.square_sum < 1e-6
    assert settled.mirrored == (4,)


def test_mark_on_one_distance_is_not_held() -> None:
    pairs = np.array([*combinations(range(4), 2), (0, 4)])
    assert find_rigid_marks(PLANE[:5], pairs) == (0, 1, 2, 3)
    with pytest.raises(CannotCompute, match="free to move"):
        adjust_network(PLANE[:5], distances_of(PLANE[:5], pairs.tolist()))


def test_marks_without_a_chain_of_distances_are_refused() -> None:
    with pytest.raises(CannotCompute, match="no chain"):
        place_marks(4, distances_of(PLANE[:4], [(0, 1), (2, 3)]), 2)


def test_marks_in_one_line_are_undetermined_sideways() -> None:
    line = np.column_stack([np.array([0.0, 10.0, 25.0, 40.0]), np.zeros(4)])
    with pytest.raises(CannotCompute):
        adjust_network(line, distances_of(line))


@pytest.mark.parametrize("u", [0.0, -1.0, math.nan])
def test_uncertainty_out_of_range_is_refused(u) -> None:
    with pytest.raises(ValueOutOfRange):
        Distances(np.array([[0, 1]]), np.array([10.0]), np.array([u]))


def test_lift_of_a_coplanar_mark_is_second_order() -> None:
    """0.1 mm over 40 mm changes the distance by 0.125 µm: h^2 / 2 d."""
    a, b = np.array([0.0, 0, 0]), np.array([40.0, 0, 0.1])
    assert 1e3 * (np.linalg.norm(b - a) - 40.0) == pytest.approx(0.125, abs=1e-5)


def test_normalized_residuals_are_standard_and_alarms_keep_their_level() -> None:
    rng = np.random.default_rng(5)
    exact = distances_of(PLANE, u=0.02)
    found, fails = [], 0
    for _ in range(400):
        noisy = Distances(exact.pairs, exact.length_mm + rng.normal(0, 0.02, 15), exact.u_mm)
        fit = adjust_network(PLANE, noisy)
        found.append(snoop(fit, noisy).w)
        fails += not judge_globally(fit).passes
    assert np.std(found) == pytest.approx(1.0, abs=0.04)
    assert 8 <= fails <= 35


def test_error_of_the_detectable_size_is_found_in_four_of_five() -> None:
    rng = np.random.default_rng(6)
    exact = distances_of(PLANE, u=0.02)
    plain = snoop(adjust_network(PLANE, exact), exact)
    hits = 0
    for _ in range(300):
        length = exact.length_mm + rng.normal(0, 0.02, 15)
        length[3] += plain.detectable_mm[3]
        noisy = Distances(exact.pairs, length, exact.u_mm)
        hits += abs(snoop(adjust_network(PLANE, noisy), noisy).w[3]) > plain.critical
    assert abs(hits / 300 - 0.80) < 0.08


def drawn_differences(rng, points, n, u=0.015):
    covariance = 2 * adjust_network(points, distances_of(points, u=u)).covariance
    values, axes = np.linalg.eigh(covariance)
    root = axes * np.sqrt(np.clip(values, 0, None))
    return rng.normal(size=(n, covariance.shape[0])) @ root.T, covariance


@pytest.mark.parametrize(("points", "rank"), [(PLANE, 9), (SPACE, 12)])
def test_congruency_has_its_rank_and_its_level(points, rank) -> None:
    moves, covariance = drawn_differences(np.random.default_rng(7), points, 1500)
    tests = [judge_congruency(points, move, covariance, marks=tuple(range(6))) for move in moves]
    assert {t.rank for t in tests} == {rank}
    alarms = np.mean([not t.passes for t in tests])
    assert abs(alarms - 0.05) < 0.018
    assert stats.kstest([t.p for t in tests], "uniform").pvalue > 1e-3
    one_less = judge_congruency(points, moves[0], covariance, marks=tuple(range(6)), scale=True)
    assert one_less.rank == rank - 1


def test_estimated_uncertainty_keeps_the_level_too() -> None:
    rng = np.random.default_rng(8)
    moves, covariance = drawn_differences(rng, PLANE, 1500)
    factor = rng.chisquare(12, 1500) / 12
    everyone = tuple(range(6))
    alarms = [
        not judge_congruency(PLANE, move, f * covariance, marks=everyone, dof=12).passes
        for move, f in zip(moves, factor, strict=True)
    ]
    assert abs(np.mean(alarms) - 0.05) < 0.018


def test_datum_changes_no_test_and_no_localized_movement() -> None:
    moves, covariance = drawn_differences(np.random.default_rng(9), PLANE, 1)
    other_move, other_covariance = localize(PLANE, moves[0], covariance, stable=(0, 5))
    a = judge_congruency(PLANE, moves[0], covariance, marks=(0, 1, 2, 3, 4, 5))
    b = judge_congruency(PLANE, other_move, other_covariance, marks=(0, 1, 2, 3, 4, 5))
    assert a.f == pytest.approx(b.f, rel=1e-6)
    one, one_spread = localize(PLANE, moves[0], covariance, stable=(1, 2, 3))
    two, two_spread = localize(PLANE, other_move, other_covariance, stable=(1, 2, 3))
    assert one == pytest.approx(two, abs=1e-9)
    assert one_spread == pytest.approx(two_spread, abs=1e-9)


def test_localized_movement_is_covered_in_nineteen_of_twenty() -> None:
    moves, covariance = drawn_differences(np.random.default_rng(10), PLANE, 3000)
    truth = np.zeros(12)
    truth[8:10] = [0.1, -0.05]
    inside = 0
    for move in moves:
        at, spread = localize(PLANE, move + truth, covariance, stable=(0, 1, 2, 3, 5))
        off = (at - truth)[8:10]
        inside += off @ np.linalg.solve(spread[8:10, 8:10], off) <= stats.chi2.ppf(0.95, 2)
    assert abs(inside / 3000 - 0.95) < 0.012


def test_scale_is_found_from_stable_marks_and_needs_enough_of_them() -> None:
    moves, covariance = drawn_differences(np.random.default_rng(11), PLANE, 1)
    moved = moves[0] + 0.002 * (PLANE - PLANE.mean(axis=0)).ravel()
    scale, u = fit_scale(PLANE, moved, covariance, (0, 2, 3, 5))
    assert abs(scale - 0.002) < 3 * u
    assert fit_scale(PLANE, moved, covariance, (0, 1)) is None


def test_largest_set_that_agrees_is_found() -> None:
    moves, covariance = drawn_differences(np.random.default_rng(12), PLANE, 1)
    moved = moves[0].copy()
    moved[4:6] += [0.2, 0.1]
    found = find_stable_marks(PLANE, moved, covariance)
    assert found.members == (0, 1, 3, 4, 5)
    assert found.is_unique


@pytest.mark.parametrize("u", [5.0, 10.0, 15.0])
@pytest.mark.parametrize("n_axes", [1, 2, 3])
def test_wrong_decision_at_the_tolerance_itself_is_one_in_twenty_each_way(u, n_axes) -> None:
    rng = np.random.default_rng(13)
    low, high = shift_limits(50.0, u, n_axes)
    lengths = np.linalg.norm(rng.normal(0, u, (40_000, n_axes)) + np.eye(n_axes)[0] * 50.0, axis=1)
    assert abs((lengths <= low).mean() - 0.05) < 0.005
    assert abs((lengths > high).mean() - 0.05) < 0.005


@pytest.mark.parametrize("u", [5.0, 10.0, 20.0])
def test_few_repeats_widen_the_limits_and_keep_the_risk(u) -> None:
    rng = np.random.default_rng(14)
    n_wrong = np.zeros(2)
    for _ in range(4000):
        estimated = u * math.sqrt(rng.chisquare(8) / 8)
        length = float(np.linalg.norm(rng.normal(0, u, 2) + np.array([50.0, 0.0])))
        low, high = shift_limits(50.0, estimated, 2, dof=8)
        n_wrong += [length <= low, length > high]
    assert np.all(np.abs(n_wrong / 4000 - 0.05) < 0.013)


def test_limits_join_where_the_formula_changes() -> None:
    near, far = (shift_limits(50.0, 50.0 / math.sqrt(x), 3) for x in (399.9, 400.1))
    assert near == pytest.approx(far, rel=1e-3)


def test_direction_that_is_not_seen_is_left_out_of_the_verdict() -> None:
    judged = judge_shift(np.array([5.0, 400.0]), np.diag([25.0, 1e6]), 50.0)
    assert judged.n_axes == 1
    assert judged.verdict is Verdict.CONFORMS
    nothing = judge_shift(np.array([5.0, 400.0]), np.diag([1e6, 1e6]), 50.0)
    assert nothing.verdict is Verdict.CANNOT_TELL


def test_probability_uses_a_prior_flat_in_the_length() -> None:
    """True length 50, u 10, 3-D: a prior flat in space would put the mean of the posterior at 54."""
    judged = judge_shift(np.array([52.0, 0.0, 0.0]), np.eye(3) * 100.0, 50.0)
    assert 0.4 < judged.p_within < 0.55
    assert judged.low_um < 52 < judged.high_um


@pytest.mark.parametrize(
    "shift", [(300.0, 0.0), (180.0, 240.0), (30.0, 0.0, 0.0), (0.0, 0.0, 300.0), (100.0, 200.0, 200.0)]
)
@pytest.mark.parametrize("u", [1.0, 12.0])
def test_interval_of_the_length_agrees_with_its_closed_form(shift, u) -> None:
    """Equal spread, prior flat in the length: density exp(-(r - y)^2 / 2 u^2) times a scaled Bessel function or sinh(x) / x."""
    y, d = float(np.linalg.norm(shift)), len(shift)
    r = np.linspace(max(0.0, y - 9 * u), y + 9 * u, 20_001)
    x = r * y / u**2
    turned = special.ive(0, x) if d == 2 else -np.expm1(-2 * x) / np.where(x > 0, 2 * x, 1.0) + (x == 0)
    density = np.exp(-((r - y) ** 2) / (2 * u**2)) * turned
    cumulated = integrate.cumulative_trapezoid(density, r, initial=0.0)
    low, middle, high = np.interp([0.025, 0.5, 0.975], cumulated / cumulated[-1], r)
    judged = judge_shift(np.array(shift), np.eye(d) * u**2, float(middle))
    assert judged.low_um == pytest.approx(low, abs=0.02 * u)
    assert judged.high_um == pytest.approx(high, abs=0.02 * u)
    assert judged.p_within == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("points", [PLANE, SPACE])
def test_adjusted_changes_equal_the_difference_of_two_adjustments(points) -> None:
    rng = np.random.default_rng(16)
    before = distances_of(points, rng=rng, u=0.02)
    later = points + rng.normal(0, 0.1, points.shape)
    after = distances_of(later, rng=rng, u=0.02)
    one = adjust_network(points, before)
    two = adjust_network(one.points_mm, after, datum_mm=one.points_mm)
    changes = Changes(before.pairs, after.length_mm - before.length_mm, np.hypot(before.u_mm, after.u_mm))
    fit = adjust_changes(one.points_mm, changes)
    assert fit.moved_mm == pytest.approx((two.points_mm - one.points_mm).ravel(), abs=1e-3)
    assert fit.covariance == pytest.approx(one.covariance + two.covariance, abs=2e-5)
    assert fit.residual_mm == pytest.approx(two.residual_mm - one.residual_mm, abs=1e-3)


def test_misfit_that_both_epochs_share_cancels_in_the_changes() -> None:
    shared = 0.2 * np.sin(np.arange(15))
    exact = distances_of(PLANE)
    changes = Changes(exact.pairs, (exact.length_mm + shared) - (exact.length_mm + shared), exact.u_mm)
    assert np.abs(adjust_changes(PLANE, changes).moved_mm).max() < 1e-12


def test_changes_that_leave_a_mark_free_are_refused() -> None:
    pairs = np.array([*combinations(range(4), 2), (0, 4)])
    with pytest.raises(CannotCompute, match="free to move"):
        adjust_changes(PLANE[:5], Changes(pairs, np.zeros(7), np.ones(7)))
    with pytest.raises(ValueOutOfRange):
        Changes(pairs, np.zeros(7), np.zeros(7))
