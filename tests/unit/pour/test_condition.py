"""How an impression was kept, warmed, wetted and counted, and what is said about it."""

from datetime import timedelta

import pytest
from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events, minutes
from tests.unit.pour.builders import LIFTS, OUT, assess, clock_of, found, kinds, opposing, pick_up, state_of, stock

from seatwright.case import ImpressionMaterial, ImpressionRole, Stone, Storage, Tray, fold_events
from seatwright.errors import ValueOutOfRange
from seatwright.findings import Severity, SourceKind
from seatwright.pour import Band, ImpressionPhase, assess_pour

M, S = ImpressionMaterial, Storage
AIR, BAG, BOX, WRAP, WET, DRY = S.OPEN_AIR, S.SEALED_BAG, S.HUMID_BOX, S.DAMP_WRAP, S.IMMERSED, S.DRY
ELASTOMERS = (M.ADDITION_SILICONE, M.POLYETHER, M.POLYSULFIDE, M.CONDENSATION_SILICONE)


# --- storage history --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("storage", [AIR, DRY, WET])
def test_bare_or_wet_alginate_is_held_against_the_bags_row(storage) -> None:
    # out of the humid box at 130 min: two hours of the bag are over, four of the box are not
    assert clock_of(opposing(), [(BOX, 0)], at_min=131).band is Band.STRETCHED
    clock = clock_of(opposing(), [(BOX, 130), (storage, 0)], at_min=131)
    assert (clock.band, clock.decided_by) == (Band.BEYOND, "alginate-bag")


def test_minutes_in_open_air_add_up_over_spells() -> None:
    kept = [(AIR, 4), (BAG, 2), (AIR, 4), (BAG, 0)]
    assert clock_of(opposing(), kept, at_min=11).band is Band.WITHIN
    clock = clock_of(opposing(), [(AIR, 4), (BAG, 2), (AIR, 7), (BAG, 0)], at_min=14)
    assert clock.band is Band.BEYOND
    assert found(clock, "open-air").what == "Opposing alginate lay uncovered for 11 min, past 10 min: retake it."


def test_bagging_late_does_not_undo_open_air() -> None:
    clock = clock_of(opposing(), [(AIR, 10.5), (BAG, 0)], at_min=11)
    assert (clock.band, clock.decided_by) == (Band.BEYOND, "alginate-open-air")


def test_worst_storage_of_the_past_still_counts_after_a_better_one() -> None:
    # three hours in a bag is past its two; a humid box for the rest does not bring it back
    clock = clock_of(opposing(), [(BAG, 180), (BOX, 0)], at_min=200)
    assert (clock.band, clock.decided_by) == (Band.BEYOND, "alginate-bag")
    assert clock_of(opposing(), [(BOX, 0)], at_min=200).band is Band.STRETCHED


def test_dry_storage_of_alginate_counts_as_open_air_and_says_so_once() -> None:
    clock = clock_of(opposing(), [(DRY, 0)], at_min=3)
    assert kinds(clock) & {"hydrocolloid-dry", "wrap-it"} == {"hydrocolloid-dry"}
    assert "7 of 10 min left" in found(clock, "hydrocolloid-dry").what
    assert clock_of(opposing(), [(DRY, 0)], at_min=11).band is Band.BEYOND


def test_uncovered_alginate_is_told_to_be_wrapped_with_minutes_rounded_down() -> None:
    finding = found(clock_of(opposing(), [(AIR, 0)], at_min=2.5), "wrap-it")
    assert finding.what == "Opposing alginate lies uncovered: 7 of 10 min left. Wrap it now."


def test_open_air_now_shortens_the_clock_and_wrapping_lengthens_it() -> None:
    assert clock_of(opposing(), [(BAG, 5), (AIR, 0)], at_min=6).window_min == 12
    assert clock_of(opposing(), [(AIR, 0)], at_min=6).window_min == 10
    assert clock_of(opposing(), [(AIR, 6), (BAG, 0)], at_min=6).window_min == 12


def test_history_before_the_first_told_storage_is_open_air() -> None:
    state = state_of(opposing(), [(BAG, 0)])
    late = state_of(opposing(), [(BAG, 0)], out_at=minutes(11))
    state = state_of(opposing(), spells=late.spells)
    assert assess(opposing(), states=[state], at_min=12).impressions[0].decided_by == "alginate-open-air"


