"""One clock per impression: phases, findings, times, and the example case."""

from dataclasses import replace
from datetime import timedelta, timezone
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from tests.examples import DEMO_NOW, OPPOSING, PICK_UP, demo_bench, demo_case, demo_events
from tests.unit.pour.scenes import LIFTS, at, bench, case_with, impression, opposing, out, state_of

from seatwright.case import (
    CaseState,
    DieTrial,
    Duration,
    ImpressionMaterial,
    PourPlan,
    Seating,
    Skill,
    StepCard,
    Stone,
    Storage,
    StorageSpell,
    Tray,
    fold_events,
)
from seatwright.findings import Severity
from seatwright.pour import Band, Feasibility, ImpressionPhase, assess_pour

PE = ImpressionMaterial.POLYETHER


def clock_of(state, minute: float, *, on=None, **other):
    taken = impression(**other)
    result = assess_pour(case_with(taken), state_of(state), on or bench(), die_cards={}, now=at(minute))
    return result.clock("pick")


def ids(clock) -> set[str]:
    return {finding.id for finding in clock.findings}


def find(clock, identifier: str):
    return next(f for f in clock.findings if f.id == identifier)


def test_in_the_example_the_opposing_alginate_is_given_up_and_the_pick_up_has_time() -> None:
    case, bench_ = demo_case(), demo_bench()
    state = fold_events(demo_events(), case, now=DEMO_NOW)
    result = assess_pour(case, state, bench_, die_cards={}, now=DEMO_NOW)
    spoiled, good = result.clock(OPPOSING), result.clock(PICK_UP)
    assert (spoiled.band, spoiled.decided_by) == (Band.BEYOND, "alginate-open-air")
    assert "14 min" in find(spoiled, "open-air").what
    assert "new impression of the opposing arch while the patient is here" in find(spoiled, "open-air").do
    assert (good.band, good.feasibility) == (Band.WITHIN, Feasibility.FITS)
    assert good.minutes_left == pytest.approx(1415.0)
    assert result.findings[0].severity is Severity.STOP
    with pytest.raises(KeyError):
        result.clock("none")


def test_phases_follow_the_log() -> None:
    assert clock_of(replace(out(), out_at=None), 5).phase is ImpressionPhase.PLANNED
    assert clock_of(out(), 5).phase is ImpressionPhase.WAITING
    poured = out(poured_at=at(8))
    assert clock_of(poured, 9).phase is ImpressionPhase.POURED
    assert clock_of(replace(poured, separated_at=at(60)), 61).phase is ImpressionPhase.SEPARATED


def test_what_comes_after_now_is_left_out() -> None:
    late = out(poured_at=at(8), separated_at=at(60), temperatures_c=((at(30), 60.0),))
    early = clock_of(late, 5)
    assert (early.phase, early.band, early.separate_from) == (ImpressionPhase.WAITING, Band.WITHIN, None)
    assert clock_of(late, -1).phase is ImpressionPhase.PLANNED
    assert clock_of(late, 20).phase is ImpressionPhase.POURED


def test_a_planned_impression_has_a_window_and_no_minutes_left() -> None:
    clock = clock_of(replace(out(), out_at=None), 0)
    assert (clock.window_min, clock.minutes_left, clock.age_min, clock.pour_by) == (12.0, None, None, None)
    assert "plan-keeps-wrapped" in ids(clock)


def test_waiting_counts_down_to_the_end_of_within() -> None:
    clock = clock_of(out(), 5)
    assert (clock.age_min, clock.minutes_left, clock.pour_by) == (5.0, 7.0, at(12))
    assert clock_of(out(), 20).minutes_left == -8.0


def test_the_clock_stands_once_stone_is_in() -> None:
    poured = out(poured_at=at(8))
    clock = clock_of(poured, 500)
    assert (clock.age_min, clock.band, clock.feasibility) == (8.0, Band.WITHIN, Feasibility.DONE)
    assert clock.minutes_left is None
    assert clock.minutes_needed.high_min == 0.0
    late = clock_of(out(poured_at=at(30)), 31)
    assert late.band is Band.STRETCHED
    assert find(late, "window-stretched").severity is Severity.WARNING


