"""Laws of the die table that hold for any unit."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.unit.dies.builders import PICK_UP, START, case_of, good_die, pick_up

from seatwright.case import (
    Body,
    CaseState,
    CoreKind,
    ImpressionMaterial,
    ImpressionState,
    Intaglio,
    InternalFeature,
    InternalFeatureKind,
    Margin,
    MarginKind,
    Margins,
    PourPlan,
    Stone,
    Surface,
    Unit,
    UnitKind,
    Veneer,
)
from seatwright.dies import DieResult, Effect, Technique, UnitDie, choose_dies

# What a dentist calls worse: each next edge is at least as fragile as the one before.
WORSE = (
    Margin(kind=MarginKind.METAL_COLLAR, thickness_mm=0.4),
    Margin(kind=MarginKind.METAL_KNIFE_EDGE, thickness_mm=0.2),
    Margin(kind=MarginKind.ZIRCONIA, thickness_mm=0.5),
    Margin(kind=MarginKind.CERAMIC_BUTT, thickness_mm=1.0),
    Margin(kind=MarginKind.GLASS_CERAMIC, thickness_mm=1.0),
)
WITH_DIE = (UnitKind.CROWN, UnitKind.PRIMARY_TELESCOPE, UnitKind.PRIMARY_CONUS, UnitKind.ON_ABUTMENT)
# The chosen technique bears the same grade as an allowed one: what counts is whether it may be used without a warning.
GRADE = {Effect.CHOSEN: 0, Effect.ALLOWED: 0, Effect.WARNED: 1, Effect.VETOED: 2}
QUICK = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])

features = st.lists(
    st.builds(InternalFeature, kind=st.sampled_from(InternalFeatureKind), blocked_out=st.booleans()), max_size=2
).map(tuple)


@st.composite
def units(draw: st.DrawFn, tooth: int = 35, kinds: tuple[UnitKind, ...] = tuple(UnitKind)) -> Unit:
    kind = draw(st.sampled_from(kinds))
    has_inside = kind in WITH_DIE
    fields: dict[str, Any] = {
        "tooth": tooth,
        "kind": kind,
        "body": draw(st.sampled_from(Body)),
        "veneer": draw(st.sampled_from(Veneer)),
        "intaglio": draw(st.sampled_from(Intaglio)),
        "internal_features": draw(features),
        "core": draw(st.sampled_from(CoreKind)),
        "core_cemented": draw(st.booleans()),
        "abutment_screw_plugged": draw(st.sampled_from((True, False, None))),
    }
    if has_inside:
        fields["margin"] = Margins(**{s: draw(st.sampled_from(WORSE)) for s in Surface})
        fields["neck_mm"] = draw(st.sampled_from((3.5, 4.0, 6.0)))
    return Unit(**fields)


@st.composite
def states(draw: st.DrawFn, tooth: int = 35) -> CaseState:
    if draw(st.booleans()):
        return CaseState()
    crown = frozenset({tooth})

    def maybe() -> frozenset[int]:
        return crown if draw(st.integers(0, 4)) == 0 else frozenset()

    lifted = ImpressionState(
        PICK_UP,
        out_at=START,
        counted=draw(st.booleans()),
        seated=crown,
        in_tray=crown - maybe(),
        loose=maybe(),
        dried=crown if draw(st.booleans()) else frozenset(),
        cores_in_crown=maybe(),
    )
    return CaseState(impressions={PICK_UP: lifted})


materials = st.sampled_from(ImpressionMaterial)
stones = st.sampled_from(Stone)


def choose(unit: Unit, state: CaseState, material: ImpressionMaterial, stone: Stone, **fields: Any) -> UnitDie:
    impression = pick_up((unit.tooth,), material=material, pour=PourPlan(stone=stone))
    return choose_dies(case_of(unit, impression=impression, **fields), state).units[0]


def grades(unit: UnitDie) -> dict[Technique, int]:
    """Grade by the table's own words, whether chosen or not."""
    return {v.technique: max(GRADE[hit.effect] for hit in v.hits) for v in unit.ranked}


def vetoed(unit: UnitDie) -> set[Technique]:
    return {technique for technique, grade in grades(unit).items() if grade == 2}


@QUICK
@given(units(), states(), materials, stones)
def test_chosen_is_never_vetoed_and_none_means_all_vetoed(unit, state, material, stone) -> None:
    answer = choose(unit, state, material, stone, returned_die=(good_die(),))
    assert len(answer.ranked) == len(Technique)
    order = [GRADE[v.effect] + (v.effect is not Effect.CHOSEN) for v in answer.ranked]
    assert order == sorted(order)
    if answer.chosen is None:
        assert vetoed(answer) == set(Technique)
        assert any(f.severity == "stop" and f.do for f in answer.findings)
        assert not answer.cards
    else:
        assert answer.chosen not in vetoed(answer)
        assert answer.cards
        assert [v.technique for v in answer.ranked if v.effect is Effect.CHOSEN] == [answer.chosen]


@QUICK
@given(units(kinds=WITH_DIE), states(), materials, stones)
def test_a_valid_returned_die_never_worsens_the_answer(unit, state, material, stone) -> None:
    without = choose(unit, state, material, stone)
    with_die = choose(unit, state, material, stone, returned_die=(good_die(),))
    assert vetoed(with_die) <= vetoed(without)
    if without.chosen is not None:
        assert with_die.chosen is not None
        assert grades(with_die)[with_die.chosen] <= grades(without)[without.chosen]