def test_events_after_the_moment_asked_are_left_out() -> None:
    kept = [(BAG, 30), (AIR, 0)]
    assert clock_of(opposing(), kept, at_min=11).band is Band.WITHIN
    clock = clock_of(opposing(), kept, at_min=11, poured_at=minutes(20), poured_stone=Stone.TYPE_4)
    assert clock.phase is ImpressionPhase.WAITING


def test_impression_out_later_than_now_is_planned() -> None:
    clock = clock_of(opposing(), at_min=-5)
    assert (clock.phase, clock.out_at, clock.minutes_left) == (ImpressionPhase.PLANNED, None, None)


def test_once_poured_its_age_stops() -> None:
    clock = clock_of(opposing(), at_min=600, poured_at=minutes(11), poured_stone=Stone.TYPE_4)
    assert (clock.age_min, clock.band) == (11, Band.WITHIN)


def test_moment_without_time_zone_is_refused() -> None:
    with pytest.raises(ValueOutOfRange):
        assess_pour(
            demo_case(impression=(opposing(),)),
            fold_events((), demo_case(impression=(opposing(),)), now=DEMO_NOW),
            demo_bench(),
            die_cards={},
            now=DEMO_NOW.replace(tzinfo=None),
        )


# --- temperature ------------------------------------------------------------------------------------------------

TEMPERATURES = [
    (M.ALGINATE, 0.0, Band.BEYOND),
    (M.ALGINATE, 0.1, Band.WITHIN),
    (M.ALGINATE, 35.0, Band.WITHIN),
    (M.ALGINATE, 35.1, Band.STRETCHED),
    (M.ALGINATE, 39.9, Band.STRETCHED),
    (M.ALGINATE, 40.0, Band.BEYOND),
    (M.EXTENDED_ALGINATE, 40.0, Band.BEYOND),
    (M.EXTENDED_ALGINATE, -9.0, Band.BEYOND),
    (M.ADDITION_SILICONE, -9.1, Band.STRETCHED),
    (M.ADDITION_SILICONE, -9.0, Band.WITHIN),
    (M.ADDITION_SILICONE, 40.0, Band.WITHIN),
    (M.ADDITION_SILICONE, 40.1, Band.STRETCHED),
    (M.ADDITION_SILICONE, 46.0, Band.STRETCHED),
    (M.ADDITION_SILICONE, 46.1, Band.BEYOND),
    *(
        (m, t, b)
        for m in ELASTOMERS[1:]
        for t, b in ((0.0, Band.STRETCHED), (0.1, Band.WITHIN), (40.0, Band.WITHIN), (40.1, Band.BEYOND))
    ),
]


@pytest.mark.parametrize(("material", "temperature_c", "band"), TEMPERATURES)
def test_temperature_puts_the_impression_in_this_band(material, temperature_c, band) -> None:
    clock = clock_of(opposing(material), at_min=1, temperature_c=temperature_c)
    assert clock.band is band
    told = kinds(clock) & {"impression-heat", "impression-freezing"}
    assert bool(told) is (band is not Band.WITHIN)
    if told:
        finding = found(clock, told.pop())
        assert f"{temperature_c:g} °C" in finding.what
        assert finding.severity is (Severity.STOP if band is Band.BEYOND else Severity.WARNING)


def test_frozen_and_warmed_are_both_said() -> None:
    seen = ((OUT, -2.0), (OUT + timedelta(minutes=1), 37.0))
    clock = clock_of(opposing(), at_min=5, temperatures_c=seen)
    assert found(clock, "impression-freezing").severity is Severity.STOP
    assert found(clock, "impression-heat").severity is Severity.WARNING


def test_heat_after_the_pour_does_not_count() -> None:
    seen = ((OUT + timedelta(minutes=30), 60.0),)
    clock = clock_of(opposing(), at_min=60, temperatures_c=seen, poured_at=minutes(10), poured_stone=Stone.TYPE_4)
    assert clock.band is Band.WITHIN


def test_limit_nobody_tested_says_that_it_is_a_choice() -> None:
    finding = found(clock_of(opposing(M.POLYSULFIDE), at_min=1, temperature_c=45.0), "impression-heat")
    assert "never tested" in finding.why
    assert finding.source.kind is SourceKind.JUDGEMENT


