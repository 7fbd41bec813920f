"""The whole forecast on the example case: contrast of joining the male at the bench or in the mouth, and its laws."""

from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from tests.examples import PICK_UP, demo_attachments, demo_impressions

from seatwright.case import Case, ImpressionMaterial, MaleJoin, Stone
from seatwright.errors import CaseError, ValueOutOfRange
from seatwright.evidence import Confidence, find_evidence
from seatwright.forecast import (
    Choices,
    ForecastResult,
    FrameworkRoute,
    SeatingWord,
    Stage,
    forecast_seating,
)
from seatwright.forecast._bodies import find_bodies
from seatwright.forecast._links import LINKS
from seatwright.forecast._seating import build_setup
from seatwright.forecast._trials import draw_errors

from .seating_cases import seat_case, twin_case

TECHNIQUES = {37: "gel", 35: "gel", 33: "masked", 42: "masked", 43: "masked", 44: "gel", 45: "analog"}
BENCH = {"sleeve-front": MaleJoin.LUTED_ON_CAST}
"""The bar's sleeve is joined on the cast: then it holds the framework where the cast puts it."""


def choices(**other: Any) -> Choices:
    fields: dict[str, Any] = {"die_technique": TECHNIQUES, "male_joined": BENCH}
    return Choices(**(fields | other))


def joined(way: MaleJoin) -> Choices:
    return choices(male_joined={**BENCH, "slide-35": way})


@cache
def result(way: MaleJoin) -> ForecastResult:
    return forecast_seating(seat_case(), joined(way), np.random.default_rng(1), n_trials=4000)


def seats(case: Case, chosen: Choices, *, n: int = 4000) -> float:
    setup = build_setup(case, chosen)
    return float(np.mean(setup.program.solve(draw_errors(setup.chain, 7, n), sign_only=True).slack_mm >= 0))


def with_pick_up(**changed: Any) -> Case:
    impressions = tuple(i.model_copy(update=changed) if i.id == PICK_UP else i for i in demo_impressions())
    return seat_case(impression=impressions)


def test_male_of_35_cast_on_seats_rarely_and_picked_up_in_the_mouth_usually() -> None:
    cast_on, picked_up = result(MaleJoin.CAST_ON).p_seats, result(MaleJoin.PICKED_UP_IN_MOUTH).p_seats
    assert cast_on.says is SeatingWord.RARELY
    assert picked_up.says is SeatingWord.USUALLY
    # The contrast does not hang on the poorly known links: their ranges do not meet.
    assert cast_on.high < picked_up.low
    assert cast_on.binds[0].link == "slide-35"


def test_a_slide_alone_on_its_bridge_seats_however_it_is_joined() -> None:
    # Nothing else joined on the cast holds that bridge, so the partial follows the slide and the conus gives way.
    free = {"sleeve-front": MaleJoin.PICKED_UP_IN_MOUTH}
    for way in (MaleJoin.CAST_ON, MaleJoin.LUTED_ON_CAST):
        assert seats(seat_case(), choices(male_joined={**free, "slide-35": way})) > 0.85


def test_diverging_axes_never_seat_whatever_the_joining() -> None:
    for way in (MaleJoin.CAST_ON, MaleJoin.PICKED_UP_IN_MOUTH):
        assert seats(twin_case(), joined(way)) == 0.0


def test_the_search_finds_what_lifts_the_chance() -> None:
    changes = result(MaleJoin.CAST_ON).changes
    single = [c for c in changes if "+" not in c.id]
    assert {c.id for c in single[:2]} == {"pick-up:slide-35", "pick-up:sleeve-front"}
    assert single[0].gain > 0.5
    assert single[0].extra_min > 0
    by_id = {c.id: c for c in changes}
    assert by_id["planned-reline"].gain == 0.0  # it serves the ridge; it moves no attachment
    assert all(a.gain >= b.gain - 0.001 for a, b in pairwise(changes))


def test_after_the_pour_only_what_is_still_open_is_offered() -> None:
    def offered(stage: Stage) -> set[str]:
        found = forecast_seating(seat_case(), choices(stage=stage), np.random.default_rng(1), n_trials=500)
        return {c.id for c in found.changes}

    planned, poured = offered(Stage.PLANNED), offered(Stage.POURED)
    assert any(c.startswith("transfer-base") for c in planned)
    assert not any(c.startswith("transfer-base") for c in poured)
    assert "verification-index" in poured


def test_same_seed_gives_the_same_bits_and_another_seed_does_not() -> None:
    def run(seed: int) -> ForecastResult:
        return forecast_seating(seat_case(), choices(), np.random.default_rng(seed), n_trials=1500)

    first, again, other = run(3), run(3), run(4)
    assert first == again
    assert first.seed != other.seed
    assert abs(first.p_seats.value - other.p_seats.value) < 0.08


def test_shares_add_up_and_the_inputs_reproduce_the_spread() -> None:
    found = result(MaleJoin.CAST_ON)
    for feature in found.features:
        assert sum(c.share for c in feature.contributions) == pytest.approx(1)
        assert feature.interval95_um[0] < feature.bias_um < feature.interval95_um[1]
        half = (feature.interval95_um[1] - feature.interval95_um[0]) / 2
        assert half == pytest.approx(1.96 * feature.u_um, rel=0.05)
    # Anyone can recompute: the distance from conus to slide from the inputs as listed.
    at = {a.id: np.array(a.at_mm) for a in demo_attachments()}
    along = at["slide-35"] - np.array([0, 0, 2.5]) - (at["conus-37"] - np.array([0, 0, 2.0]))
    along /= np.linalg.norm(along)
    variance = 0.0
    for cause in found.inputs:
        move = np.array(cause.moves.get("slide-35", (0.0,) * 6)) - np.array(cause.moves.get("conus-37", (0.0,) * 6))
        law = cause.law
        u = law["u"] if law["law"] == "normal" else (law["high"] - law["low"]) / 12**0.5
        variance += float(along @ move[:3] * u) ** 2
    distance = next(f for f in found.features if f.id == "conus-37 to slide-35")
    assert 1000 * variance**0.5 == pytest.approx(distance.u_um, rel=1e-9)