def test_uncovered_alginate_says_how_many_whole_minutes_are_left() -> None:
    clock = clock_of(out((Storage.OPEN_AIR, 0)), 6.5)
    assert "3 of 10 min left" in find(clock, "wrap-it").what
    assert "wrap-it" not in ids(clock_of(out(), 6.5))
    assert clock.pour_by == at(10)


def test_open_air_passed_is_a_stop_before_the_pour_and_a_warning_after() -> None:
    bare = out((Storage.OPEN_AIR, 0))
    stop = find(clock_of(bare, 10.4), "open-air")
    assert stop.severity is Severity.STOP
    assert "10.4 min" in stop.what
    assert "Seat the crowns again" in stop.do
    warned = find(clock_of(replace(bare, poured_at=at(11)), 12), "open-air")
    assert warned.severity is Severity.WARNING
    assert "Verify the cast" in warned.do


def test_at_exactly_ten_minutes_uncovered_it_is_not_given_up_yet() -> None:
    clock = clock_of(out((Storage.OPEN_AIR, 0)), 10)
    assert "0 of 10 min left" in find(clock, "wrap-it").what
    assert "open-air" not in ids(clock)


def test_after_the_pour_only_base_and_separation_are_left() -> None:
    plan = PourPlan(stone=Stone.TYPE_4, base_stone=Stone.TYPE_3)
    assert [c.id for c in clock_of(out(poured_at=at(8)), 9, pour=plan).cards] == ["pour-base", "separate"]
    done = out(poured_at=at(8), separated_at=at(60))
    assert [c.id for c in clock_of(done, 61, pour=plan).cards] == []


def test_a_die_tried_in_the_log_is_not_asked_to_be_tried_again() -> None:
    card = StepCard("die-trial", "Try", "", "pick", 43, Skill.DIES, Duration(5.0, 5.0, 5.0))
    trial = DieTrial("die-43", 43, Seating.FREELY, 20.0, 0.0, at(2))
    taken = impression()

    def needed(*trials: DieTrial) -> float:
        state = replace(state_of(out()), die_trials=trials)
        result = assess_pour(case_with(taken), state, bench(), die_cards={"pick": [card]}, now=at(3))
        return result.clock("pick").minutes_needed.typical_min

    assert needed() == pytest.approx(needed(trial) + 5.0)
    assert needed(replace(trial, at=at(4))) == needed()


def test_a_given_up_impression_offers_no_hands_and_marks_its_cards() -> None:
    clock = clock_of(out((Storage.OPEN_AIR, 0)), 14)
    assert clock.remedies == ()
    assert not any(i.startswith("work-") for i in ids(clock))
    assert all(c.cautions[0].startswith("Given up") for c in clock.cards if c.id in ("box", "weigh", "mix", "pour"))


def test_dry_alginate_is_warned_of_before_it_is_lost() -> None:
    assert find(clock_of(out((Storage.DRY, 0)), 5), "hydrocolloid-dry").severity is Severity.WARNING
    assert "hydrocolloid-dry" not in ids(clock_of(out((Storage.DRY, 0)), 5, material=PE))


@pytest.mark.parametrize(("celsius", "identifier"), [(41.0, "impression-heat"), (-5.0, "impression-freezing")])
def test_heat_and_frost_give_alginate_up(celsius: float, identifier: str) -> None:
    clock = clock_of(out(temperatures_c=((at(2), celsius),)), 5)
    assert find(clock, identifier).severity is Severity.STOP
    assert clock.band is Band.BEYOND
    assert clock.minutes_left == -3.0


