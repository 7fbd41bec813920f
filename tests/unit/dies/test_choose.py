"""Choices, never and findings, on common-practice checks and on the whole scenario."""

import pytest
from tests.unit.dies.builders import (
    BUTT,
    COLLAR,
    GLASS,
    KNIFE,
    PICK_UP,
    START,
    ZIRCONIA,
    case_of,
    crown,
    edges,
    good_die,
    out,
    pick_up,
    scenario,
    trial,
)

from seatwright.case import (
    Bar,
    Body,
    CaseState,
    CoreKind,
    ImpressionMaterial,
    ImpressionState,
    Intaglio,
    InternalFeature,
    InternalFeatureKind,
    Join,
    JoinKind,
    Margin,
    PourPlan,
    Seating,
    Stone,
    Unit,
    UnitKind,
)
from seatwright.dies import DieResult, Effect, Technique, UnitDie, choose_dies, total_minutes
from seatwright.findings import Severity

ALGINATE = ImpressionMaterial.ALGINATE


def answer(unit: Unit, state: CaseState | None = None, **fields: object) -> UnitDie:
    material = fields.pop("material", ImpressionMaterial.POLYETHER)
    stone = fields.pop("stone", Stone.TYPE_4)
    impression = pick_up((unit.tooth,), material=material, pour=PourPlan(stone=stone))
    return choose_dies(case_of(unit, impression=impression, **fields), state or CaseState()).units[0]


def effect(unit: UnitDie, technique: Technique) -> Effect:
    return next(v.effect for v in unit.ranked if v.technique is technique)


def ids(unit: UnitDie) -> set[str]:
    return {finding.id for finding in unit.findings}


def cautions(unit: UnitDie) -> str:
    return " ".join(text for card in unit.cards for text in card.cautions)


# --- common practice ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("surface", ["facial", "mesial", "lingual", "distal"])
def test_unmasked_porcelain_edge_on_any_surface_vetoes_dies_formed_in_the_crown(surface: str) -> None:
    unit = answer(crown(margin=edges(**{surface: BUTT})))
    assert effect(unit, Technique.GEL) is Effect.VETOED
    assert effect(unit, Technique.PATTERN_RESIN) is Effect.VETOED
    assert unit.never == f"Never a hard resin die against the {surface} porcelain edge"


def test_valid_preformed_epoxy_die_is_chosen_for_a_porcelain_edge() -> None:
    unit = answer(crown(margin=edges(facial=BUTT)), returned_die=(good_die(),))
    assert unit.chosen is Technique.RETURNED_EPOXY
    assert "pry" in unit.never


@pytest.mark.parametrize(
    "die",
    [
        None,
        good_die(engraved="45"),
        good_die(seating=Seating.WITH_FORCE),
        good_die(fit_gap_um=51.0),
        good_die(fit_gap_um=None),
    ],
)
def test_without_a_valid_epoxy_die_the_porcelain_is_masked_with_wax_before_resin(die: object) -> None:
    unit = answer(crown(margin=edges(facial=BUTT)), returned_die=(die,) if die else ())
    assert unit.chosen is Technique.MASKED
    steps = [card.id for card in unit.cards]
    assert steps.index("mask-wax") < steps.index("gel-lining")
    assert effect(unit, Technique.RETURNED_EPOXY) is Effect.VETOED


def test_metal_collar_takes_the_light_cured_gel_with_a_bent_pin() -> None:
    unit = answer(crown())
    assert unit.chosen is Technique.GEL
    assert any("bent" in resource for card in unit.cards for resource in card.resources)
    assert "curing_light" in {tool for card in unit.cards for tool in card.equipment}


def test_cyanoacrylate_needs_a_dry_crown_and_only_a_trace() -> None:
    die, unit = good_die(), crown(margin=edges(facial=BUTT))
    wet = answer(unit, out(35), material=ALGINATE, returned_die=(die,))
    dry = answer(unit, out(35, dried=frozenset({35})), material=ALGINATE, returned_die=(die,))
    assert effect(wet, Technique.RETURNED_EPOXY) is Effect.VETOED
    assert wet.chosen is Technique.MASKED
    assert "do-first" in ids(wet)
    assert dry.chosen is Technique.RETURNED_EPOXY
    steps = [card.id for card in dry.cards]
    assert steps.index("die-dry") < steps.index("die-tack")
    tack = dry.cards[steps.index("die-tack")]
    assert any("trace" in text and "10 s" in text and "Dry crown" in text for text in tack.cautions)
    assert any("accelerator" in text for text in tack.cautions)