# --- fluid, spray, damp -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("contact_min", "band"), [(10.0, Band.WITHIN), (10.1, Band.BEYOND)])
@pytest.mark.parametrize("material", [M.ALGINATE, M.EXTENDED_ALGINATE])
def test_immersion_counts_to_ten_minutes(material, contact_min, band) -> None:
    told = {"disinfection_method": "immersion", "disinfection_contact_min": contact_min, "disinfected_at": minutes(11)}
    clock = clock_of(opposing(material), at_min=11, **told)
    assert clock.band is band
    identifier = "immersed" if band is Band.WITHIN else "immersed-too-long"
    assert f"lay in a fluid for {contact_min:g} min" in found(clock, identifier).what


def test_immersion_told_and_fluid_before_it_add_up() -> None:
    # 6 min in water, then 6 min immersed in a bag of disinfectant: 12 min of fluid
    told = {"disinfection_method": "immersion", "disinfection_contact_min": 6.0, "disinfected_at": minutes(12)}
    assert clock_of(opposing(), [(WET, 6), (BAG, 0)], at_min=12, **told).band is Band.BEYOND


def test_immersion_told_and_kept_as_a_spell_counts_once() -> None:
    told = {"disinfection_method": "immersion", "disinfection_contact_min": 8.0, "disinfected_at": minutes(9)}
    clock = clock_of(opposing(), [(BAG, 1), (WET, 8), (BAG, 0)], at_min=10, **told)
    assert clock.band is Band.WITHIN
    assert "for 8 min" in found(clock, "immersed").what


def test_short_immersion_still_warns_of_the_study_that_saw_a_change() -> None:
    told = {"disinfection_method": "immersion", "disinfection_contact_min": 3.0, "disinfected_at": minutes(4)}
    finding = found(clock_of(opposing(), at_min=4, **told), "immersed")
    assert finding.severity is Severity.CAUTION
    assert "5 min" in finding.what


@pytest.mark.parametrize(("contact_min", "is_said"), [(10.0, False), (20.0, True)])
def test_long_spray_contact_is_doubted(contact_min, is_said) -> None:
    told = {"disinfection_contact_min": contact_min, "disinfected_at": minutes(contact_min)}
    assert ("sprayed-too-long" in kinds(clock_of(opposing(), at_min=contact_min, **told))) is is_said


@pytest.mark.parametrize(("damp_min", "band"), [(10, Band.WITHIN), (11, Band.BEYOND)])
@pytest.mark.parametrize("storage", [WRAP, BOX, WET])
def test_polyether_may_be_damp_for_ten_minutes(storage, damp_min, band) -> None:
    assert clock_of(opposing(M.POLYETHER), [(storage, damp_min), (DRY, 0)], at_min=40).band is band


def test_polyether_immersed_in_a_bag_counts_as_damp() -> None:
    told = {"disinfection_method": "immersion", "disinfection_contact_min": 30.0, "disinfected_at": minutes(31)}
    clock = clock_of(pick_up(M.POLYETHER), [(DRY, 1), (BAG, 30), (DRY, 0)], at_min=31, **told)
    assert found(clock, "polyether-damp").what == "Pick-up polyether was damp for 30 min, past 10 min: retake it."


def test_polyether_left_in_a_bag_is_told_to_be_dried() -> None:
    assert "polyether-dry-it" in kinds(clock_of(pick_up(M.POLYETHER), [(BAG, 0)], at_min=5))
    assert "polyether-dry-it" not in kinds(clock_of(pick_up(M.POLYETHER), [(DRY, 0)], at_min=5))


@pytest.mark.parametrize("material", [M.ADDITION_SILICONE, M.POLYSULFIDE, M.CONDENSATION_SILICONE])
def test_damp_does_not_concern_other_elastomers(material) -> None:
    assert clock_of(opposing(material), [(BOX, 0)], at_min=20).band is Band.WITHIN


def test_undisinfected_is_warned_of_while_it_waits() -> None:
    clock = clock_of(opposing(), at_min=1, disinfected_at=None)
    assert found(clock, "not-disinfected").what == "Opposing alginate is not disinfected."


# --- crowns -----------------------------------------------------------------------------------------------------