def test_warm_alginate_is_doubted() -> None:
    clock = clock_of(out(temperatures_c=((at(2), 37.0),)), 5)
    assert find(clock, "impression-heat").severity is Severity.WARNING
    assert clock.band is Band.STRETCHED


def test_an_untested_limit_is_called_a_choice() -> None:
    clock = clock_of(out((Storage.DRY, 0), temperatures_c=((at(2), 45.0),)), 5, material=PE)
    assert "never tested" in find(clock, "impression-heat").why


def test_long_immersion_gives_up_and_a_short_one_is_said() -> None:
    wet = {"disinfection_method": "immersion", "disinfected_at": at(11)}
    assert find(clock_of(out(**wet, disinfection_contact_min=10.5), 11), "immersed-too-long").severity is Severity.STOP
    assert find(clock_of(out(**wet, disinfection_contact_min=8.0), 11), "immersed").severity is Severity.CAUTION


def test_damp_polyether_is_given_up_and_a_bag_is_cautioned() -> None:
    assert find(clock_of(out((Storage.DAMP_WRAP, 0)), 11, material=PE), "polyether-damp").severity is Severity.STOP
    assert "polyether-dry-it" in ids(clock_of(out((Storage.SEALED_BAG, 0)), 11, material=PE))
    assert "polyether-dry-it" not in ids(clock_of(out((Storage.DRY, 0)), 11, material=PE))


def test_uncounted_crowns_stop_the_work() -> None:
    assert find(clock_of(out(counted=False), 3), "crowns-not-counted").severity is Severity.STOP
    plain = opposing()
    state = state_of(replace(out(), id="opp", counted=False))
    result = assess_pour(case_with(plain), state, bench(), die_cards={}, now=at(3))
    assert "crowns-not-counted" not in {f.id for f in result.findings}


def test_a_missing_crown_is_an_airway_matter_first() -> None:
    finding = find(clock_of(out(in_tray=frozenset(LIFTS) - {44}), 3), "crown-missing")
    assert finding.severity is Severity.STOP
    assert "44" in finding.what
    assert finding.do.startswith("Airway first")
    on_tooth = out(in_tray=frozenset(LIFTS) - {44}, left_on_tooth=frozenset({44}))
    assert "crown-missing" not in ids(clock_of(on_tooth, 3))


@pytest.mark.parametrize("field", ["left_on_tooth", "loose"])
def test_a_crown_out_of_place_means_a_new_alginate_and_a_reseat_in_an_elastomer(field: str) -> None:
    identifier = {"left_on_tooth": "crown-left-on-tooth", "loose": "crown-loose"}[field]
    state = out((Storage.DRY, 0), **{field: frozenset({44})})
    wet, dry = clock_of(state, 3), clock_of(state, 3, material=PE)
    assert "new impression" in find(wet, identifier).do
    assert "never pushed back" in find(wet, identifier).why
    assert "positive stop" in find(dry, identifier).do


def test_counts_that_differ_from_plan_or_from_themselves_are_said() -> None:
    assert "crowns-not-seated" in ids(clock_of(out(seated=frozenset(LIFTS) - {37}), 3))
    assert "crown-count-differs" in ids(clock_of(out(seated=frozenset(LIFTS) - {37}), 3))
    extra = out(seated=frozenset({*LIFTS, 47}), in_tray=frozenset({*LIFTS, 47}))
    assert "crowns-unplanned" in ids(clock_of(extra, 3))
    assert not {i for i in ids(clock_of(out(), 3)) if i.startswith("crown")}


def test_what_is_not_disinfected_is_said_until_the_pour() -> None:
    assert "not-disinfected" in ids(clock_of(out(disinfected_at=None), 3))
    assert "not-disinfected" not in ids(clock_of(out(disinfected_at=None, poured_at=at(3)), 4))
    assert "not-disinfected" not in ids(clock_of(out(), 3))


