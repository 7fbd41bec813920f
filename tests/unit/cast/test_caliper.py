"""The caliper check: what moved is found, what did not is left alone, and what cannot be known is said."""

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from tests.unit.cast.caliper_readings import ARCH, HEIGHTS, NAMES, read_marks

from seatwright.cast import CaliperAsked, CaliperReading, Epoch, check_caliper
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.findings import Verdict

IN_SPACE = ARCH + np.column_stack([np.zeros((6, 2)), HEIGHTS])


def ids(result) -> set[str]:
    return {finding.id for finding in result.findings}


def mark(result, name):
    return next(m for m in result.marks if m.mark == name)


def test_moved_mark_is_named_with_its_size_and_nobody_else_is() -> None:
    result = check_caliper(read_marks(ARCH, np.random.default_rng(1), moved={"45": [0.15, 0.1, 0]}))
    assert result.verdict is Verdict.DOES_NOT_CONFORM
    assert [m.mark for m in result.marks if m.is_moved] == ["45"]
    low, high = mark(result, "45").judged.low_um, mark(result, "45").judged.high_um
    assert low <= math.hypot(150, 100) <= high
    assert all(m.judged.verdict is Verdict.CONFORMS for m in result.marks if m.mark != "45")
    assert "45 stands" in result.headline
    assert "never poured again" in next(f for f in result.findings if f.id == "caliper-mark-moved").do


def test_unmoved_casts_raise_an_alarm_in_one_of_twenty(long_run) -> None:
    rng = np.random.default_rng(2)
    alarms = 0
    for _ in range(600):
        result = check_caliper(read_marks(ARCH[:5], rng, names=NAMES[:5], step=0))
        alarms += not result.stable.overall.passes
    assert 15 <= alarms <= 47  # 30 expected; the limits are 99.8 % of the binomial law


def test_true_movement_lies_in_its_ellipse_in_nineteen_of_twenty(long_run) -> None:
    rng = np.random.default_rng(4)
    inside, n = 0, 0
    for _ in range(600):
        result = check_caliper(
            read_marks(ARCH, rng, moved={"45": [0.2, 0.1, 0]}, step=0),
            CaliperAsked(stable=("37", "35", "33", "43", "47")),
        )
        found = mark(result, "45")
        off = found.moved_um - _in_sketch(result, np.array([200.0, 100.0]))
        square = off @ np.linalg.solve(found.covariance_um2, off)
        inside += square <= 5.991
        n += 1
    assert 0.92 < inside / n < 0.977


def _in_sketch(result, vector_um):
    """Turn a plan vector of the test's axes into the sketch's, by the marks' own places."""
    at = np.array([m.place_mm for m in result.marks])
    true = ARCH[[NAMES.index(m.mark) for m in result.marks], :2]
    left, _, right = np.linalg.svd((at - at.mean(0)).T @ (true - true.mean(0)))
    return left @ right @ vector_um


def test_larger_cast_is_told_as_a_scale_not_as_moved_marks() -> None:
    result = check_caliper(read_marks(ARCH, np.random.default_rng(3), scale=0.004))
    assert result.stable.with_scale
    assert not any(m.is_moved for m in result.marks)
    assert abs(result.scale_percent.value - 0.4) < 3 * result.scale_percent.u
    assert "the whole cast is" in result.headline
    assert result.verdict is Verdict.DOES_NOT_CONFORM  # a rigid partial feels it


def test_larger_cast_with_a_moved_mark_names_both() -> None:
    result = check_caliper(read_marks(ARCH, np.random.default_rng(3), scale=0.004, moved={"45": [0.2, 0.15, 0]}))
    assert [m.mark for m in result.marks if m.is_moved] == ["45"]
    assert result.stable.with_scale


def test_marks_at_different_heights_are_read_in_space() -> None:
    result = check_caliper(read_marks(IN_SPACE, np.random.default_rng(5), moved={"45": [0, 0.1, 0.25]}))
    assert result.n_axes == 3
    assert {e.defect for e in result.epochs} == {6}
    assert [m.mark for m in result.marks if m.is_moved] == ["45"]