def test_uncounted_crowns_stop_the_pour_and_stand_on_its_cards() -> None:
    clock = clock_of(pick_up(M.POLYETHER), at_min=40, counted=False, seated=frozenset(), in_tray=frozenset())
    finding = found(clock, "crowns-not-counted")
    assert finding.severity is Severity.STOP
    assert finding.what == "Pick-up polyether: crowns not counted, 8 must be there."
    pour = next(c for c in clock.cards if c.id == "pour")
    assert pour.cautions[0].startswith("Not yet. Pick-up polyether: crowns not counted")


def test_opposing_impression_has_no_crowns_to_count() -> None:
    assert "crowns-not-counted" not in kinds(clock_of(opposing(), at_min=1, counted=False))


@pytest.mark.parametrize(
    ("material", "order"),
    [(M.ALGINATE, "take a new impression"), (M.POLYETHER, "Seat it with a positive stop")],
)
@pytest.mark.parametrize("where", ["left_on_tooth", "loose"])
def test_crown_out_of_place_stops(where, material, order) -> None:
    in_tray = frozenset(LIFTS) - ({33} if where == "left_on_tooth" else set())
    clock = clock_of(pick_up(material), at_min=5, in_tray=in_tray, **{where: frozenset({33})})
    finding = found(
        clock, where.replace("left_on", "crown-left-on").replace("_", "-") if where != "loose" else "crown-loose"
    )
    assert finding.severity is Severity.STOP
    assert "33" in finding.what
    assert order in finding.do
    assert "never pushed back" in finding.why or material is M.POLYETHER
    assert "crown-missing" not in kinds(clock)


def test_crown_nowhere_is_an_airway_matter_even_after_the_pour() -> None:
    for other in ({}, {"poured_at": minutes(8), "poured_stone": Stone.TYPE_4}):
        clock = clock_of(pick_up(), at_min=9, in_tray=frozenset(LIFTS) - {42}, **other)
        finding = found(clock, "crown-missing")
        assert finding.severity is Severity.STOP
        assert finding.do.startswith("Airway first")
        assert finding.what == "Crown missing: 42, neither in the pick-up alginate nor on its tooth."


def test_counts_that_do_not_agree_are_said() -> None:
    assert "crown-count-differs" in kinds(clock_of(pick_up(), at_min=1, in_tray=frozenset({*LIFTS, 47})))
    both = {"left_on_tooth": frozenset({33})}
    assert "crown-count-differs" in kinds(clock_of(pick_up(), at_min=1, **both))
    few = frozenset(LIFTS) - {44}
    assert "crowns-not-seated" in kinds(clock_of(pick_up(), at_min=1, seated=few, in_tray=few))
    more = frozenset({*LIFTS, 47})
    assert "crowns-unplanned" in kinds(clock_of(pick_up(), at_min=1, seated=more, in_tray=more))


def test_flexible_tray_is_a_caution_for_a_pick_up_only() -> None:
    assert "tray-flexible" in kinds(clock_of(pick_up(tray=Tray.FLEXIBLE_STOCK), at_min=1))
    assert "tray-flexible" not in kinds(clock_of(opposing(tray=Tray.FLEXIBLE_STOCK), at_min=1))


# --- window and maker -------------------------------------------------------------------------------------------


def test_stretched_window_names_age_and_cost() -> None:
    finding = found(clock_of(opposing(), [(BAG, 0)], at_min=40), "window-stretched")
    assert "40 min after the mouth, at a cost of -0.3 ± 1.0 % of each span (95 %)" in finding.what
    assert finding.do.startswith("Pour the opposing alginate now.")


def test_age_past_every_source_is_given_up() -> None:
    finding = found(clock_of(pick_up(), [(BAG, 0)], at_min=121), "window-beyond")
    assert finding.severity is Severity.STOP
    assert finding.what == "Pick-up alginate is too old, 121 min after the mouth: retake it."


def test_poured_too_old_says_not_to_trust_the_cast() -> None:
    clock = clock_of(opposing(), at_min=300, poured_at=minutes(150), poured_stone=Stone.TYPE_4)
    finding = found(clock, "window-beyond")
    assert finding.severity is Severity.WARNING
    assert finding.what == "Opposing alginate is too old, 150 min after the mouth when poured: do not trust its cast."


