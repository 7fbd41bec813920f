"""Spans that matter, and their cost in micrometres."""

import math

import pytest
from tests.examples import demo_case
from tests.unit.pour.scenes import case_with, impression, opposing

from seatwright.arch import nominal_span_mm
from seatwright.case import Arch, ImpressionMaterial
from seatwright.findings import JUDGEMENT
from seatwright.pour import Band, CostBasis, Rung
from seatwright.pour._spans import Span, cost_over_span, find_spans

RUNG = Rung(Band.STRETCHED, 120.0, -0.3, 0.5, CostBasis.SPECIMENS, JUDGEMENT, "A guess.")
ALG, PE = ImpressionMaterial.ALGINATE, ImpressionMaterial.POLYETHER


def test_spans_join_attachments_of_different_rigid_bodies_longest_first() -> None:
    case = demo_case()
    spans = find_spans(case, case.impression[0])
    assert [s.teeth for s in spans] == [(37, 45), (37, 42), (35, 45)]
    assert [s.length_mm for s in spans] == sorted((s.length_mm for s in spans), reverse=True)
    assert spans[0].length_mm == pytest.approx(nominal_span_mm(Arch.MANDIBLE, (37, 45)))


def test_no_span_runs_inside_a_bridge_or_over_its_bar() -> None:
    case = demo_case()
    body = {33, 34, 35, 42, 43}
    assert not any(set(s.teeth) <= body for s in find_spans(case, case.impression[0]))


def test_given_places_replace_the_average_arch_pair_by_pair() -> None:
    case = demo_case()
    spans = find_spans(case, case.impression[0], {37: (0.0, 0.0), 45: (30.0, 40.0)})
    given = next(s for s in spans if s.teeth == (37, 45))
    assert (given.length_mm, given.is_nominal, given.named()) == (50.0, False, "37 to 45")
    assert all(s.is_nominal and "average arch" in s.named() for s in spans if s.teeth != (37, 45))


def test_an_opposing_arch_is_judged_between_its_first_molars() -> None:
    case = case_with(impression(), opposing())
    (span,) = find_spans(case, case.impression[1], {16: (0.0, 0.0), 26: (1.0, 0.0)})
    assert span.teeth == (16, 26)
    assert span.length_mm == pytest.approx(nominal_span_mm(Arch.MAXILLA, (16, 26)))


def test_without_attachments_spans_join_the_abutment_units() -> None:
    case = demo_case(attachment=(), bar=())
    teeth = {s.teeth for s in find_spans(case, case.impression[0])}
    assert (37, 45) in teeth
    assert all(34 not in pair for pair in teeth)


def test_cost_is_percent_of_span_with_both_uncertainties() -> None:
    cost = cost_over_span(Span((36, 46), 50.0, 5.0, is_nominal=True), RUNG, ALG)
    assert cost is not None
    assert cost.change_um.value == pytest.approx(-150.0)
    assert cost.change_um.u == pytest.approx(math.hypot(250.0, 15.0))
    assert cost.basis is CostBasis.SPECIMENS


def test_an_elastomer_across_the_arch_takes_the_whole_cast_figure_instead() -> None:
    across = Span((36, 46), 50.0, 5.0, is_nominal=True)
    cost = cost_over_span(across, RUNG, PE)
    assert cost is not None
    assert (cost.change_um.value, cost.change_um.u, cost.basis) == (-95.0, 30.0, CostBasis.WHOLE_CASTS)
    assert cost_over_span(across, RUNG, ALG).basis is CostBasis.SPECIMENS
    assert cost_over_span(across, RUNG, ImpressionMaterial.POLYSULFIDE).basis is CostBasis.SPECIMENS


def test_the_makers_change_goes_before_the_whole_cast_figure() -> None:
    rung = Rung(Band.WITHIN, 1440.0, -0.2, 0.05, CostBasis.MAKER, JUDGEMENT, "Maker's.")
    cost = cost_over_span(Span((36, 46), 50.0, 0.0, is_nominal=False), rung, PE)
    assert (cost.change_um.value, cost.basis) == (pytest.approx(-100.0), CostBasis.MAKER)


@pytest.mark.parametrize(
    ("teeth", "length", "is_whole"), [((36, 46), 30.0, True), ((36, 46), 29.9, False), ((33, 37), 35.0, False)]
)
def test_across_means_both_sides_and_thirty_millimetres(teeth, length: float, is_whole: bool) -> None:
    cost = cost_over_span(Span(teeth, length, 0.0, is_nominal=False), RUNG, PE)
    assert (cost.basis is CostBasis.WHOLE_CASTS) is is_whole


def test_no_number_gives_no_cost() -> None:
    bare = Rung(Band.BEYOND, None, None, None, CostBasis.NOTHING, JUDGEMENT, "None.")
    assert cost_over_span(Span((36, 46), 50.0, 0.0, is_nominal=False), bare, PE) is None