def test_lift_out_of_a_flat_figure_is_not_seen_and_said_so() -> None:
    result = check_caliper(read_marks(ARCH, np.random.default_rng(5), moved={"45": [0, 0, 0.1]}))
    assert result.n_axes == 2
    assert result.verdict is Verdict.CONFORMS
    assert "in their plane" in result.headline
    assert "caliper-flat" in ids(result)


def test_marks_in_one_line_are_judged_along_it_only() -> None:
    line = np.array([[0, 0, 0], [12, 0, 0], [25, 0, 0], [40, 0, 0]], dtype=float)
    result = check_caliper(
        read_marks(line, np.random.default_rng(6), names=("a", "b", "c", "d"), moved={"c": [0.2, 0, 0]})
    )
    assert result.n_axes == 1
    assert [m.mark for m in result.marks if m.is_moved] == ["c"]
    assert "caliper-line" in ids(result)


def test_three_marks_have_no_redundancy_and_say_so() -> None:
    result = check_caliper(read_marks(ARCH[[0, 2, 4]], np.random.default_rng(6), names=("37", "33", "45")))
    assert {e.n_redundant for e in result.epochs} == {0}
    assert "caliper-no-redundancy" in ids(result)
    assert result.verdict in (Verdict.CONFORMS, Verdict.CANNOT_TELL)


def test_two_marks_leave_open_which_moved() -> None:
    result = check_caliper(
        read_marks(ARCH[:2], np.random.default_rng(6), names=("37", "35"), moved={"35": [0, 0.3, 0]})
    )
    assert result.verdict is Verdict.CANNOT_TELL
    assert not any(m.is_moved for m in result.marks)
    assert "open" in result.headline


def test_two_equal_groups_leave_open_which_moved() -> None:
    both = {name: [0.3, 0.0, 0.0] for name in NAMES[:3]}
    result = check_caliper(read_marks(ARCH, np.random.default_rng(7), moved=both))
    assert not result.stable.is_unique
    assert {frozenset(result.stable.marks), frozenset(result.stable.rival)} == {
        frozenset(NAMES[:3]),
        frozenset(NAMES[3:]),
    }
    assert result.verdict is Verdict.CANNOT_TELL
    assert "caliper-open" in ids(result)


def test_declared_stable_marks_overrule() -> None:
    both = {name: [0.3, 0.0, 0.0] for name in NAMES[:3]}
    result = check_caliper(read_marks(ARCH, np.random.default_rng(7), moved=both), CaliperAsked(stable=NAMES[3:]))
    assert {m.mark for m in result.marks if m.is_moved} == set(NAMES[:3])
    assert result.verdict is Verdict.DOES_NOT_CONFORM


def test_stable_marks_all_on_one_side_see_the_other_side_less_well() -> None:
    result = check_caliper(read_marks(ARCH, np.random.default_rng(8)), CaliperAsked(stable=("37", "35")))
    assert mark(result, "47").judged.u_worst_um > 1.5 * mark(result, "33").judged.u_worst_um


@pytest.mark.parametrize("stable", [("38",), ("37",)])
def test_stable_marks_that_hold_no_frame_are_refused(stable) -> None:
    with pytest.raises(ValueOutOfRange):
        check_caliper(read_marks(ARCH, np.random.default_rng(8)), CaliperAsked(stable=stable))


def test_one_wrong_distance_is_set_aside_and_named() -> None:
    readings = read_marks(ARCH, np.random.default_rng(9))
    wrong = tuple(
        replace(r, length_mm=r.length_mm + 0.3) if r.epoch is Epoch.CAST and r.pair == ("33", "45") else r
        for r in readings
    )
    result = check_caliper(wrong)
    assert [(p.first, p.second) for p in result.pairs if p.is_set_aside] == [("33", "45")]
    assert "on the cast it fits worst" in next(f for f in result.findings if f.id == "caliper-distance-aside").what
    assert not any(m.is_moved for m in result.marks)
    assert "caliper-distance-aside" in ids(result)