def test_makers_window_prevails_over_the_table_both_ways() -> None:
    long = opposing(M.EXTENDED_ALGINATE, maker={"pour_within_min": 7200.0})
    assert clock_of(long, at_min=7200).band is Band.WITHIN
    assert clock_of(long, at_min=7201).band is Band.BEYOND
    assert found(clock_of(long, at_min=1), "maker-rules").severity is Severity.CAUTION
    short = opposing(M.EXTENDED_ALGINATE, maker={"pour_within_min": 30.0})
    assert clock_of(short, at_min=30).band is Band.WITHIN
    assert clock_of(short, at_min=31).band is Band.STRETCHED
    assert found(clock_of(short, at_min=1), "maker-rules").severity is Severity.NOTE


def test_impressions_own_maker_figure_beats_the_stocks() -> None:
    bench = demo_bench(impression_material=stock(M.ALGINATE, pour_within_min=60.0))
    assert clock_of(opposing(), at_min=1, bench=bench).window_min == 60
    own = opposing(maker={"pour_within_min": 8.0})
    assert clock_of(own, at_min=1, bench=bench).window_min == 8


def test_makers_window_does_not_excuse_open_air_heat_or_fluid() -> None:
    long = opposing(M.EXTENDED_ALGINATE, maker={"pour_within_min": 7200.0})
    assert clock_of(long, [(AIR, 0)], at_min=11).band is Band.BEYOND
    assert clock_of(long, at_min=1, temperature_c=41.0).band is Band.BEYOND
    assert clock_of(long, [(WET, 11), (BAG, 0)], at_min=12).band is Band.BEYOND


def test_makers_change_replaces_the_tables_cost_inside_its_window_only() -> None:
    own = opposing(maker={"pour_within_min": 60.0, "linear_change_percent": -0.1})
    steps = clock_of(own, at_min=1).steps
    assert [(s.until_min, s.bias_percent, s.u_percent) for s in steps[:3]] == [
        (12.0, -0.1, 0.25),
        (60.0, -0.1, 0.5),
        (120.0, -0.3, 0.5),
    ]
    assert [s.source.kind for s in steps[:3]] == [SourceKind.MAKER, SourceKind.MAKER, SourceKind.JUDGEMENT]


def test_polyether_waits_half_an_hour_or_as_the_maker_asks() -> None:
    assert (
        found(clock_of(pick_up(M.POLYETHER), at_min=10), "pour-too-early").what
        == "Do not pour the pick-up polyether yet: 20 min to wait."
    )
    assert "pour-too-early" not in kinds(clock_of(pick_up(M.POLYETHER), at_min=30))
    own = pick_up(M.POLYETHER, maker={"pour_from_min": 60.0})
    assert found(clock_of(own, at_min=30), "pour-too-early").source.kind is SourceKind.MAKER
    assert "pour-too-early" not in kinds(clock_of(pick_up(M.ADDITION_SILICONE), at_min=1))


# --- after the pour ---------------------------------------------------------------------------------------------

AFTER = [
    (M.ALGINATE, 44, "separate-later", Severity.NOTE),
    (M.ALGINATE, 45, "separate-now", Severity.CAUTION),
    (M.ALGINATE, 60, "separate-now", Severity.CAUTION),
    (M.ALGINATE, 61, "separate-late", Severity.WARNING),
    (M.ALGINATE, 75, "separate-late", Severity.WARNING),
    (M.ALGINATE, 76, "separate-late", Severity.STOP),
    (M.POLYETHER, 44, "separate-later", Severity.NOTE),
    (M.POLYETHER, 120, "separate-now", Severity.CAUTION),
    (M.POLYETHER, 121, "separate-late", Severity.CAUTION),
]


@pytest.mark.parametrize(("material", "minute", "identifier", "severity"), AFTER)
def test_separation_is_called_for_in_time(material, minute, identifier, severity) -> None:
    poured = {"poured_at": minutes(10), "poured_stone": Stone.TYPE_4, "n_pours": 1}
    clock = clock_of(opposing(material), at_min=10 + minute, **poured)
    assert found(clock, identifier).severity is severity
    assert clock.separate_from == minutes(10 + 45)


@pytest.mark.parametrize(
    ("minute", "identifier"), [(44, "separated-early"), (45, None), (75, None), (76, "separated-late")]
)
def test_separation_too_early_or_too_late_is_said_afterwards(minute, identifier) -> None:
    poured = {"poured_at": minutes(10), "poured_stone": Stone.TYPE_4, "separated_at": minutes(10 + minute)}
    said = kinds(clock_of(opposing(), at_min=120, **poured)) & {"separated-early", "separated-late"}
    assert said == ({identifier} if identifier else set())


