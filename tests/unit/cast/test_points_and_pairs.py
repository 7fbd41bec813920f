"""Where a shift is judged, and the measures that need no frame: closed forms and simulation."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from seatwright.arch import fit_patient_axes, nominal_layout, tooth_axes
from seatwright.case import Arch
from seatwright.cast import MARGIN_CENTER, Mark, PointKind
from seatwright.cast._lattice import Pose, fit_lattice
from seatwright.cast._pairs import compare_pairs
from seatwright.cast._points import judge_points
from seatwright.cast._told_length import tell_length
from seatwright.findings import Verdict
from seatwright.quantities import Measured

SMALL = np.diag([1e-6] * 3 + [1e-8] * 3)
FREE = Measured(0.0, 1.0, "1")


def pose(at: tuple[float, float, float], motion: np.ndarray, covariance: np.ndarray = SMALL) -> Pose:
    return Pose(np.array(at), motion, covariance, np.array(at))


def test_tip_of_a_degree_moves_a_male_six_millimeters_away_by_its_lever() -> None:
    """Closed form: 2 r sin(w / 2); 1.2 degrees over 6 mm are 126 µm while the centroid stays."""
    motion = np.array([0, 0, 0, np.radians(1.2), 0, 0])
    male = Mark("44", "slide", np.array([0.0, 6.0, 0.0]))
    [at_male] = judge_points(motion, SMALL, np.zeros(3), (male,), 50)
    [at_middle] = judge_points(motion, SMALL, np.zeros(3), (), 50)
    assert round(at_male.length_um) == 126
    assert at_male.length_um == pytest.approx(1e3 * 2 * 6 * np.sin(np.radians(0.6)), abs=1e-6)
    assert at_male.verdict is Verdict.DOES_NOT_CONFORM
    assert (at_middle.name, at_middle.verdict) == ("centroid", Verdict.CONFORMS)


def test_worst_point_decides() -> None:
    marks = (Mark("44", "near", np.zeros(3)), Mark("44", "far", np.array([0.0, 8.0, 0.0])))
    judged = judge_points(np.array([0, 0, 0, 0.01, 0, 0]), SMALL, np.zeros(3), marks, 50)
    assert [j.name for j in judged] == ["far", "near"]
    assert judged[0].p_conforms < 0.001
    assert judged[1].p_conforms > 0.999


def test_turn_is_carried_to_the_margin_with_its_covariance() -> None:
    """Closed form: u² = u_s² + (r u_w)² across the arm, u_s² along it; the length's law against drawn poses."""
    u_s, u_w, r = 0.006, 0.0025, 6.0
    covariance = np.diag([u_s**2] * 3 + [u_w**2] * 3)
    margin = Mark("44", MARGIN_CENTER, np.array([0.0, 0.0, -r]), kind=PointKind.MARGIN)
    motion = np.array([0.02, 0.0, 0.01, 0.0, 0.002, 0.0])
    [judged] = judge_points(motion, covariance, np.zeros(3), (margin,), 50)
    across, along = u_s**2 + (r * u_w) ** 2, u_s**2
    assert np.diag(judged.covariance_mm2) == pytest.approx([across, across, along], rel=1e-12)
    assert judged.u_worst_um == pytest.approx(1e3 * np.sqrt(across))
    assert judged.where() == "at its margin center"
    rng = np.random.default_rng(7)
    poses = rng.multivariate_normal(motion, covariance, 200_000)
    arm = np.array([0.0, 0.0, -r])
    length = np.linalg.norm(poses[:, :3] + Rotation.from_rotvec(poses[:, 3:]).apply(arm) - arm, axis=1)
    weight = length**-2.0
    assert judged.p_conforms == pytest.approx(float(weight[length < 0.05].sum() / weight.sum()), abs=0.005)