def test_wrong_distance_with_one_beyond_need_is_detected_but_not_located() -> None:
    readings = read_marks(ARCH[[0, 2, 3, 5]], np.random.default_rng(9), names=("37", "33", "43", "47"))
    wrong = tuple(
        replace(r, length_mm=r.length_mm + 0.6) if r.epoch is Epoch.CAST and r.pair == ("33", "47") else r
        for r in readings
    )
    result = check_caliper(wrong)
    cast = result.epochs[1]
    assert cast.n_redundant == 1
    assert len(cast.suspects) == 6
    assert not any(p.is_set_aside for p in result.pairs)
    assert len(result.change.suspects) == 6
    assert "caliper-not-located" in ids(result)
    assert result.spread.inflation > 1
    assert result.verdict is Verdict.CANNOT_TELL


def test_slip_among_repeats_is_left_out_and_named_with_its_line() -> None:
    readings = list(read_marks(ARCH, np.random.default_rng(10)))
    readings[4] = replace(readings[4], length_mm=readings[4].length_mm + 0.4, line=6)
    result = check_caliper(readings)
    slip = next(f for f in result.findings if f.id == "caliper-slip")
    assert "line 6" in slip.what
    assert result.spread.s_reading_um < 25
    assert result.verdict is Verdict.CONFORMS


def test_mark_with_one_distance_is_loose_and_the_rest_is_judged() -> None:
    pairs = [*combinations(range(5), 2), (4, 5)]
    result = check_caliper(read_marks(ARCH, np.random.default_rng(11), pairs=pairs, moved={"33": [0.25, 0, 0]}))
    assert result.loose == ("47",)
    assert [m.mark for m in result.marks if m.is_moved] == ["33"]
    assert "caliper-loose" in ids(result)


def test_conforming_marks_beside_a_loose_one_do_not_conform_as_a_whole() -> None:
    pairs = [*combinations(range(5), 2), (4, 5)]
    result = check_caliper(read_marks(ARCH, np.random.default_rng(11), pairs=pairs))
    assert result.verdict is Verdict.CANNOT_TELL


def test_isolated_pair_is_loose() -> None:
    pairs = [*combinations(range(4), 2), (4, 5)]
    result = check_caliper(read_marks(ARCH, np.random.default_rng(11), pairs=pairs))
    assert set(result.loose) == {"45", "47"}
    assert next(p for p in result.pairs if {p.first, p.second} == {"45", "47"}).change_um is not None


def test_one_epoch_alone_tells_what_could_be_found() -> None:
    result = check_caliper(read_marks(ARCH, np.random.default_rng(12), epochs=("mouth",)))
    assert result.verdict is Verdict.CANNOT_TELL
    assert result.stable is None
    assert "Only the mouth was read" in result.headline
    assert 20 < result.largest_unseen_um < 80


def test_repeats_sharpen_what_can_be_found() -> None:
    one, four = (
        check_caliper(read_marks(ARCH, np.random.default_rng(13), n=n, epochs=("mouth",), step=0)).largest_unseen_um
        for n in (3, 12)
    )
    assert 1.7 < one / four < 2.5


def test_nothing_repeated_needs_a_declared_uncertainty() -> None:
    readings = read_marks(ARCH, np.random.default_rng(14), n=1)
    with pytest.raises(CannotCompute, match="read twice"):
        check_caliper(readings)
    result = check_caliper(readings, CaliperAsked(u_distance_um=20.0))
    assert result.spread.dof is None
    assert "caliper-no-repeats" in ids(result)


def test_equal_repeats_count_at_least_the_step_of_the_scale() -> None:
    result = check_caliper(read_marks(ARCH, np.random.default_rng(14), s=0.0, step=0.05))
    assert result.spread.resolution_mm == pytest.approx(0.05)
    assert result.spread.s_reading_um == pytest.approx(50 / math.sqrt(12))
    assert "caliper-coarse" in ids(result)