@pytest.mark.parametrize(
    ("age_h", "identifier"), [(47.9, "dry-cast"), (48.1, "use-cast"), (71.9, "use-cast"), (72.1, "cast-grown")]
)
def test_cast_dries_then_is_used_before_it_grows(age_h, identifier) -> None:
    poured = {"poured_at": minutes(10), "poured_stone": Stone.TYPE_4, "separated_at": minutes(60)}
    assert identifier in kinds(clock_of(opposing(), at_min=10 + 60 * age_h, **poured))


def test_other_stone_than_planned_is_said_in_words() -> None:
    clock = clock_of(opposing(), at_min=20, poured_at=minutes(10), poured_stone=Stone.TYPE_5)
    assert (
        found(clock, "poured-in-other-stone").what
        == "Opposing alginate was poured in Type 5 stone, planned was Type 4."
    )


@pytest.mark.parametrize(("material", "severity"), [(M.ALGINATE, Severity.WARNING), (M.POLYETHER, Severity.CAUTION)])
def test_second_pour_is_not_passed_over(material, severity) -> None:
    poured = {"poured_at": minutes(11), "poured_stone": Stone.TYPE_4, "n_pours": 2}
    assert found(clock_of(opposing(material), at_min=12, **poured), "poured-again").severity is severity


# --- names ------------------------------------------------------------------------------------------------------


def test_example_says_to_retake_the_opposing_alginate() -> None:
    case, bench = demo_case(), demo_bench()
    state = fold_events(demo_events(), case, now=DEMO_NOW)
    result = assess_pour(case, state, bench, die_cards={}, now=DEMO_NOW)
    worst = result.findings[0]
    assert worst.what == "Opposing alginate lay uncovered for 14 min, past 10 min: retake it."
    assert worst.about == "opposing-1"
    assert "new impression of the opposing arch" in worst.do


def test_two_impressions_of_one_kind_are_told_apart() -> None:
    one, two = opposing(id="first"), opposing(id="second")
    result = assess(one, two, states=[state_of(one, [(AIR, 0)]), state_of(two, [(BAG, 0)])], at_min=11)
    assert result.findings[0].what.startswith("Opposing alginate (first) lay uncovered")


SCENES = [
    {"kept": [(AIR, 0)], "at_min": 14.0},
    {"kept": [(DRY, 3), (BAG, 0)], "at_min": 20.0},
    {"kept": [(BAG, 0)], "at_min": 200.0},
    {"kept": [(WET, 0)], "at_min": 30.0},
    {"kept": [(WET, 4), (BAG, 0)], "at_min": 30.0, "disinfected_at": None},
    {"at_min": 3.0, "temperature_c": 37.0},
    {"at_min": 3.0, "temperature_c": -5.0},
    {"at_min": 3.0, "counted": False},
    {"at_min": 3.0, "left_on_tooth": frozenset({33, 35}), "loose": frozenset({44}), "in_tray": frozenset({37})},
    {"at_min": 90.0, "poured_at": minutes(10), "poured_stone": Stone.TYPE_5, "n_pours": 2},
    {"at_min": 9000.0, "poured_at": minutes(10), "poured_stone": Stone.TYPE_4, "separated_at": minutes(20)},
    {"at_min": -3.0},
]


@pytest.mark.parametrize("scene", SCENES)
@pytest.mark.parametrize("material", ImpressionMaterial)
@pytest.mark.parametrize("role", [ImpressionRole.PICK_UP, ImpressionRole.OPPOSING])
def test_every_finding_names_its_impression_and_can_be_read_alone(scene, material, role) -> None:
    impression = pick_up(material) if role is ImpressionRole.PICK_UP else opposing(material)
    fields = {k: v for k, v in scene.items() if k not in ("kept", "at_min")}
    clock = clock_of(impression, scene.get("kept", ()), at_min=scene["at_min"], **fields)
    spoken = {"pick_up": "pick-up", "opposing": "opposing"}[role.value]
    for finding in (*clock.findings, *(f for mix in clock.mixes for f in mix.findings)):
        assert finding.about == impression.id
        assert spoken in finding.what.lower(), finding.what
        assert finding.what.endswith(".")
        assert finding.what[0].isupper()
        assert "_" not in finding.what + finding.do
        assert finding.severity in (Severity.NOTE, Severity.CAUTION) or finding.do, finding.id