@pytest.mark.parametrize("u_turn", [0.0005, 0.003])
def test_both_risks_stay_at_five_percent_with_several_points(u_turn: float) -> None:
    """All four points of the unit stand at the limit at once: the worst case for rejecting, drawn 20000 times."""
    rng = np.random.default_rng(8)
    covariance = np.diag([0.007**2] * 3 + [u_turn**2] * 3)
    places = np.array([[0, 0, -5], [4, 0, 2], [-4, 0, 2], [0, 4, 0]], dtype=float)
    marks = tuple(Mark("44", str(k), p) for k, p in enumerate(places))
    true = np.array([0, 0, 0.05, 0, 0, 0])
    limits = {
        j.name: (j.accept_below_um, j.reject_above_um) for j in judge_points(true, covariance, np.zeros(3), marks, 50)
    }
    poses = true + rng.multivariate_normal(np.zeros(6), covariance, 20_000)
    rejected, accepted = np.zeros(20_000, dtype=bool), np.ones(20_000, dtype=bool)
    for k, place in enumerate(places):
        moved = poses[:, :3] + np.cross(poses[:, 3:], place)
        length = 1e3 * np.linalg.norm(moved, axis=1)
        accepted &= length < limits[str(k)][0]
        rejected |= length > limits[str(k)][1]
    # 20000 draws: a share of .05 is known to .0015; without sharing it would be .08 to .12
    assert rejected.mean() < 0.053
    assert accepted.mean() < 0.053
    assert rejected.mean() > 0.01


def test_no_shift_is_shown_from_zero_and_a_seen_one_with_its_interval() -> None:
    covariance = np.diag([1e-4] * 3 + [1e-8] * 3)
    [still] = judge_points(np.array([0.002, 0, 0, 0, 0, 0.0]), covariance, np.zeros(3), (), 50)
    assert not still.is_seen
    assert (still.low_um, still.told.middle_um) == (0.0, still.high_um / 2)
    assert still.shown() == f"0 to {np.ceil(still.high_um):.0f} µm"  # u is 10 µm: its two digits are whole ones
    [moved] = judge_points(np.array([0.18, 0, 0, 0, 0, 0.0]), covariance, np.zeros(3), (), 50)
    # noise across a shift of 180 µm makes it u²/180 = 0.56 µm too long; 1.96 times 10 µm each way of what is left
    assert moved.told.middle_um == pytest.approx(179.44, abs=0.05)
    assert (moved.low_um, moved.high_um) == (pytest.approx(159.84, abs=0.1), pytest.approx(199.04, abs=0.1))
    assert moved.shown() == "179 ± 21 µm"


@pytest.mark.parametrize("spreads", [(8.0, 8.0, 8.0), (12.0, 6.0, 4.0)])
@pytest.mark.parametrize("length_um", [0.0, 15.0, 30.0, 60.0])
def test_interval_of_a_length_holds_the_true_one(spreads: tuple[float, float, float], length_um: float) -> None:
    """400 drawn shifts in drawn directions: 95 % intervals miss at most 8 % (5 % + 2.7 standard errors of 1.1 %)."""
    rng = np.random.default_rng(12)
    covariance = np.diag(np.square(spreads)) * 1e-6
    missed = 0
    for _ in range(400):
        way = rng.normal(size=3)
        true = 1e-3 * length_um * way / np.linalg.norm(way)
        told, _ = tell_length(true + rng.multivariate_normal(np.zeros(3), covariance), covariance)
        missed += not told.low_um <= length_um <= told.high_um
    assert missed <= 32


def test_probability_is_that_of_a_prior_flat_in_the_length() -> None:
    """Outside check: importance sampling by the general library's normal generator, density 1 / length^2."""
    rng = np.random.default_rng(2)
    spread = np.diag([0.015, 0.008, 0.004]) ** 2
    shift = np.array([0.03, 0.02, -0.015])
    covariance = np.zeros((6, 6))
    covariance[:3, :3], covariance[3:, 3:] = spread, np.eye(3) * 1e-8
    [judged] = judge_points(np.concatenate([shift, np.zeros(3)]), covariance, np.zeros(3), (), 50)
    draws = rng.multivariate_normal(shift, spread, 400_000)
    length = np.linalg.norm(draws, axis=1)
    weight = length**-2.0
    assert judged.p_conforms == pytest.approx(float(weight[length < 0.05].sum() / weight.sum()), abs=0.004)
    order = np.argsort(length)
    cumulated = np.cumsum(weight[order]) / weight.sum()
    low, high = (1e3 * length[order][np.searchsorted(cumulated, q)] for q in (0.025, 0.975))
    assert (judged.low_um, judged.high_um) == (pytest.approx(low, abs=0.5), pytest.approx(high, abs=0.5))


