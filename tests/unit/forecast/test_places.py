"""Where the partial must fit: rests and clasp tips from the case, on crowns and on natural teeth."""

import numpy as np
import pytest

from seatwright.case import Bar, RestKind, Surface
from seatwright.case import Rest as CaseRest
from seatwright.forecast import Choices
from seatwright.forecast._answer import list_room, name_left_out
from seatwright.forecast._misfit import find_measurands
from seatwright.forecast._seating import build_setup

from .seating_cases import CLASP, RESTS, seat_case

TECHNIQUES = {37: "gel", 35: "gel", 33: "masked", 42: "masked", 43: "masked", 44: "gel", 45: "analog"}
CHOICES = Choices(die_technique=TECHNIQUES)


def test_rests_and_clasps_come_from_the_case() -> None:
    setup = build_setup(seat_case(), CHOICES)
    kinds = {f.id: f.kind for f in setup.features}
    assert [kinds[r.id] for r in RESTS] == ["rest"] * 3
    assert kinds[CLASP.id] == "clasp"
    named = {(m.id, m.what) for m in find_measurands(setup.chain, CHOICES)}
    assert {("clasp-44", "towards the tooth"), ("clasp-44", "up or down"), ("rest-43", "along the path")} <= named


def test_a_clasp_is_reported_but_never_forbids_a_seat() -> None:
    with_clasp, without = build_setup(seat_case(), CHOICES), build_setup(seat_case(clasp=()), CHOICES)
    assert with_clasp.program.gaps_mm.size == without.program.gaps_mm.size
    # Nor does it help to place the partial: the others' misfit stays as it was.
    others = [m for m in find_measurands(with_clasp.chain, CHOICES) if m.id != "clasp-44"]
    for mine, theirs in zip(others, find_measurands(without.chain, CHOICES), strict=True):
        u = [float(m.coefficients @ c.covariance @ m.coefficients) for m, c in (
            (mine, with_clasp.chain), (theirs, without.chain))]  # fmt: skip
        assert u[0] == pytest.approx(u[1], rel=1e-9)


def test_a_rest_s_own_allowed_gap_stands_before_the_published_limit() -> None:
    strict = tuple(r.model_copy(update={"gap_allowed_um": 60.0}) for r in RESTS)

    def allowed(case_rests: tuple[CaseRest, ...], choices: Choices) -> float:
        chain = build_setup(seat_case(rest=case_rests), choices).chain
        return next(m.allowed_mm for m in find_measurands(chain, choices) if m.id == "rest-43")

    assert allowed(RESTS, CHOICES) == pytest.approx(0.311 / 2)
    assert allowed(strict, CHOICES) == pytest.approx(0.030)
    assert allowed(strict, Choices(die_technique=TECHNIQUES, rest_gap_um=100.0)) == pytest.approx(0.050)


def test_a_rest_on_a_natural_tooth_has_no_die_no_cement_space_and_no_drift() -> None:
    natural = CaseRest(id="rest-47", tooth=47, kind=RestKind.OCCLUSAL, surface=Surface.MESIAL, at_mm=(-25.0, 28.0, 6.0))
    setup = build_setup(seat_case(rest=(*RESTS, natural)), CHOICES)
    body = next(b for b in setup.bodies if b.teeth == (47,))
    assert body.abutments[0].is_natural
    assert not body.abutments[0].has_cement_space
    links = {c.link for c in setup.chain.causes if c.name.split("/")[1:2] == ["47"]}
    assert links == {"pick_up"}
    assert next(c for c in setup.chain.causes if c.name == "pick_up/47/1").evidence == ("fc_position_natural",)


def test_what_gives_room_is_listed_with_how_good_it_is() -> None:
    setup = build_setup(seat_case(), CHOICES)
    room = {r.evidence: r.how_good for r in list_room(setup.features, setup.bodies, CHOICES)}
    assert {"fc_play_cement", "fc_play_mobility", "fc_play_implant", "fc_rest_gap", "fc_clasp_depth"} <= set(room)
    stated = tuple(r.model_copy(update={"gap_allowed_um": 60.0}) for r in RESTS)
    own = build_setup(seat_case(rest=stated, attachment=(), clasp=()), CHOICES)
    assert "fc_rest_gap" not in {r.evidence for r in list_room(own.features, own.bodies, CHOICES)}


def test_what_is_left_out_says_why() -> None:
    left = {step.step: step.why for step in name_left_out(seat_case())}
    assert "bite" in left["mounting"]
    assert "after the seat" in left["cementation"]
    assert "bars without sleeve or clip" not in left
    other = Bar(id="bar-2", from_tooth=43, to_tooth=44, length_mm=8.0, ridge_gap_mm=2.0)
    alone = {step.step for step in name_left_out(seat_case(bar=(*seat_case().bar, other)))}
    assert "bars without sleeve or clip" in alone


def test_turns_are_so_small_that_second_order_adds_less_than_a_tenth_of_a_micrometre() -> None:
    # JCGM 100:2008, 5.1.2, note: the next term for a rotation by w at an arm r is r w^2 / 2 in the mean.
    chain = build_setup(seat_case(), CHOICES).chain
    for index, feature in enumerate(chain.features):
        rows = slice(6 * index + 3, 6 * index + 6)
        u_turn = np.sqrt(np.diag(chain.covariance[rows, rows])).max()
        arm_mm = max(feature.length_mm / 2, feature.radius_mm)
        assert 1000 * arm_mm * u_turn**2 / 2 < 0.1
