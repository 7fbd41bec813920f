"""No record of low confidence drives an answer silently: whatever moves it when changed is named beside it."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.examples import PICK_UP, demo_impressions

from seatwright.case import Case, ImpressionMaterial, MaleJoin, Route, Stone, Tray
from seatwright.evidence import Confidence, find_evidence, list_evidence
from seatwright.forecast import Choices, FrameworkRoute, OwnFigures, SeatingChance, SeatingWord
from seatwright.forecast._answer import list_links, list_room
from seatwright.forecast._findings import find_remarks
from seatwright.forecast._links import LINKS
from seatwright.forecast._misfit import find_measurands
from seatwright.forecast._seating import build_setup

from .seating_cases import seat_case

IDS = sorted({identifier for link in LINKS for identifier in link.evidence})
GEL = {37: "gel", 35: "gel", 33: "masked", 42: "masked", 43: "returned_epoxy", 44: "pattern_resin", 45: "analog"}
CHANCE = SeatingChance(0.9, 0.01, 0.88, 0.92, 0.7, 0.95, SeatingWord.USUALLY, (), 1000, 5.0)


def with_pick_up(**changed: Any) -> Case:
    return seat_case(
        impression=tuple(i.model_copy(update=changed) if i.id == PICK_UP else i for i in demo_impressions())
    )


def pour(**changed: Any) -> Any:
    return demo_impressions()[0].pour.model_copy(update=changed)


VARIANTS: dict[str, tuple[Case, Choices]] = {
    "elastomer, cast framework": (seat_case(), Choices(die_technique=GEL)),
    "additive framework, males soldered and luted": (
        seat_case(),
        Choices(
            die_technique=GEL,
            framework=FrameworkRoute.ADDITIVE,
            male_joined={"slide-35": MaleJoin.SOLDERED, "conus-37": MaleJoin.LUTED_ON_CAST},
        ),
    ),
    "alginate in a stock tray, late": (
        with_pick_up(
            material=ImpressionMaterial.ALGINATE, tray=Tray.RIGID_STOCK, adhesive=False, pour=pour(used_after_h=96.0)
        ),
        Choices(die_technique=GEL),
    ),
    "extended alginate, Type 3 stone": (
        with_pick_up(material=ImpressionMaterial.EXTENDED_ALGINATE, pour=pour(stone=Stone.TYPE_3)),
        Choices(),
    ),
    "other elastomer, Type 5 stone": (
        with_pick_up(material=ImpressionMaterial.CONDENSATION_SILICONE, pour=pour(stone=Stone.TYPE_5)),
        Choices(die_technique=GEL),
    ),
    "transfer base": (with_pick_up(route=Route.TRANSFER_BASE), Choices(die_technique=GEL)),
    "index in the mouth": (seat_case(), Choices(die_technique=GEL, index_in_mouth=True)),
}


def fingerprint(case: Case, choices: Choices) -> tuple[bytes, ...]:
    setup = build_setup(case, choices)
    laws = repr([(c.law.mean, c.law.u) for c in setup.chain.causes]).encode()
    rooms = np.array([m.allowed_mm for m in find_measurands(setup.chain, choices)])
    program = setup.program
    return laws, setup.chain.loading.tobytes(), program.rows.tobytes(), program.gaps_mm.tobytes(), rooms.tobytes()


@pytest.mark.parametrize("name", VARIANTS)
def test_every_figure_that_moves_the_answer_is_named_and_the_weak_ones_are_told(name: str) -> None:
    case, choices = VARIANTS[name]
    setup = build_setup(case, choices)
    links, room = list_links(setup.chain, choices), list_room(setup.features, setup.bodies, choices)
    named = {e for link in links for e in link.evidence} | {r.evidence for r in room}
    told = " ".join(f.what for f in find_remarks(case, choices, setup, CHANCE, links)).casefold()
    before = fingerprint(case, choices)
    moving = set()
    for identifier in IDS:
        record = find_evidence(identifier)
        other = replace(record, value=record.require_value() * 1.5 + 0.01)
        changed = replace(choices, own=OwnFigures({identifier: other}))
        if fingerprint(case, changed) != before:
            moving.add(identifier)
    # A figure that only counts once somebody states it (the reference casts' own stone) is named then.
    stated = {"fc_stone_type_4"} - named
    assert moving
    assert moving - stated <= named
    for identifier in moving:
        if find_evidence(identifier).confidence is Confidence.LOW:
            users = [k.title for k in links if identifier in k.evidence]
            users += [r.quantity for r in room if r.evidence == identifier]
            assert any(user.casefold() in told for user in users), identifier


def test_the_variants_together_move_by_every_figure_that_the_forecast_may_read() -> None:
    named = set()
    for case, choices in VARIANTS.values():
        setup = build_setup(case, choices)
        named |= {e for link in list_links(setup.chain, choices) for e in link.evidence}
        named |= {r.evidence for r in list_room(setup.features, setup.bodies, choices)}
    # No variant has a rest on a natural tooth, or a male made on the cast over the implant.
    assert set(IDS) - named <= {"fc_position_natural", "fc_die_analog"}
    assert {r.id for r in list_evidence("forecast")} <= set(IDS)