def test_before_the_alginate_is_taken_the_plan_keeps_the_epoxy_die_and_dries_first() -> None:
    unit = answer(crown(margin=edges(facial=BUTT)), material=ALGINATE, returned_die=(good_die(),))
    assert unit.chosen is Technique.RETURNED_EPOXY
    assert "die-dry" in {card.id for card in unit.cards}


@pytest.mark.parametrize("edge", [COLLAR, BUTT])
def test_no_oven_is_said_at_each_curing_step_in_hydrocolloid_only(edge: object) -> None:
    margin = edges(facial=edge)
    for card in answer(crown(margin=margin), material=ALGINATE).cards:
        assert ("curing_light" in card.equipment) == any("oven" in text for text in card.cautions)
    assert "oven" not in cautions(answer(crown(margin=margin)))


def test_every_die_carries_its_tooth_number() -> None:
    case, state = scenario()
    for unit in choose_dies(case, state).units:
        if unit.chosen is not Technique.NONE:
            assert any(
                f"numbered {unit.tooth}" in card.do or f"number aloud: {unit.tooth}" in card.do for card in unit.cards
            )


def test_separator_is_left_out_only_in_a_clean_moist_metal_crown() -> None:
    def has_separator(unit: UnitDie) -> bool:
        return "separator" in {card.id for card in unit.cards}

    assert not has_separator(answer(crown(), material=ALGINATE))
    assert has_separator(answer(crown()))
    assert has_separator(answer(crown(intaglio=Intaglio.PRIMED), material=ALGINATE))
    assert has_separator(answer(crown(body=Body.ZIRCONIA, margin=edges(ZIRCONIA)), material=ALGINATE))
    assert has_separator(answer(crown(), out(35, dried=frozenset({35})), material=ALGINATE))


def test_gel_in_opaque_metal_goes_in_two_increments_lining_first() -> None:
    steps = [card.id for card in answer(crown()).cards]
    assert steps[-3:] == ["gel-lining", "gel-fill", "gel-wipe"]


def test_wax_mask_warns_of_hot_agar_and_boil_out() -> None:
    text = cautions(answer(crown(margin=edges(facial=BUTT))))
    assert "hot agar" in text
    assert "boil-out" in text


# --- the scenario ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def told() -> DieResult:
    case, state = scenario()
    return choose_dies(case, state)


@pytest.mark.parametrize(
    ("tooth", "technique"),
    [
        (37, Technique.GEL),
        (35, Technique.GEL),
        (34, Technique.NONE),
        (33, Technique.MASKED),
        (42, Technique.MASKED),
        (43, Technique.MASKED),
        (44, Technique.GEL),
        (45, Technique.ANALOG),
    ],
)
def test_scenario_gives_each_unit_the_die_a_technician_would(told: DieResult, tooth: int, technique: Technique) -> None:
    assert told.unit(tooth).chosen is technique


def test_scenario_catches_the_mirror_tooth_die(told: DieResult) -> None:
    unit = told.unit(43)
    finding = next(f for f in unit.findings if f.id == "returned-die-mirror-tooth")
    assert finding.severity is Severity.WARNING
    assert all(words in finding.why for words in ("mirror tooth of 43", "short by 0.4 mm", "180 µm"))
    assert unit.never == "Never put the die engraved 33 into 43"
    assert effect(unit, Technique.RETURNED_EPOXY) is Effect.VETOED


def test_scenario_with_the_right_die_takes_it() -> None:
    case, _ = scenario()
    right = case.model_copy(update={"returned_die": (good_die(43),)})
    assert choose_dies(right, CaseState()).unit(43).chosen is Technique.RETURNED_EPOXY