def test_milliradian_at_sixty_millimeters_is_sixty_micrometers() -> None:
    """Exact: two aligned bodies that differ by a rotation w about one abutment move apart by w r at the other."""
    turned = pose((0, 0, 0), np.array([0, 0, 0, 0, 0, 1e-3]))
    still = pose((60, 0, 0), np.zeros(6))
    far = Mark("37", "far", np.array([60.0, 0, 0]))
    carried = judge_points(turned.motion, SMALL, np.zeros(3), (far,), 50)[0]
    assert carried.length_um == pytest.approx(60.0, abs=1e-4)
    [pair] = compare_pairs(("47", "37"), (turned, still), {}, [], 50)
    assert pair.turn_deg.value == pytest.approx(np.degrees(1e-3), abs=1e-9)
    # neither place moved: no distance changed
    assert pair.change_um.value == pytest.approx(0.0, abs=1e-9)


def test_wrong_distance_is_halved_by_a_best_fit_and_whole_from_one_end() -> None:
    """Exact: two points whose distance is wrong by e show e / 2 each in the best fit, e at the other from one end."""
    e = 0.08
    units = (pose((0, 0, 0), np.zeros(6)), pose((50, 0, 0), np.array([e, 0, 0, 0, 0, 0])))
    held = Measured(0.0, 1e-9, "1")
    best = fit_lattice(units, np.array([25.0, 0, 0]), held)
    assert [float(u.motion[0] - best.motion[0]) for u in units] == pytest.approx([-e / 2, e / 2], abs=1e-9)
    one_end = fit_lattice(units[:1], np.zeros(3), held)
    assert float(units[1].motion[0] - one_end.motion[0]) == pytest.approx(e, abs=1e-9)
    [pair] = compare_pairs(("47", "37"), units, {}, [], 50)
    assert pair.change_um.value == pytest.approx(80.0, abs=1e-9)
    # u of a distance between two independent places: the root of the sum of squares, no frame in it
    assert pair.change_um.u == pytest.approx(np.sqrt(2.0), abs=1e-9)
    assert pair.verdict is Verdict.DOES_NOT_CONFORM


def test_scale_changes_a_distance_by_length_times_scale() -> None:
    s = 0.0018
    units = [pose((x, 0, 0), np.array([s * x, 0, 0, 0, 0, 0])) for x in (-28.0, 28.0)]
    [pair] = compare_pairs(("47", "37"), units, {}, [], 50)
    assert pair.change_um.value == pytest.approx(56 * 1.8, abs=1e-9)


def test_pairs_need_no_frame() -> None:
    rng = np.random.default_rng(3)
    units = [pose(tuple(rng.uniform(-30, 30, 3)), rng.normal(0, 0.02, 6) * [1, 1, 1, 0.05, 0.05, 0.05]) for _ in "abc"]
    turn, shift = Rotation.from_rotvec([0.3, -1.0, 0.4]), np.array([5.0, 2.0, -9.0])
    moved = []
    for u in units:
        at = turn.apply(u.center_mm + u.motion[:3]) + shift
        vector = (turn * Rotation.from_rotvec(u.motion[3:])).as_rotvec()
        moved.append(Pose(u.center_mm, np.concatenate([at - u.center_mm, vector]), u.covariance, u.anchor_mm))
    marks = {
        "a": (Mark("a", "slide", units[0].center_mm + np.array([0, 3.0, 1]), np.array([0.0, 0, 1])),),
        "b": (Mark("b", "stud", units[1].center_mm + np.array([2.0, 0, 1]), np.array([0.0, 0.02, 1])),),
    }
    one = compare_pairs(("a", "b", "c"), units, marks, [], 50)
    two = compare_pairs(("a", "b", "c"), moved, marks, [], 50)
    assert len(one) == 3
    for before, after in zip(one, two, strict=True):
        assert after.change_um.value == pytest.approx(before.change_um.value, abs=1e-6)
        assert after.turn_deg.value == pytest.approx(before.turn_deg.value, abs=1e-9)
    assert one[0].axis_change_deg is not None
    assert two[0].axis_change_deg is not None
    assert two[0].axis_change_deg.value == pytest.approx(one[0].axis_change_deg.value, abs=1e-9)