def test_reseated_crowns_widen_the_answer() -> None:
    readings = read_marks(ARCH, np.random.default_rng(15))
    plain, reseated = (check_caliper(readings, CaliperAsked(reseat_um=u)) for u in (0.0, 30.0))
    for a, b in zip(plain.marks, reseated.marks, strict=True):
        assert b.judged.u_worst_um > math.hypot(a.judged.u_worst_um, 30.0)
    assert "caliper-reseat" in ids(reseated)


def test_operators_that_read_differently_add_their_part() -> None:
    rng = np.random.default_rng(16)
    readings = []
    for name in ("A", "B"):
        bias = {p: rng.normal(0, 0.06) for p in combinations(range(6), 2)}
        for (i, j), b in bias.items():
            for epoch in Epoch.MOUTH, Epoch.CAST:
                for _ in range(3):
                    length = np.linalg.norm(ARCH[i] - ARCH[j]) + b + rng.normal(0, 0.01)
                    readings.append(CaliperReading(epoch, NAMES[i], NAMES[j], float(length), name))
    result = check_caliper(readings)
    assert result.gauge is not None
    assert result.spread.s_operators_um > 15
    assert "caliper-operators" in ids(result)


def test_order_direction_and_rigid_motion_of_the_readings_change_nothing() -> None:
    readings = read_marks(ARCH, np.random.default_rng(17), moved={"43": [0.1, -0.1, 0]})
    turned = [replace(r, first=r.second, second=r.first) for r in reversed(readings)]
    a, b = check_caliper(readings), check_caliper(turned)
    for one in a.marks:
        other = mark(b, one.mark)
        assert one.judged.length_um == pytest.approx(other.judged.length_um, abs=1e-3)
        assert one.is_moved == other.is_moved


def test_swapping_the_epochs_turns_the_movements_round() -> None:
    readings = read_marks(ARCH, np.random.default_rng(18), moved={"43": [0.1, -0.1, 0]})
    swapped = [replace(r, epoch=Epoch.CAST if r.epoch is Epoch.MOUTH else Epoch.MOUTH) for r in readings]
    a, b = check_caliper(readings), check_caliper(swapped)
    for one in a.marks:
        assert mark(b, one.mark).moved_um == pytest.approx(-one.moved_um, abs=0.5)


def test_space_is_used_only_when_both_epochs_contradict_a_plane() -> None:
    lifted = ARCH.copy()
    lifted[4, 2] = 0.1
    assert check_caliper(read_marks(lifted, np.random.default_rng(19))).n_axes == 2


@pytest.mark.parametrize("n_axes", [2, 3])
def test_dimension_can_be_asked_for(n_axes) -> None:
    result = check_caliper(read_marks(IN_SPACE, np.random.default_rng(20)), CaliperAsked(n_axes=n_axes))
    assert result.n_axes == n_axes


def test_more_marks_than_are_taken_are_refused() -> None:
    places = np.random.default_rng(0).normal(0, 20, (15, 3))
    readings = read_marks(places, np.random.default_rng(0), names=[f"m{k}" for k in range(15)])
    with pytest.raises(CannotCompute, match="15 marks"):
        check_caliper(readings)


@pytest.mark.parametrize(
    "asked",
    [
        CaliperAsked(tolerance_um=0.0),
        CaliperAsked(tolerance_um=math.inf),
        CaliperAsked(u_distance_um=-1.0),
        CaliperAsked(reseat_um=math.nan),
        CaliperAsked(n_axes=4),
    ],
)
def test_numbers_out_of_range_are_refused(asked) -> None:
    with pytest.raises(ValueOutOfRange):
        check_caliper(read_marks(ARCH[:3], np.random.default_rng(0), names=NAMES[:3]), asked)


def test_mouth_and_index_together_are_refused() -> None:
    readings = [CaliperReading(e, "35", "45", 40.0) for e in Epoch]
    with pytest.raises(ValueOutOfRange, match="mouth and index"):
        check_caliper(readings)