def test_scenario_vetoes_stone_in_the_thin_neck(told: DieResult) -> None:
    assert effect(told.unit(42), Technique.STONE) is Effect.VETOED
    assert effect(told.unit(33), Technique.STONE) is Effect.ALLOWED


def test_scenario_warns_of_depth_at_33_without_dethroning_the_mask(told: DieResult) -> None:
    assert "deep-subgingival" in ids(told.unit(33))


def test_scenario_separates_the_primed_zirconia(told: DieResult) -> None:
    unit = told.unit(44)
    assert "separator-mandatory" in ids(unit)
    steps = [card.id for card in unit.cards]
    assert steps.index("separator") < steps.index("gel-lining")


def test_scenario_stops_the_bar_twice(told: DieResult) -> None:
    (bar,) = told.bars
    assert bar.n_stops == 2
    assert "lock" in bar.never
    assert "keep the 2 mm to the ridge" in bar.cards[0].do
    assert "Lubricate" in bar.cards[0].do


def test_scenario_guards_the_slide_and_the_brittle_partners(told: DieResult) -> None:
    assert "ruins the attachment" in cautions(told.unit(35))
    assert "partner-has-brittle-edge" in ids(told.unit(35))
    assert "ruins the attachment" not in cautions(told.unit(44))


def test_units_stand_along_the_arch_and_findings_gravest_first(told: DieResult) -> None:
    assert [unit.tooth for unit in told.units] == [45, 44, 43, 42, 33, 34, 35, 37]
    gravity = [list(Severity).index(finding.severity) for finding in told.findings]
    assert gravity == sorted(gravity, reverse=True)
    assert len(gravity) == sum(len(part.findings) for part in (*told.units, *told.bars))


def test_cards_by_impression_hold_all_cards_once(told: DieResult) -> None:
    cards = told.cards_by_impression()[PICK_UP]
    assert len(cards) == sum(len(part.cards) for part in (*told.units, *told.bars))
    assert len({(card.id, card.tooth) for card in cards}) == len(cards)


def test_three_gel_dies_together_take_about_60_percent_of_the_sum() -> None:
    def gel_minutes(*teeth: int) -> float:
        result = choose_dies(case_of(*(crown(tooth) for tooth in teeth)), CaseState())
        return total_minutes([c for u in result.units for c in u.cards if c.batch]).typical_min

    alone = gel_minutes(35)
    assert gel_minutes(35, 36) == pytest.approx(2 * alone)
    assert gel_minutes(35, 36, 37) == pytest.approx(0.6 * 3 * alone)


# --- nothing possible, and what to do first -----------------------------------------------------------------------


@pytest.mark.parametrize("material", [ALGINATE, ImpressionMaterial.ADDITION_SILICONE])
@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"loose": frozenset({35})}, "loose"),
        ({"in_tray": frozenset(), "left_on_tooth": frozenset({35})}, "left on its tooth"),
        ({"in_tray": frozenset()}, "neither in the tray nor on its tooth"),
        ({"seated": frozenset()}, "not seated"),
    ],
)
def test_crown_out_of_place_leaves_no_die(fields: dict[str, object], words: str, material: ImpressionMaterial) -> None:
    unit = answer(crown(), out(35, **fields), material=material, returned_die=(good_die(),))
    assert unit.chosen is None
    assert unit.cards == ()
    stop = next(f for f in unit.findings if f.severity is Severity.STOP)
    assert words in stop.why
    assert "new impression" in stop.do
    assert ("Reseat" in stop.do) == (not material.is_hydrocolloid)
    assert words in unit.never


def test_crown_not_counted_yet_is_no_fault_but_asks_for_the_count() -> None:
    state = CaseState(impressions={PICK_UP: ImpressionState(PICK_UP, out_at=START)})
    result = choose_dies(case_of(crown()), state)
    assert result.units[0].chosen is Technique.GEL
    assert [f.id for f in result.findings if f.about == PICK_UP] == ["crowns-not-counted"]