@QUICK
@given(units(kinds=WITH_DIE), states(), materials, stones, st.sampled_from(Surface), st.integers(0, 3), st.booleans())
def test_a_worse_edge_on_one_surface_never_upgrades_a_technique(
    unit, state, material, stone, surface, level, has_die
) -> None:
    # Masked is left out: it exists for the worse edge, so that edge is what makes it sensible.
    # The order of WORSE is that of a metal body; on zirconia a thin metal edge is read as thin zirconia.
    unit = unit.model_copy(update={"body": Body.NOBLE_ALLOY})
    dies = (good_die(),) if has_die else ()

    def with_edge(edge: Margin) -> UnitDie:
        margin = unit.margin.model_copy(update={surface.value: edge})
        return choose(unit.model_copy(update={"margin": margin}), state, material, stone, returned_die=dies)

    mild, worse = with_edge(WORSE[level]), with_edge(WORSE[level + 1])
    for technique in set(Technique) - {Technique.MASKED}:
        assert grades(worse)[technique] >= grades(mild)[technique]


ADVERSE: dict[str, Any] = {
    "open groove": {"internal_features": (InternalFeature(kind=InternalFeatureKind.GROOVE, blocked_out=False),)},
    "open undercut": {"internal_features": (InternalFeature(kind=InternalFeatureKind.UNDERCUT, blocked_out=False),)},
    "thin neck": {"neck_mm": 3.0},
    "composite": {"veneer": Veneer.COMPOSITE},
    "primed": {"intaglio": Intaglio.PRIMED},
    "abutment": {"kind": UnitKind.ON_ABUTMENT, "abutment_screw_plugged": True},
}


@QUICK
@given(units(kinds=(UnitKind.CROWN,)), states(), materials, stones, st.sampled_from(sorted(ADVERSE)))
def test_a_veto_stays_a_veto_whatever_is_added(unit, state, material, stone, adverse) -> None:
    before = unit.model_copy(update={"internal_features": ()})
    after = before.model_copy(update=ADVERSE[adverse])
    dies = (good_die(),)
    assert vetoed(choose(before, state, material, stone, returned_die=dies)) <= vetoed(
        choose(after, state, material, stone, returned_die=dies)
    )


@QUICK
@given(units(kinds=WITH_DIE), materials, stones)
def test_a_loose_crown_vetoes_everything(unit, material, stone) -> None:
    crown = frozenset({35})
    state = CaseState(
        impressions={PICK_UP: ImpressionState(PICK_UP, out_at=START, counted=True, seated=crown, in_tray=crown)}
    )
    loose = CaseState(impressions={PICK_UP: replace(state.impressions[PICK_UP], loose=crown)})
    assert choose(unit, loose, material, stone, returned_die=(good_die(),)).chosen is None


def _bodies(teeth: tuple[int, ...]) -> st.SearchStrategy[tuple[Unit, ...]]:
    return st.tuples(*(units(tooth) for tooth in teeth))


def _gist(result: DieResult) -> dict[int, object]:
    return {
        unit.tooth: (
            unit.chosen,
            [(v.technique, v.effect, [(h.rule_id, h.effect) for h in v.hits]) for v in unit.ranked],
            [(c.id, c.duration, c.attended, c.equipment) for c in unit.cards],
            [(f.id, f.severity) for f in unit.findings],
        )
        for unit in result.units
    }


@QUICK
@given(_bodies((37, 35, 33, 42)), st.permutations(range(4)), materials, stones)
def test_order_of_units_changes_nothing(body, order, material, stone) -> None:
    teeth = tuple(unit.tooth for unit in body)
    impression = pick_up(teeth, material=material, pour=PourPlan(stone=stone))
    plain = choose_dies(case_of(*body, impression=impression, returned_die=(good_die(33),)), CaseState())
    shuffled = choose_dies(
        case_of(*(body[i] for i in order), impression=impression, returned_die=(good_die(33),)), CaseState()
    )
    assert plain == shuffled


def mirror(tooth: int) -> int:
    quadrant, position = divmod(tooth, 10)
    return 10 * {3: 4, 4: 3}[quadrant] + position


@QUICK
@given(_bodies((37, 35, 33, 42)), materials, stones, st.sampled_from(["33", "43", ""]))
def test_mirrored_case_gives_the_mirrored_answer(body, material, stone, engraved) -> None:
    mirrored_body = tuple(unit.model_copy(update={"tooth": mirror(unit.tooth)}) for unit in body)
    die = good_die(33, engraved=engraved)
    mirrored_die = good_die(43, engraved=str(mirror(int(engraved))) if engraved else "")
    answers = []
    for these, returned in ((body, die), (mirrored_body, mirrored_die)):
        impression = pick_up(tuple(u.tooth for u in these), material=material, pour=PourPlan(stone=stone))
        answers.append(choose_dies(case_of(*these, impression=impression, returned_die=(returned,)), CaseState()))
    plain, mirrored = (_gist(answer) for answer in answers)
    assert {mirror(tooth): gist for tooth, gist in plain.items()} == mirrored


@pytest.mark.parametrize("kind", WITH_DIE)
@QUICK
@given(data=st.data(), material=materials, stone=stones)
def test_no_hard_resin_ever_cures_against_a_bare_brittle_edge(kind, data, material, stone) -> None:
    unit, state = data.draw(units(kinds=(kind,))), data.draw(states())
    fragile = (MarginKind.CERAMIC_BUTT, MarginKind.GLASS_CERAMIC)
    if not any(edge.kind in fragile for edge in unit.margin.by_surface().values()):
        return
    answer = choose(unit, state, material, stone, returned_die=(good_die(),))
    assert answer.chosen not in (Technique.GEL, Technique.PATTERN_RESIN)
    steps = [card.id for card in answer.cards]
    if "gel-lining" in steps:
        assert steps.index("mask-wax") < steps.index("gel-lining")