@pytest.mark.parametrize("zero_mm", [0.06, -0.1])
def test_zero_of_the_caliper_that_changed_is_told_and_no_mark_blamed(zero_mm) -> None:
    readings = read_marks(ARCH, np.random.default_rng(21))
    shifted = [replace(r, length_mm=r.length_mm + zero_mm) if r.epoch is Epoch.CAST else r for r in readings]
    result = check_caliper(shifted)
    low, high = result.zero_um.interval()
    assert low - 3 < 1e3 * zero_mm < high + 3
    assert result.verdict is Verdict.CANNOT_TELL
    assert "zero" in result.headline
    assert not any(m.is_moved or m.judged.verdict is not Verdict.CANNOT_TELL for m in result.marks)
    assert "caliper-zero" in ids(result)
    assert not {"caliper-mark-moved", "caliper-open"} & ids(result)


@pytest.mark.parametrize(
    "more", [{}, {"scale": 0.004}, {"moved": {"45": [0.2, 0.1, 0]}}, {"moved": {"37": [0.1, 0.1, 0]}}]
)
def test_scale_and_movement_are_not_taken_for_a_zero(more) -> None:
    assert check_caliper(read_marks(ARCH, np.random.default_rng(22), **more)).zero_um is None


@pytest.mark.parametrize("share", [0.12, 0.16, 0.2, 0.25])
@pytest.mark.parametrize("n", [5, 6])
def test_marks_of_slightly_different_height_raise_no_alarm(n, share) -> None:
    uneven = ARCH + np.column_stack([np.zeros((6, 2)), share * HEIGHTS])
    result = check_caliper(read_marks(uneven[:n], np.random.default_rng(24), names=NAMES[:n], s=0.02))
    assert result.stable.overall.passes
    assert result.spread.inflation == 1.0
    assert not any(p.is_set_aside for p in result.pairs)


def test_uneven_marks_drawn_in_a_plane_are_noted_and_movement_is_still_found() -> None:
    uneven = ARCH + np.column_stack([np.zeros((6, 2)), 0.25 * HEIGHTS])
    readings = read_marks(uneven, np.random.default_rng(23), moved={"45": [0.2, 0.1, 0]})
    result = check_caliper(readings, CaliperAsked(n_axes=2))
    assert "caliper-uneven" in ids(result)
    assert [m.mark for m in result.marks if m.is_moved] == ["45"]
    assert not any(p.is_set_aside for p in result.pairs)


def test_mark_on_two_distances_is_told_to_have_a_mirrored_place() -> None:
    pairs = [*combinations(range(5), 2), (0, 5), (4, 5)]
    result = check_caliper(read_marks(ARCH, np.random.default_rng(24), pairs=pairs))
    assert {e.mirrored for e in result.epochs} == {("47",)}
    assert "caliper-mirrored" in ids(result)


def test_distance_read_in_one_place_only_is_told() -> None:
    readings = [
        r for r in read_marks(ARCH, np.random.default_rng(25)) if not (r.epoch is Epoch.CAST and r.pair == ("35", "45"))
    ]
    result = check_caliper(readings)
    told = next(f for f in result.findings if f.id == "caliper-one-sided")
    assert "35 to 45" in told.what
    assert "in the mouth only" in told.what


def test_unplaced_distance_that_changed_is_told() -> None:
    pairs = [*combinations(range(4), 2), (4, 5)]
    result = check_caliper(read_marks(ARCH, np.random.default_rng(26), pairs=pairs, moved={"47": [0, 0.3, 0]}))
    assert "45 to 47" in next(f for f in result.findings if f.id == "caliper-pair-changed").what


def test_index_stands_in_for_the_mouth() -> None:
    readings = [
        replace(r, epoch=Epoch.INDEX) if r.epoch is Epoch.MOUTH else r
        for r in read_marks(ARCH, np.random.default_rng(27))
    ]
    result = check_caliper(readings)
    assert result.reference is Epoch.INDEX
    assert result.verdict is Verdict.CONFORMS