@pytest.mark.parametrize("tie", ["join", "bar"])
def test_loose_unit_stops_the_whole_rigid_body(tie: str) -> None:
    units = (crown(33), crown(34, kind=UnitKind.PONTIC, margin=None, neck_mm=None), crown(35), crown(37))
    joined = {"join": (Join(id="b", kind=JoinKind.BRIDGE, units=(33, 34, 35)),)}
    barred = {
        "join": (Join(id="b", kind=JoinKind.BRIDGE, units=(34, 35)),),
        "bar": (Bar(id="r", from_tooth=33, to_tooth=35, length_mm=9.0, ridge_gap_mm=2.0),),
    }
    case = case_of(*units, **(joined if tie == "join" else barred))
    result = choose_dies(case, out(33, 35, 37, loose=frozenset({35})))
    assert {u.tooth for u in result.units if u.chosen is None} == {33, 34, 35}
    assert result.unit(37).chosen is Technique.GEL
    assert all(bar.cards == () and bar.findings[0].severity is Severity.STOP for bar in result.bars)


def test_conus_in_alginate_asks_for_transfer_cap_and_elastomer() -> None:
    unit = answer(crown(kind=UnitKind.PRIMARY_CONUS, wall_taper_deg=6.0), material=ALGINATE)
    assert unit.chosen is None
    assert "transfer cap" in unit.findings[0].do


def test_open_groove_is_blocked_first_then_gel_follows() -> None:
    groove = (InternalFeature(kind=InternalFeatureKind.PINHOLE, blocked_out=False),)
    before = answer(crown(internal_features=groove))
    assert before.chosen is Technique.STONE
    assert [card.id for card in before.cards][:2] == ["flash-and-dry", "block-out"]
    assert "gel" in next(f for f in before.findings if f.id == "do-first").do
    after = answer(crown(internal_features=groove), out(35, steps_done=frozenset({("block-out", 35)})))
    assert after.chosen is Technique.GEL


@pytest.mark.parametrize(
    ("body", "edge"), [(Body.NOBLE_ALLOY, COLLAR), (Body.NOBLE_ALLOY, KNIFE), (Body.ZIRCONIA, ZIRCONIA)]
)
def test_masking_is_no_way_round_the_veto_on_gel_in_an_open_groove(body: Body, edge: Margin) -> None:
    groove = (InternalFeature(kind=InternalFeatureKind.GROOVE, blocked_out=False),)
    unit = answer(crown(body=body, margin=edges(edge), neck_mm=3.5, internal_features=groove))
    assert unit.chosen is None
    stop = unit.findings[0]
    assert stop.severity is Severity.STOP
    assert "Block out the groove" in stop.do
    assert "gel" in next(f for f in unit.findings if f.id == "do-first").do


def test_open_undercut_leaves_nothing_until_it_is_blocked() -> None:
    undercut = (InternalFeature(kind=InternalFeatureKind.UNDERCUT, blocked_out=False),)
    unit = answer(crown(internal_features=undercut))
    assert unit.chosen is None
    assert "Block it out first" in unit.findings[0].do


def test_preformed_die_goes_in_without_block_out_wax_in_its_way() -> None:
    groove = (InternalFeature(kind=InternalFeatureKind.GROOVE, blocked_out=False),)
    unit = answer(crown(margin=edges(facial=BUTT), internal_features=groove), returned_die=(good_die(),))
    assert unit.chosen is Technique.RETURNED_EPOXY
    assert "block-out" not in {card.id for card in unit.cards}


def test_open_screw_channel_leaves_nothing_until_it_is_plugged() -> None:
    unit = answer(crown(kind=UnitKind.ON_ABUTMENT))
    assert unit.chosen is None
    assert "Plug the screw channel" in unit.findings[0].do
    assert answer(crown(kind=UnitKind.ON_ABUTMENT, abutment_screw_plugged=True)).chosen is Technique.STONE


# --- units of other kinds ----------------------------------------------------------------------------------------


