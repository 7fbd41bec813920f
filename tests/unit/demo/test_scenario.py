"""The invented scenario: valid, complete, and hiding exactly what it says it hides."""

from datetime import timedelta
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from tests.unit.demo.surface_checks import edge_uses

from seatwright.arch import SeedRegion, assign_regions
from seatwright.case import (
    KennedyClass,
    Poured,
    ScanRole,
    SpaceRole,
    Storage,
    check_log,
    classify_support,
    fold_events,
    validate_bench,
    validate_case,
)
from seatwright.demo import DemoCase, make_demo_case
from seatwright.mesh import Surface


@cache
def demo() -> DemoCase:
    return make_demo_case(grid_mm=0.45)


def test_case_bench_and_log_have_no_fault() -> None:
    made = demo()
    assert made.case.as_of is not None
    assert not validate_case(made.case)
    assert not validate_bench(made.bench)
    assert not check_log(made.events, made.case, now=made.case.as_of)


def test_arch_is_kennedy_two_modification_two() -> None:
    support = classify_support(demo().case.teeth, demo().case.arch)
    assert support.kennedy_class is KennedyClass.II
    assert support.n_modifications == 2
    spaces = {space.teeth: space.role for space in support.spaces}
    assert spaces[(47, 46)] is SpaceRole.DECIDING
    assert spaces[(36,)] is SpaceRole.MODIFICATION


def test_log_is_numbered_in_order_of_time_within_working_hours() -> None:
    events = demo().events
    assert [e.seq for e in events] == list(range(1, len(events) + 1))
    assert all(a.at <= b.at for a, b in pairwise(events))
    assert all(7 <= e.at.hour < 16 and e.at.weekday() < 5 for e in events)
    steps = {(e.step, e.units): e.at for e in events if e.what == "step_started"}
    for event in events:
        if event.what == "step_finished":
            assert steps.pop((event.step, event.units)) < event.at
    assert not steps


def test_new_opposing_alginate_has_lain_open_for_fourteen_minutes() -> None:
    made = demo()
    assert made.case.as_of is not None
    state = fold_events(made.events, made.case, now=made.case.as_of).impressions["opposing-2"]
    assert state.out_at is not None
    assert made.case.as_of - state.out_at == timedelta(minutes=14)
    assert [spell.storage for spell in state.spells] == [Storage.OPEN_AIR]
    assert state.poured_at is None
    assert made.case.impression_by_id("opposing-2").replaces == "opposing-1"


def test_pick_up_was_poured_within_the_makers_window_and_separated_in_time() -> None:
    made = demo()
    assert made.case.as_of is not None
    state = fold_events(made.events, made.case, now=made.case.as_of).impressions["pickup-1"]
    maker = made.case.impression_by_id("pickup-1").maker
    assert state.out_at is not None
    assert state.poured_at is not None
    assert state.separated_at is not None
    waited = (state.poured_at - state.out_at).total_seconds() / 60
    assert maker.pour_from_min <= waited <= maker.pour_within_min
    assert (state.separated_at - state.poured_at).total_seconds() / 60 >= maker.separate_after_min
    assert state.in_tray == frozenset(made.case.impression_by_id("pickup-1").lifts)


def test_poured_powder_and_water_keep_the_planned_ratio() -> None:
    made = demo()
    ratios = {s.stone: s.water_powder for s in made.bench.stone}
    pours = [e for e in made.events if isinstance(e, Poured)]
    assert len(pours) == 2
    for pour in pours:
        assert pour.water_ml / pour.powder_g == pytest.approx(ratios[pour.stone], abs=0.005)


def test_returned_die_of_43_is_engraved_33_and_was_found_short() -> None:
    made = demo()
    assert made.case.as_of is not None
    (die,) = made.case.returned_die
    (trial,) = fold_events(made.events, made.case, now=made.case.as_of).die_trials
    assert (die.tooth, die.engraved) == (43, "33")
    assert (trial.gap_um, trial.short_by_mm) == (180.0, 0.4)


def test_only_44_moved_and_by_the_stated_amount() -> None:
    truth = demo().truth
    assert truth.floated == (44,)
    assert truth.shift_mm[44] == pytest.approx([0.0, 0.0, -0.18], abs=0.002)
    assert np.degrees(np.linalg.norm(truth.turn_rad[44])) == pytest.approx(1.2)
    for tooth in set(truth.shift_mm) - {44}:
        assert truth.shift_mm[tooth] == pytest.approx([0, 0, 0])
        assert truth.turn_rad[tooth] == pytest.approx([0, 0, 0])


def test_scans_are_those_that_the_case_names_and_open_below() -> None:
    made = demo()
    assert set(made.scans) == {scan.file for scan in made.case.scan}
    assert {scan.role for scan in made.case.scan} == {ScanRole.REFERENCE, ScanRole.POURED}
    for scan in made.scans.values():
        assert (edge_uses(scan.faces) == 1).any()


def test_each_region_holds_its_own_crown_and_no_gum() -> None:
    made = demo()
    reference = made.scans["scans/reference.ply"]
    surface = Surface(reference.vertices_mm, reference.faces.astype(np.int32))
    seeds = [SeedRegion(str(r.tooth), np.array(r.seed_mm), r.radius_mm) for r in made.case.region]
    centers = reference.vertices_mm[reference.faces].mean(axis=1)
    for region in assign_regions(surface, seeds):
        unit = reference.truth.field.nearest_unit(centers[region.face_ids])
        assert len(unit) > 500
        assert (unit == int(region.tooth)).mean() > 0.93
        assert not (unit == 0).any()


def test_attachments_lie_on_the_reference_surface_and_axes_part_by_two_tenths() -> None:
    made = demo()
    surface = made.scans["scans/reference.ply"].vertices_mm
    rigid = [a for a in made.case.attachment if a.withdraw_direction is not None]
    cosine = np.dot(rigid[0].withdraw_direction, rigid[1].withdraw_direction)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(0.2, abs=0.001)
    for attachment in made.case.attachment:
        assert np.linalg.norm(surface - np.array(attachment.at_mm), axis=1).min() < 3.2


def test_same_call_gives_the_same_scenario() -> None:
    again = make_demo_case(grid_mm=0.45)
    assert again.case == demo().case
    assert again.events == demo().events
    for name, scan in again.scans.items():
        assert (scan.vertices_mm == demo().scans[name].vertices_mm).all()