def test_the_ranking_names_the_framework_first_for_a_cast_on_male() -> None:
    ranked = result(MaleJoin.CAST_ON).ranked
    assert ranked[0].link == "framework"
    assert ranked[0].share > 0.4
    assert all(r.total >= r.first - 4 * r.u_total - 0.1 for r in ranked)


def test_bodies_follow_joins_and_bars() -> None:
    ids = {b.id for b in find_bodies(seat_case(), TECHNIQUES)}
    assert ids == {"37", "35-33-34-42-43", "44", "45"} or any(
        set(i.split("-")) == {"33", "34", "35", "42", "43"} for i in ids
    )
    without_bar = find_bodies(seat_case(bar=(), attachment=()), TECHNIQUES)
    assert not any({"35", "43"} <= set(b.id.split("-")) for b in without_bar)


def test_a_whole_cast_value_is_not_counted_together_with_its_parts() -> None:
    elastomer = build_setup(seat_case(), choices()).chain
    links = {c.link for c in elastomer.causes}
    assert "whole_cast_scale" in links
    assert not {"impression", "stone"} & links
    alginate = build_setup(with_pick_up(material=ImpressionMaterial.ALGINATE), choices()).chain
    links = {c.link for c in alginate.causes}
    assert {"impression", "stone"} <= links
    assert "whole_cast_scale" not in links


def test_worse_choices_never_look_better() -> None:
    base = seats(seat_case(), choices())
    assert seats(with_pick_up(material=ImpressionMaterial.ALGINATE), choices()) <= base + 0.02
    pour = demo_impressions()[0].pour.model_copy(update={"stone": Stone.TYPE_5})
    assert seats(with_pick_up(pour=pour), choices()) <= base + 0.02
    assert seats(seat_case(), choices(levels={"*": -1.0})) < base < seats(seat_case(), choices(levels={"*": 1.0}))
    assert seats(seat_case(), choices(framework=FrameworkRoute.ADDITIVE)) >= base
    assert seats(seat_case(), choices(rest_gap_um=50.0)) < base


def test_every_link_in_use_names_evidence_and_low_confidence_is_told() -> None:
    found = result(MaleJoin.CAST_ON)
    for link in LINKS:
        assert all(find_evidence(e) for e in link.evidence)
    weak = {k.title for k in found.links if k.how_good == "low"}
    told = " ".join(f.what for f in found.findings if f.id == "forecast-weak-links").casefold()
    assert weak
    assert all(title.casefold() in told for title in weak)
    # No record of low confidence enters without its link being marked so.
    for link in found.links:
        worst = {find_evidence(e).confidence for e in link.evidence}
        assert (Confidence.LOW in worst) == (link.how_good == "low")


@pytest.mark.parametrize(
    ("changed", "hint"),
    [
        ({"clearance_um": None, "clearance_is": None}, "clearance"),
        ({"clearance_um": 0.0}, "zero admits no error"),
    ],
)
def test_a_slide_without_clearance_is_a_clear_error(changed: dict[str, Any], hint: str) -> None:
    attachments = tuple(a.model_copy(update=changed) if a.id == "slide-35" else a for a in demo_attachments())
    with pytest.raises(CaseError) as caught:
        build_setup(seat_case(attachment=attachments), choices())
    assert "slide-35" in caught.value.faults[0].where
    assert hint in caught.value.faults[0].what


def test_a_missing_first_link_is_a_clear_error() -> None:
    with pytest.raises(CaseError, match="no pick-up impression"):
        build_setup(seat_case(impression=demo_impressions()[1:]), choices())


def test_a_case_with_nothing_to_fit_is_a_clear_error() -> None:
    with pytest.raises(CaseError, match="no attachment"):
        build_setup(seat_case(attachment=(), bar=(), rest=()), choices())


def test_opposed_withdraw_directions_are_a_clear_error() -> None:
    flipped = tuple(
        a.model_copy(update={"withdraw_direction": (0.0, 0.0, -1.0)}) if a.id in ("slide-35", "conus-37") else a
        for a in demo_attachments()[:2]
    )
    straight = demo_attachments()[2].model_copy(update={"withdraw_direction": (0.0, 0.0, 1.0)})
    two_down_one_up = (*flipped, straight, straight.model_copy(update={"id": "other"}))
    with pytest.raises(CaseError, match="oppose"):
        build_setup(seat_case(attachment=two_down_one_up), choices())


def test_unknown_die_technique_and_bad_choices_are_refused() -> None:
    with pytest.raises(CaseError, match="no error law"):
        build_setup(seat_case(), choices(die_technique={35: "plasticine"}))
    with pytest.raises(ValueOutOfRange):
        Choices(days_away=-1.0)
    with pytest.raises(ValueOutOfRange):
        Choices(rest_gap_um=0.0)
    with pytest.raises(ValueOutOfRange):
        Choices(levels={"fc_drift": 2.0})
