"""The cast section of the page: points, bodies, distances, scale, figures of the deviation, readings by hand."""

from dataclasses import replace

import numpy as np
import pytest
from tests.dossiers import checked_dossier, make_cast, planned_dossier
from tests.unit.cast.caliper_readings import ARCH, read_marks
from tests.unit.cast.test_caliper_index import PLACES, read_gaps

from seatwright.cast import (
    BodyMovement,
    BudgetLine,
    DeviationFigures,
    Mark,
    PairChange,
    ScaleExpectation,
    check_caliper,
    check_index,
    weigh_scale,
)
from seatwright.cast._points import judge_points
from seatwright.findings import Verdict
from seatwright.papers import draw_figures, render_sections, view_dossier
from seatwright.quantities import Measured, ScaleCause
from seatwright.workflows.caliper import ByHand, CaliperAnswer, IndexAnswer
from seatwright.workflows.ports import CaliperSheet, IndexSheet, InputFile
from seatwright.workflows.results import Dossier

FILE = InputFile("sheet.csv", "0" * 64, 1)


def section(dossier: Dossier) -> str:
    view = view_dossier(dossier)
    return render_sections(view, figures=draw_figures(dossier), files=(), base="")["cast"]


@pytest.fixture(scope="module")
def full() -> str:
    step = make_cast()
    covariance = np.diag([25e-6] * 3 + [1e-6] * 3)
    motion = np.array([0.01, 0.0, 0.18, 0.0, 0.02, 0.0])
    marks = (Mark("43", "rest-43", np.array([2.0, 0, 0])), Mark("43", "slide-43", np.array([-3.0, 0, 1])))
    points = judge_points(motion, covariance, np.zeros(3), marks, 50)
    units = tuple(
        replace(u, points=points, budget=(BudgetLine("frame", 4.1, "x"), BudgetLine("crown put back", 18.6, "x")))
        if u.tooth == "43" and u.is_measured
        else u
        for u in step.result.units
    )
    expected = ScaleExpectation(
        Measured(-0.0019, 0.0006, "1"), (ScaleCause("Size of the cast", Measured(-0.19, 0.06, "%"), ("fc_x",)),)
    )
    body = BodyMovement(
        ("33", "34", "35"), np.array([0.0, 0.0, 0.07]), np.zeros(3), np.full(3, 0.004), np.full(3, 0.01), covariance,
        np.zeros(3), np.array([0.0, 0.0, 0.07]), 1e-6, is_stable=False, is_moved=True,
    )  # fmt: skip
    pairs = (
        PairChange("37", "43", ("conus-37", "slide-43"), 51.4, Measured(-141.0, 9.0, "µm"), Measured(1.2, 0.06, "deg"),
                   Measured(-0.4, 0.1, "deg"), Verdict.DOES_NOT_CONFORM, 0.0),
        PairChange("37", "45", ("conus-37", "centroid"), 54.0, Measured(5.0, 9.0, "µm"), Measured(0.1, 0.06, "deg"),
                   None, Verdict.CONFORMS, 1.0),
    )  # fmt: skip
    report = weigh_scale(Measured(-0.0018, 0.0001, "1"), Measured(0.0, 0.03, "1"), expected, 0.5)
    result = replace(
        step.result, units=units, bodies=(body,), pairs=pairs, scale=Measured(-0.0018, 0.0001, "1"), scale_report=report
    )
    figures = (
        DeviationFigures("whole", 5978.0, 0.013, -1.8, 19.8, 19.9, (-23.9, -1.0, 21.4, 38.2)),
        DeviationFigures("43", 96.0, 1.0, None, None, None, ()),
    )
    return section(checked_dossier(casts=(replace(step, result=result, figures=figures),)))


def test_point_that_decided_is_named_and_the_others_stand_beside(full: str) -> None:
    assert "at slide-43" in full
    assert "at rest-43" in full
    assert "crown put back 18.6" in full


def test_bodies_and_distances_are_shown_with_their_answers(full: str) -> None:
    assert "33, 34, 35" in full
    assert "under 0.1 %" in full
    assert "37 (conus-37) to 43 (slide-43)" in full
    assert "−141 ± 18 µm" in full
    assert ">changed<" in full
    assert ">kept<" in full


def test_scale_is_told_with_what_was_expected_and_whether_it_counts(full: str) -> None:
    assert "This pour lets expect −0.19 ± 0.12 %" in full
    assert "[fc_x]" in full
    assert "Both together: −0.180 ± 0.019 %" in full
    assert "No shift rests on that" in full


def test_deviation_is_told_in_figures_and_refused_where_undefined(full: str) -> None:
    assert "whole surface" in full
    assert "+38.2" in full
    assert "100.0 %" in full


def test_readings_by_hand_stand_in_the_section_even_without_a_scan() -> None:
    caliper = check_caliper(read_marks(ARCH, np.random.default_rng(1), moved={"45": [0.15, 0.1, 0]}))
    index = check_index(read_gaps(PLACES, ["37", "47"], height={"43": -90}), PLACES)
    by_hand = ByHand(CaliperAnswer(CaliperSheet((), 0, FILE), caliper), IndexAnswer(IndexSheet((), {}, 0, FILE), index))
    dossier = planned_dossier(by_hand=by_hand)
    text = section(dossier)
    assert {"caliper-plan", "index-test"} <= set(draw_figures(dossier))
    assert "Read by caliper" in text
    assert "45 moved" in text
    assert "43 stands" in text
    assert "frame held by" in text
    assert "cast" not in render_sections(
        view_dossier(planned_dossier()), figures=draw_figures(planned_dossier()), files=(), base=""
    )
