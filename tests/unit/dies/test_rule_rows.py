"""Each row of the decision table: a unit that triggers it, one just outside it, and the words it says."""

from collections.abc import Callable

import pytest
from tests.unit.dies.builders import BUTT, COLLAR, GLASS, KNIFE, ZIRCONIA, crown, edges, facts_of, good_die, out

from seatwright.case import (
    Body,
    CoreKind,
    ImpressionMaterial,
    Intaglio,
    InternalFeature,
    InternalFeatureKind,
    MarginKind,
    Stone,
    UnitKind,
    Veneer,
)
from seatwright.dies import Effect, Technique, UnitFacts, rule_table
from seatwright.dies._evaluate import RULES, evaluate

ALGINATE = ImpressionMaterial.ALGINATE


def features(kind: InternalFeatureKind, *, blocked_out: bool) -> tuple[InternalFeature, ...]:
    return (InternalFeature(kind=kind, blocked_out=blocked_out),)


def thin(margin_kind: MarginKind, thickness_mm: float) -> UnitFacts:
    body = Body.ZIRCONIA if margin_kind is MarginKind.ZIRCONIA else Body.NOBLE_ALLOY
    edge = COLLAR.model_copy(update={"kind": margin_kind, "thickness_mm": thickness_mm})
    return facts_of(crown(body=body, margin=edges(edge)))


def deep(depth_mm: float) -> UnitFacts:
    return facts_of(crown(margin=edges(lingual=COLLAR.model_copy(update={"subgingival_mm": depth_mm}))))


GROOVE, UNDERCUT = InternalFeatureKind.GROOVE, InternalFeatureKind.UNDERCUT
LOOSE = out(35, loose=frozenset({35}))
WELL = out(35)

EXAMPLES: dict[str, tuple[Callable[[], UnitFacts], Callable[[], UnitFacts]]] = {
    "crown-out-of-place-hydrocolloid": (
        lambda: facts_of(state=LOOSE, material=ALGINATE),
        lambda: facts_of(state=WELL, material=ALGINATE),
    ),
    "crown-out-of-place-elastomer": (
        lambda: facts_of(state=LOOSE),
        lambda: facts_of(state=LOOSE, material=ALGINATE),
    ),
    "conus-in-hydrocolloid": (
        lambda: facts_of(crown(kind=UnitKind.PRIMARY_CONUS), material=ImpressionMaterial.EXTENDED_ALGINATE),
        lambda: facts_of(crown(kind=UnitKind.PRIMARY_CONUS)),
    ),
    "implant-screw-retained": (
        lambda: facts_of(crown(kind=UnitKind.IMPLANT_SCREWED, margin=None, neck_mm=None)),
        lambda: facts_of(crown(kind=UnitKind.ON_ABUTMENT)),
    ),
    "pontic": (lambda: facts_of(crown(kind=UnitKind.PONTIC, margin=None, neck_mm=None)), facts_of),
    "analog-needs-implant": (
        facts_of,
        lambda: facts_of(crown(kind=UnitKind.IMPLANT_SCREWED, margin=None, neck_mm=None)),
    ),
    "die-needed": (facts_of, lambda: facts_of(crown(kind=UnitKind.PONTIC, margin=None, neck_mm=None))),
    "epoxy-absent": (
        lambda: facts_of(die=good_die(fit_gap_um=50.1)),
        lambda: facts_of(die=good_die(fit_gap_um=50.0)),
    ),
    "margin-unknown": (lambda: facts_of(crown(margin=None)), facts_of),
    "margin-metal-collar": (
        lambda: thin(MarginKind.METAL_COLLAR, 0.30),
        lambda: thin(MarginKind.METAL_COLLAR, 0.29),
    ),
    "margin-knife-edge": (
        lambda: thin(MarginKind.METAL_COLLAR, 0.29),
        lambda: thin(MarginKind.METAL_COLLAR, 0.30),
    ),
    "margin-porcelain-edge": (
        lambda: thin(MarginKind.ZIRCONIA, 0.39),
        lambda: thin(MarginKind.ZIRCONIA, 0.40),
    ),
    "margin-glass-ceramic": (
        lambda: facts_of(crown(body=Body.GLASS_CERAMIC, margin=edges(GLASS))),
        lambda: facts_of(crown(margin=edges(BUTT))),
    ),
    "margin-zirconia": (
        lambda: thin(MarginKind.ZIRCONIA, 0.40),
        lambda: facts_of(crown(body=Body.ZIRCONIA, margin=edges(ZIRCONIA, facial=BUTT))),
    ),
    "margin-zirconia-beside-porcelain": (
        lambda: facts_of(crown(body=Body.ZIRCONIA, margin=edges(ZIRCONIA, facial=BUTT))),
        lambda: thin(MarginKind.ZIRCONIA, 0.40),
    ),
    "margin-nothing-to-mask": (
        lambda: facts_of(crown(margin=edges(facial=KNIFE))),
        lambda: facts_of(crown(margin=edges(facial=BUTT))),
    ),
    "primary-telescope": (
        lambda: facts_of(crown(kind=UnitKind.PRIMARY_TELESCOPE)),
        lambda: facts_of(crown(kind=UnitKind.PRIMARY_CONUS)),
    ),
    "primary-conus": (
        lambda: facts_of(crown(kind=UnitKind.PRIMARY_CONUS)),
        lambda: facts_of(crown(kind=UnitKind.PRIMARY_TELESCOPE)),
    ),
    "core-in-crown": (
        lambda: facts_of(crown(core=CoreKind.POST_AND_CORE), state=out(35, cores_in_crown=frozenset({35}))),
        lambda: facts_of(crown(core=CoreKind.POST_AND_CORE), state=WELL),
    ),
    "on-abutment": (
        lambda: facts_of(crown(kind=UnitKind.ON_ABUTMENT, abutment_screw_plugged=True)),
        facts_of,
    ),
    "abutment-screw-open": (
        lambda: facts_of(crown(kind=UnitKind.ON_ABUTMENT)),
        lambda: facts_of(crown(kind=UnitKind.ON_ABUTMENT, abutment_screw_plugged=True)),
    ),
    "brittle-edge-needs-type-4": (
        lambda: facts_of(crown(margin=edges(facial=BUTT)), stone=Stone.TYPE_5),
        lambda: facts_of(crown(margin=edges(facial=BUTT)), stone=Stone.TYPE_4),
    ),
    "deep-subgingival": (lambda: deep(1.01), lambda: deep(1.0)),
    "thin-neck": (lambda: facts_of(crown(neck_mm=3.99)), lambda: facts_of(crown(neck_mm=4.0))),
    "cut-feature-open": (
        lambda: facts_of(crown(internal_features=features(GROOVE, blocked_out=False))),
        lambda: facts_of(crown(internal_features=features(GROOVE, blocked_out=True))),
    ),
    "cut-feature-open-nothing-brittle": (
        lambda: facts_of(crown(internal_features=features(GROOVE, blocked_out=False))),
        lambda: facts_of(crown(margin=edges(facial=BUTT), internal_features=features(GROOVE, blocked_out=False))),
    ),
    "undercut-open": (
        lambda: facts_of(crown(internal_features=features(UNDERCUT, blocked_out=False))),
        lambda: facts_of(crown(internal_features=features(GROOVE, blocked_out=False))),
    ),
    "treated-intaglio": (lambda: facts_of(crown(intaglio=Intaglio.PRIMED)), facts_of),
    "moist-in-hydrocolloid": (
        lambda: facts_of(state=WELL, material=ALGINATE),
        lambda: facts_of(state=out(35, dried=frozenset({35})), material=ALGINATE),
    ),
    "composite-veneer": (lambda: facts_of(crown(veneer=Veneer.COMPOSITE)), facts_of),
    "porcelain-all-round": (
        lambda: facts_of(crown(margin=edges(BUTT))),
        lambda: facts_of(crown(margin=edges(BUTT, distal=COLLAR))),
    ),
}