def test_polyether_waits_half_an_hour_unless_the_maker_says_otherwise() -> None:
    dry = out((Storage.DRY, 0))
    assert clock_of(dry, 29, material=PE).pour_from == at(30)
    assert "pour-too-early" in ids(clock_of(dry, 29, material=PE))
    assert "pour-too-early" not in ids(clock_of(dry, 30, material=PE))
    assert clock_of(dry, 5, material=PE, maker={"pour_from_min": 15.0}).pour_from == at(15)


def test_polyether_poured_too_early_is_said_afterwards_without_asking_to_wait() -> None:
    finding = find(clock_of(out((Storage.DRY, 0), poured_at=at(20)), 25, material=PE), "pour-too-early")
    assert finding.what.endswith("was poured 20 min after the mouth; 30 min are asked for.")
    assert "pour-too-early" not in ids(clock_of(out((Storage.DRY, 0), poured_at=at(30)), 35, material=PE))


def test_the_makers_window_rules_and_a_longer_one_is_cautioned() -> None:
    clock = clock_of(out(), 100, maker={"pour_within_min": 240.0})
    assert (clock.band, clock.window_min) == (Band.WITHIN, 240.0)
    assert find(clock, "maker-rules").severity is Severity.CAUTION
    short = clock_of(out(), 5, maker={"pour_within_min": 8.0})
    assert (short.window_min, find(short, "maker-rules").severity) == (8.0, Severity.NOTE)


def test_the_stocks_window_is_used_when_the_impression_has_none() -> None:
    stocked = bench(impression_material=({"material": "alginate", "pour_within_min": 45.0},))
    assert clock_of(out(), 5, on=stocked).window_min == 45.0
    assert clock_of(out(), 5, on=stocked, maker={"pour_within_min": 30.0}).window_min == 30.0


def test_a_makers_window_does_not_lengthen_open_air() -> None:
    assert clock_of(out((Storage.OPEN_AIR, 0)), 11, maker={"pour_within_min": 240.0}).band is Band.BEYOND


def test_alginate_is_separated_from_45_to_60_minutes_and_at_75_it_is_urgent() -> None:
    poured = out(poured_at=at(8))
    clock = clock_of(poured, 9)
    assert (clock.separate_from, clock.separate_by) == (at(53), at(68))
    severities = {
        52: ("separate-later", Severity.NOTE),
        53: ("separate-now", Severity.CAUTION),
        68: ("separate-now", Severity.CAUTION),
        69: ("separate-late", Severity.WARNING),
        83: ("separate-late", Severity.WARNING),
        84: ("separate-late", Severity.STOP),
    }
    for minute, (identifier, severity) in severities.items():
        assert find(clock_of(poured, minute), identifier).severity is severity, minute


def test_an_elastomer_separates_from_45_to_120_minutes_or_after_the_makers_time() -> None:
    poured = out((Storage.DRY, 0), poured_at=at(60))
    clock = clock_of(poured, 61, material=PE)
    assert (clock.separate_from, clock.separate_by) == (at(105), at(180))
    assert clock_of(poured, 61, material=PE, maker={"separate_after_min": 30.0}).separate_from == at(90)
    assert find(clock_of(poured, 200, material=PE), "separate-late").severity is Severity.CAUTION


def test_separation_too_early_or_too_late_is_kept_in_mind() -> None:
    assert "separated-early" in ids(clock_of(out(poured_at=at(8), separated_at=at(40)), 41))
    assert "separated-late" in ids(clock_of(out(poured_at=at(8), separated_at=at(90)), 91))
    good = clock_of(out(poured_at=at(8), separated_at=at(60)), 61)
    assert not ids(good) & {"separated-early", "separated-late"}


def test_a_separated_cast_is_dried_used_and_grows() -> None:
    done = out(poured_at=at(0), separated_at=at(50))
    assert "dry-cast" in ids(clock_of(done, 60 * 47))
    assert "use-cast" in ids(clock_of(done, 60 * 49))
    assert "cast-grown" in ids(clock_of(done, 60 * 73))