def test_glass_ceramic_takes_epoxy_then_type_4_stone_and_never_bare_gel() -> None:
    glass = crown(body=Body.GLASS_CERAMIC, margin=edges(GLASS))
    assert answer(glass).chosen is Technique.STONE
    assert answer(glass, returned_die=(good_die(),)).chosen is Technique.RETURNED_EPOXY
    assert effect(answer(glass), Technique.GEL) is Effect.VETOED
    other_stone = answer(glass, stone=Stone.TYPE_5)
    assert other_stone.chosen is Technique.MASKED
    assert "Type 4" in next(f for f in other_stone.findings if f.id == "do-first").do


def test_etched_glass_ceramic_is_told_to_etch_again() -> None:
    assert "etched-too-early" in ids(
        answer(crown(body=Body.GLASS_CERAMIC, margin=edges(GLASS), intaglio=Intaglio.ETCHED))
    )


def test_core_that_came_out_gets_a_wax_film_and_gel() -> None:
    cored = crown(core=CoreKind.POST_AND_CORE, core_cemented=False)
    unit = answer(cored, out(35, cores_in_crown=frozenset({35})), returned_die=(good_die(),))
    assert unit.chosen is Technique.GEL
    steps = [card.id for card in unit.cards]
    assert steps.index("post-film") < steps.index("gel-lining")
    assert effect(unit, Technique.STONE) is Effect.VETOED
    assert "core-not-cemented" in ids(answer(cored))


def test_knife_edge_keeps_resin_short_and_is_never_levered() -> None:
    unit = answer(crown(margin=edges(KNIFE)))
    assert unit.never == "Never lever against the knife edge"
    assert any("0.5 to 1 mm short" in card.do for card in unit.cards)


def test_zirconia_takes_the_epoxy_die_and_without_it_gel() -> None:
    zirconia = crown(body=Body.ZIRCONIA, margin=edges(ZIRCONIA))
    assert answer(zirconia).chosen is Technique.GEL
    assert answer(zirconia, returned_die=(good_die(),)).chosen is Technique.RETURNED_EPOXY


def test_metal_all_the_way_round_a_zirconia_crown_is_read_as_zirconia() -> None:
    thin = COLLAR.model_copy(update={"thickness_mm": 0.3})
    assert answer(crown(body=Body.ZIRCONIA, margin=edges(thin))).chosen is Technique.MASKED


def test_minutes_left_decide_between_equals_only() -> None:
    # A knife edge levels the returned die with stone: both are allowed, and stone is the quicker of the two.
    level = case_of(crown(margin=edges(KNIFE, facial=BUTT)), returned_die=(good_die(),))
    assert choose_dies(level, CaseState()).units[0].chosen is Technique.RETURNED_EPOXY
    assert choose_dies(level, CaseState(), minutes_left={PICK_UP: 60.0}).units[0].chosen is Technique.RETURNED_EPOXY
    assert choose_dies(level, CaseState(), minutes_left={PICK_UP: 2.5}).units[0].chosen is Technique.STONE
    butt = case_of(crown(margin=edges(facial=BUTT)))
    assert choose_dies(butt, CaseState(), minutes_left={PICK_UP: -3.0}).units[0].chosen is Technique.MASKED


def test_condition_outweighs_minutes() -> None:
    # As above, but deep: the returned die is preferred there, so the quicker stone does not pass it.
    deep = COLLAR.model_copy(update={"subgingival_mm": 1.5})
    unit = crown(margin=edges(KNIFE, facial=BUTT, lingual=deep))
    case = case_of(unit, returned_die=(good_die(),))
    assert choose_dies(case, CaseState(), minutes_left={PICK_UP: 2.5}).units[0].chosen is Technique.RETURNED_EPOXY


def test_returned_die_that_cannot_be_used_yet_counts_as_none_for_the_others() -> None:
    zirconia = crown(body=Body.ZIRCONIA, margin=edges(ZIRCONIA))
    impression = pick_up((35,), material=ALGINATE)
    case = case_of(zirconia, impression=impression, returned_die=(good_die(),))
    wet = choose_dies(case, out(35), minutes_left={PICK_UP: 2.0}).units[0]
    assert wet.chosen is Technique.GEL
    assert effect_said(wet, Technique.GEL, "margin-zirconia") is Effect.CHOSEN
    dry = choose_dies(case, out(35, dried=frozenset({35}))).units[0]
    assert effect_said(dry, Technique.GEL, "margin-zirconia") is Effect.ALLOWED