def test_uncertainties_of_pairs_are_those_of_a_simulation() -> None:
    rng = np.random.default_rng(4)
    root = rng.normal(size=(6, 6)) * np.array([[4e-3]] * 3 + [[1e-3]] * 3)
    covariance = root @ root.T
    places = ((0.0, 0.0, 0.0), (40.0, 15.0, 2.0))
    marks = {
        "a": (Mark("a", "slide", np.array([0.0, 4.0, 2.0]), np.array([0.0, 0.0, 1.0])),),
        "b": (Mark("b", "slide", np.array([42.0, 12.0, 4.0]), np.array([0.05, 0.0, 1.0])),),
    }
    draws = [
        compare_pairs("ab", [pose(p, rng.multivariate_normal(np.zeros(6), covariance), covariance) for p in places],
                      marks, [], 50)[0]
        for _ in range(600)
    ]  # fmt: skip
    change = np.array([d.change_um.value for d in draws])
    opening = np.array([d.axis_change_deg.value for d in draws])  # type: ignore[union-attr]
    # 600 draws: a standard deviation is known to 3 %
    assert np.std(change) == pytest.approx(np.mean([d.change_um.u for d in draws]), rel=0.09)
    assert np.std(opening) == pytest.approx(np.mean([d.axis_change_deg.u for d in draws]), rel=0.09)  # type: ignore[union-attr]


def test_units_of_one_body_are_no_pair() -> None:
    units = [pose((x, 0, 0), np.zeros(6)) for x in (0.0, 8.0, 40.0)]
    pairs = compare_pairs(("34", "35", "45"), units, {}, [(0, 1), (2,)], 50)
    assert [(p.one, p.other) for p in pairs] == [("34", "45"), ("35", "45")]


@pytest.mark.parametrize("arch", list(Arch))
def test_axes_of_teeth_point_where_their_names_say(arch: Arch) -> None:
    layout = nominal_layout(arch)
    turn = Rotation.from_rotvec([0.7, -0.4, 2.0]).as_matrix()
    places = {t: turn @ np.array([p.x_mm, p.y_mm, 0.0]) for t, p in layout.items() if t % 10 < 8}
    patient = fit_patient_axes(places, arch)
    assert patient is not None
    assert patient @ turn == pytest.approx(np.eye(3), abs=1e-9)
    for tooth, at in places.items():
        mesial, facial, occlusal = tooth_axes(patient, tooth, arch)
        assert np.cross(mesial, facial) @ occlusal == pytest.approx((1.0 if tooth // 10 in (1, 3) else -1.0), abs=1e-9)
        assert occlusal @ patient[2] == pytest.approx(1.0 if arch is Arch.MANDIBLE else -1.0)
        # outwards from the arch's middle, and towards the midline
        middle = np.mean(list(places.values()), axis=0)
        assert facial @ (at - middle) > 0
        if tooth % 10 > 1:
            assert mesial @ (places[tooth - 1] - at) > 0


def test_axes_are_not_made_up_for_units_in_one_line() -> None:
    line = {t: np.array([float(k), 0.0, 0.0]) for k, t in enumerate((35, 36, 37))}
    assert fit_patient_axes(line, Arch.MANDIBLE) is None
    assert fit_patient_axes({t: line[t] for t in (35, 36)}, Arch.MANDIBLE) is None


def test_of_points_alike_in_chance_the_one_that_may_be_longer_is_told_first() -> None:
    """A point on a long arm, seen less far off but known less well: its interval reaches farther."""
    covariance = np.diag([1e-6] * 3 + [1e-6] * 3)
    marks = (Mark("44", "near", np.zeros(3)), Mark("44", "far", np.array([0.0, 9.0, 0.0])))
    judged = judge_points(np.array([0.006, 0, 0, 0, 0, 0.0005]), covariance, np.zeros(3), marks, 50)
    assert [j.name for j in judged] == ["far", "near"]
    assert judged[0].length_um < judged[1].length_um
    assert judged[0].high_um > judged[1].high_um