def test_another_stone_than_planned_is_said() -> None:
    assert "poured-in-other-stone" in ids(clock_of(out(poured_at=at(5), poured_stone=Stone.TYPE_5), 6))
    assert "poured-in-other-stone" not in ids(clock_of(out(poured_at=at(5), poured_stone=Stone.TYPE_4), 6))


def test_a_flexible_tray_is_cautioned_for_a_pick_up() -> None:
    assert "tray-flexible" in ids(clock_of(out(), 5, tray=Tray.FLEXIBLE_STOCK))


def test_a_stretched_pick_up_is_never_told_to_pour_before_its_dies_are_made() -> None:
    finding = find(clock_of(out(), 20), "window-stretched")
    assert finding.do.startswith("Finish the dies, then pour")


def test_figures_in_open_air_say_what_they_leave_out() -> None:
    bare = clock_of(out((Storage.OPEN_AIR, 3), (Storage.SEALED_BAG, 0)), 5).steps[0]
    assert "open air" in bare.how_good
    assert "open air" not in clock_of(out(), 5).steps[0].how_good


def test_a_whole_cast_figure_says_so_in_the_step() -> None:
    step = clock_of(out((Storage.DRY, 0)), 40, material=PE).steps[0]
    assert "whole casts" in step.how_good


def test_steps_cover_all_time_without_gaps() -> None:
    steps = clock_of(out((Storage.OPEN_AIR, 3), (Storage.DAMP_WRAP, 0)), 5).steps
    assert steps[0].since_min == 0.0
    assert steps[-1].until_min is None
    assert all(a.until_min == b.since_min for a, b in pairwise(steps))


def test_the_answer_does_not_depend_on_the_zone_that_times_are_written_in() -> None:
    taken, zone = impression(), ZoneInfo("America/New_York")
    state = out((Storage.OPEN_AIR, 4), (Storage.SEALED_BAG, 0), temperatures_c=((at(2), 36.0),))
    moved = replace(
        state,
        out_at=state.out_at.astimezone(zone),
        spells=tuple(
            StorageSpell(s.storage, s.since.astimezone(zone), s.until.astimezone(zone) if s.until else None)
            for s in state.spells
        ),
        temperatures_c=tuple((t.astimezone(zone), v) for t, v in state.temperatures_c),
    )
    now = at(9)
    one = assess_pour(case_with(taken), state_of(state), bench(), die_cards={}, now=now)
    other = assess_pour(
        case_with(taken), state_of(moved), bench(), die_cards={}, now=now.astimezone(timezone(timedelta(hours=5)))
    )
    assert one == other
    assert one.clock("pick").pour_by.utcoffset() == timedelta(0)


def test_a_clock_change_in_the_middle_moves_nothing() -> None:
    zone = ZoneInfo("Europe/Berlin")
    start = at(0).replace(year=2026, month=3, day=29, hour=0, minute=55)  # 01:55 local, the gap begins at 02:00
    state = out(out_at=start.astimezone(zone), spells=(StorageSpell(Storage.SEALED_BAG, start.astimezone(zone)),))
    now = (start + timedelta(minutes=10)).astimezone(zone)
    result = assess_pour(case_with(impression()), state_of(state), bench(), die_cards={}, now=now)
    assert result.clock("pick").age_min == 10.0


def test_nothing_logged_at_all_is_a_plan() -> None:
    result = assess_pour(case_with(impression(), opposing()), CaseState(), bench(), die_cards={}, now=at(0))
    assert [c.phase for c in result.impressions] == [ImpressionPhase.PLANNED] * 2


def test_scanned_volumes_reach_the_mix() -> None:
    result = assess_pour(
        case_with(impression(pour=PourPlan(stone=Stone.TYPE_4, water_powder=0.2))),
        CaseState(),
        bench(),
        die_cards={},
        now=at(0),
        cast_volumes_ml={"pick": 100.0},
    )
    assert result.clock("pick").mixes[0].powder_g == 205.0