def effect_said(unit: UnitDie, technique: Technique, rule_id: str) -> Effect:
    verdict = next(v for v in unit.ranked if v.technique is technique)
    return next(hit.effect for hit in verdict.hits if hit.rule_id == rule_id)


def test_brittle_partner_asks_for_a_separator_even_in_moist_metal() -> None:
    def steps_at_35(edge: Margin) -> list[str]:
        units = (crown(34, margin=edges(facial=edge)), crown(35))
        join = (Join(id="b", kind=JoinKind.BRIDGE, units=(34, 35)),)
        case = case_of(*units, join=join, impression=pick_up((34, 35), material=ALGINATE))
        return [card.id for card in choose_dies(case, CaseState()).unit(35).cards]

    assert "separator" in steps_at_35(BUTT)
    assert "separator" not in steps_at_35(COLLAR)


def test_minutes_left_are_shared_among_the_dies_of_the_impression() -> None:
    units = tuple(crown(tooth, margin=edges(KNIFE, facial=BUTT)) for tooth in (35, 36, 37))
    case = case_of(*units, returned_die=tuple(good_die(u.tooth) for u in units))
    for minutes, technique in ((14.0, Technique.RETURNED_EPOXY), (13.0, Technique.STONE)):
        result = choose_dies(case, CaseState(), minutes_left={PICK_UP: minutes})
        assert {u.chosen for u in result.units} == {technique}


def test_retake_counts_instead_of_the_first_pick_up() -> None:
    retake = pick_up((35,), id="retake", material=ImpressionMaterial.POLYETHER)
    case = case_of(crown())
    case = case.model_copy(update={"impression": (*case.impression, retake)})
    assert choose_dies(case, out(35, loose=frozenset({35}))).units[0].impression == "retake"


def test_unit_in_no_pick_up_is_said() -> None:
    case = case_of(crown(), impression=pick_up((36,)))
    assert "unit-not-lifted" in ids(choose_dies(case, CaseState()).units[0])


@pytest.mark.parametrize(("stops", "made"), [(0, 2), (1, 2), (2, 2), (4, 4)])
def test_bar_gets_at_least_two_stops(stops: int, made: int) -> None:
    bar = Bar(id="r", from_tooth=33, to_tooth=43, length_mm=20.0, ridge_gap_mm=2.0, stops=stops)
    (answered,) = choose_dies(case_of(crown(33), crown(43), bar=(bar,)), CaseState()).bars
    assert answered.n_stops == made
    assert ("bar-too-few-stops" in {f.id for f in answered.findings}) == (stops < 2)
    assert answered.cards[0].duration.typical_min == 2 * made


def test_bar_on_the_ridge_has_no_room_for_stops() -> None:
    bar = Bar(id="r", from_tooth=33, to_tooth=43, length_mm=20.0, ridge_gap_mm=0.2)
    (answered,) = choose_dies(case_of(crown(33), crown(43), bar=(bar,)), CaseState()).bars
    assert "bar-gap-too-small" in {f.id for f in answered.findings}


def test_untried_die_is_a_caution_not_a_refusal() -> None:
    unit = answer(crown(margin=edges(facial=BUTT)), returned_die=(good_die(seating=None, fit_gap_um=None),))
    assert next(f for f in unit.findings if f.id == "returned-die-untried").severity is Severity.CAUTION
    tried = answer(
        crown(margin=edges(facial=BUTT)),
        out(35, trials=(trial(),)),
        returned_die=(good_die(seating=None, fit_gap_um=None),),
    )
    assert tried.chosen is Technique.RETURNED_EPOXY


def test_stone_stress_is_a_note_and_never_changes_the_answer() -> None:
    notes = [f for f in answer(crown(margin=edges(facial=BUTT))).findings if f.id == "stone-stress-bound"]
    assert [note.severity for note in notes] == [Severity.NOTE]
    assert "never a gate" in notes[0].why
    assert "stone-stress-bound" not in ids(answer(crown()))