def test_every_row_has_an_example_and_every_example_a_row() -> None:
    assert set(EXAMPLES) == {row.rule_id for row in rule_table()}
    assert len({rule.id for rule in RULES}) == len(RULES)


@pytest.mark.parametrize("rule_id", EXAMPLES)
def test_row_applies_to_its_unit_and_not_just_outside_it(rule_id: str) -> None:
    inside, outside = (evaluate(make()) for make in EXAMPLES[rule_id])
    assert rule_id in {rule.id for rule in inside.applied}
    assert rule_id not in {rule.id for rule in outside.applied}


@pytest.mark.parametrize("rule_id", EXAMPLES)
def test_row_shows_in_the_hits_of_each_technique_it_speaks_of(rule_id: str) -> None:
    evaluation = evaluate(EXAMPLES[rule_id][0]())
    rule = next(rule for rule in RULES if rule.id == rule_id)
    for technique in Technique:
        ids = [hit.rule_id for hit in evaluation.verdict(technique).hits]
        assert (rule_id in ids) == (technique in rule.cells)


# The table as the trade writes it, typed again by hand: gel, pattern resin, returned epoxy, masked, stone. After a bar,
# what holds without a usable returned die; '-' where the row is silent. Source: common practice.
TRADE_TABLE = {
    "crown-out-of-place-hydrocolloid": "V V V V V",
    "crown-out-of-place-elastomer": "V V V V V",
    "conus-in-hydrocolloid": "V V V V V",
    "implant-screw-retained": "V V V V V",
    "pontic": "V V V V V",
    "margin-metal-collar": "C A C - A",
    "margin-knife-edge": "C W A - A",
    "margin-porcelain-edge": "V V C A|C A",
    "margin-glass-ceramic": "V V C W A|C",
    "margin-zirconia": "A|C W C W A",
    "primary-telescope": "C A C - W",
    "primary-conus": "C W C - W",
    "on-abutment": "W V C W A",
    "deep-subgingival": "W W C W A",
    "thin-neck": "C W C C V",
    "cut-feature-open": "V V A W W",
    "treated-intaglio": "A A A A A",
    "moist-in-hydrocolloid": "A A V A A",
    "composite-veneer": "A W A A A",
}
COLUMNS = (Technique.GEL, Technique.PATTERN_RESIN, Technique.RETURNED_EPOXY, Technique.MASKED, Technique.STONE)
LETTERS = {Effect.CHOSEN: "C", Effect.ALLOWED: "A", Effect.WARNED: "W", Effect.VETOED: "V"}


@pytest.mark.parametrize("rule_id", TRADE_TABLE)
def test_row_says_what_the_trade_table_says(rule_id: str) -> None:
    rule = next(rule for rule in RULES if rule.id == rule_id)
    said = []
    for technique in COLUMNS:
        cell = rule.cells.get(technique)
        if cell is None:
            said.append("-")
        else:
            without = f"|{LETTERS[cell.without_epoxy]}" if cell.without_epoxy else ""
            said.append(LETTERS[cell.effect] + without)
    assert " ".join(said) == TRADE_TABLE[rule_id]


@pytest.mark.parametrize("rule_id", EXAMPLES)
def test_no_technique_stays_without_a_verdict(rule_id: str) -> None:
    evaluation = evaluate(EXAMPLES[rule_id][0]())
    assert sorted(v.technique for v in evaluation.ranked) == sorted(Technique)
    assert all(v.hits for v in evaluation.ranked)
