"""The survey of a case as a workflow and a command: what is typed is judged, what is unknown is named."""

import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events
from tests.shapes import ball, joined
from tests.shapes import box as plain_box
from tests.unit.survey.shapes import box, slot
from tests.workflow.fakes import MemorySource, StoppedClock

from seatwright.case import Clasp, GuidePlane, ReliefArea, ScanRole
from seatwright.cli._survey_case import TypedSurvey, parse_readings
from seatwright.errors import InputError
from seatwright.figures import draw_path_window
from seatwright.mesh import Surface
from seatwright.papers._dossier import draw_figures
from seatwright.papers._view_path import view_path
from seatwright.survey import read_plane_normals
from seatwright.workflows.dossier import gather_dossier
from seatwright.workflows.envelope import encode_json, make_envelope
from seatwright.workflows.ports import InputFile
from seatwright.workflows.survey import BenchAsked
from seatwright.workflows.survey_case import CaseSurvey, LoosePart, SurveyAsked, survey_case


def answer(asked: SurveyAsked | None = None) -> CaseSurvey:
    case = demo_case(scan=())
    source = MemorySource(case, demo_bench(), demo_events())
    return survey_case(source, now=None, clock=StoppedClock(DEMO_NOW), asked=asked)


def test_the_answer_becomes_json_with_window_and_path() -> None:
    survey = answer()
    document = json.loads(
        encode_json(
            make_envelope("survey", inputs=survey.inputs, result=survey.result, findings=survey.result.findings)
        )
    )
    result = document["result"]
    assert {"window", "path", "attachments", "is_fixed"} <= set(result)
    assert np.linalg.norm(result["path"]["seat_direction"]) == pytest.approx(1.0)
    assert result["path"]["withdraw_direction"] == pytest.approx([-v for v in result["path"]["seat_direction"]])


def test_a_typed_tilt_is_judged_and_two_at_once_are_refused() -> None:
    survey = answer(SurveyAsked(table_deg=(3.0, 4.0)))
    assert survey.result.path is not None
    assert survey.result.path.how == "by hand"
    assert survey.result.path.tilt.table_second_deg == pytest.approx(4.0)
    with pytest.raises(InputError, match="one path"):
        answer(SurveyAsked(table_deg=(3.0, 4.0), tilt_deg=(1.0, 1.0)))


def test_readings_of_what_is_not_planned_are_refused_by_name() -> None:
    with pytest.raises(InputError, match="slide-36"):
        answer(SurveyAsked(mandrels_deg={"slide-36": (0.0, 0.0)}))
    with pytest.raises(InputError, match="clasp-99"):
        answer(SurveyAsked(gauges_mm={"clasp-99": 0.25}))


def test_an_occlusal_normal_that_is_stated_rules_the_tilts() -> None:
    lean = math.radians(5.0)
    survey = answer(SurveyAsked(occlusal=(0.0, math.sin(lean), math.cos(lean))))
    assert survey.result.frame.u_deg == 0.0
    assert survey.result.path is not None
    straight = answer(SurveyAsked(occlusal=(0.0, 0.0, 1.0)))
    assert straight.result.path is not None
    difference = survey.result.path.tilt.posterior_deg - straight.result.path.tilt.posterior_deg
    assert difference == pytest.approx(-5.0, abs=0.05)


def test_typed_options_are_read_or_named() -> None:
    typed = TypedSurvey(path="0,0,-1", mandrels=("slide-35=2.5,1",), gauges=("clasp-44=0.25",))
    assert typed.read().mandrels_deg == {"slide-35": (2.5, 1.0)}
    assert typed.read().gauges_mm == {"clasp-44": 0.25}
    for wrong in (TypedSurvey(path="0,0"), TypedSurvey(path="a,b,c"), TypedSurvey(tilt="nan,1")):
        with pytest.raises(InputError, match="--"):
            wrong.read()
    with pytest.raises(InputError, match="no name"):
        parse_readings(["2.5,1"], "--mandrel", count=2)


def test_the_figure_names_what_limits_each_side() -> None:
    svg = draw_path_window(answer().result)
    assert svg.startswith("<svg")
    assert "slide" in svg
    assert "leans to the front" in svg


def test_a_planes_normal_is_read_off_the_scan() -> None:
    lean = math.radians(7.0)
    u, v = np.meshgrid(np.linspace(-3, 3, 25), np.linspace(-3, 3, 25))
    across, along = np.array([0.0, 1.0, 0.0]), np.array([-math.sin(lean), 0.0, math.cos(lean)])
    vertices = u.reshape(-1, 1) * across + v.reshape(-1, 1) * along
    k = np.arange(25 * 24).reshape(24, 25)[:, :24].reshape(-1)
    faces = np.concatenate([np.column_stack([k, k + 1, k + 25]), np.column_stack([k + 1, k + 26, k + 25])])
    plane = GuidePlane(id="p", tooth=44, surface="mesial", at_mm=(0.0, 0.0, 0.0), height_mm=3.0)
    far = plane.model_copy(update={"id": "far", "at_mm": (9.0, 0.0, 0.0)})
    read, notes = read_plane_normals([plane, far], Surface(vertices, faces))
    assert np.allclose(read["p"], [math.cos(lean), 0.0, math.sin(lean)], atol=1e-9)
    assert [n.about for n in notes] == ["far"]


def test_a_framework_is_tried_on_the_reference_scan() -> None:
    case = demo_case()
    scan = next(s for s in case.scan if s.role is ScanRole.REFERENCE)
    female, male = slot(width_mm=2.0, depth_mm=5.0), box((-1.0, -1.0, 0.0), (1.0, 1.0, 8.0))
    source = MemorySource(case, demo_bench(), demo_events(), {scan.file: female})
    part = LoosePart(male, InputFile("--framework", "2" * 64, 1), clearance_um=20.0)
    asked = SurveyAsked(seat_direction=(0.0, 0.0, -1.0), framework=part, max_tilt_deg=4.0)
    survey = survey_case(source, now=None, clock=StoppedClock(DEMO_NOW), asked=asked)
    assert survey.result.framework is not None
    assert survey.result.framework.seating is not None
    assert survey.result.framework.seating.enters
    assert "--framework" in {f.name for f in survey.inputs}
    assert "framework" in draw_path_window(survey.result)
    encode_json(make_envelope("survey", inputs=survey.inputs, result=survey.result, findings=survey.result.findings))
    with pytest.raises(InputError, match="reference scan"):
        answer(asked)


def test_the_bench_gets_tripod_marks_block_out_and_ledges_along_the_case_s_path() -> None:
    plate, post = plain_box((40.0, 40.0, 1.0), edge=2.0, center=(0, 0, -0.5)), ball(4.0, center=(0, 0, 4.0))
    case = demo_case()
    tips = [(3.8, 0.0, 3.2), (-3.8, 0.0, 3.2)]
    arm = {"surface": "facial", "approach": "suprabulge", "form": "cast", "alloy": "cobalt_chromium"}
    clasps = tuple(Clasp(id=f"c{t}", tooth=t, tip_mm=tip, **arm) for t, tip in zip((35, 44), tips, strict=True))
    case = case.model_copy(update={"clasp": clasps})
    scan = next(s for s in case.scan if s.role is ScanRole.REFERENCE)
    source = MemorySource(case, demo_bench(), demo_events(), {scan.file: joined(plate, post)})
    asked = SurveyAsked(seat_direction=(0.0, 0.0, -1.0), bench=BenchAsked(taper_deg=0.0))
    survey = survey_case(source, now=None, clock=StoppedClock(DEMO_NOW), asked=asked)
    assert survey.bench is not None
    assert survey.bench.fill is not None
    assert survey.bench.fill.n_ledges == 2
    assert survey.bench.fill.undercut_volume_mm3 == pytest.approx(math.pi * 4**3 / 3, rel=0.02)
    document = json.loads(encode_json(make_envelope("survey", inputs=(), result=survey.as_result(), findings=())))
    assert document["result"]["bench"]["block_out"]["n_ledges"] == 2
    assert document["result"]["path"]["how"] == "by hand"
    marks = survey.bench.tripod
    assert marks is not None
    back = survey_case(
        source, now=None, clock=StoppedClock(DEMO_NOW), asked=SurveyAsked(marks_mm=marks.points_mm, bench=BenchAsked())
    )
    assert back.result.path is not None
    assert back.result.path.seat_direction == pytest.approx((0.0, 0.0, -1.0), abs=1e-9)


def test_weights_are_named_and_unknown_ones_refused() -> None:
    assert TypedSurvey(weights=("tissue=0", "retention=3")).read().weights.retention == 3.0
    with pytest.raises(InputError, match="no measure depth"):
        TypedSurvey(weights=("depth=1",)).read()


def test_the_dossier_shows_the_path_and_what_it_means() -> None:
    source = MemorySource(demo_case(scan=()), demo_bench(), demo_events())
    dossier = gather_dossier(source, now=None, clock=StoppedClock(DEMO_NOW))
    assert dossier.path is not None
    view = view_path(dossier)
    assert view["verdict"].startswith("The path is fixed by")
    assert {row["id"] for row in view["attachments"]} == {a.id for a in dossier.path.attachments}
    assert next(step.word for step in dossier.job if step.name == "survey") == "path fixed"
    assert "path-window" in draw_figures(dossier)
    bare = MemorySource(demo_case(scan=(), attachment=(), clasp=(), guide_plane=()), demo_bench(), demo_events())
    none = gather_dossier(bare, now=None, clock=StoppedClock(DEMO_NOW))
    assert none.path is None
    assert "Nothing that asks for a path" in none.no_path


def test_the_polar_diagram_lies_as_the_arch_sheet_front_down_in_a_lower_jaw_and_up_in_an_upper() -> None:
    def heights(survey: CaseSurvey) -> tuple[float, float]:
        svg = draw_path_window(survey.result)
        return tuple(
            float(re.search(rf'y="([\d.]+)"[^>]*>leans to the {side}<', svg)[1])  # type: ignore[index]
            for side in ("front", "back")
        )

    lower = answer()
    front, back = heights(lower)
    assert front > back
    frame = lower.result.frame
    upper = replace(frame, occlusal=-frame.occlusal, posterior=frame.posterior, left=frame.left)
    front, back = heights(replace(lower, result=replace(lower.result, frame=upper)))
    assert front < back


def test_relief_planned_in_the_case_is_laid_with_what_is_typed_and_a_pad_off_the_scan_is_said() -> None:
    plate = plain_box((40.0, 40.0, 1.0), edge=1.0, center=(0, 0, -0.5))
    case = demo_case().model_copy(
        update={
            "clasp": (),
            "relief": (
                ReliefArea(id="ridge", gauge=24, reach_mm=3.0, line_mm=((-5.0, 0.0, 0.0), (5.0, 0.0, 0.0))),
                ReliefArea(id="lost", gauge=24, reach_mm=3.0, line_mm=((0.0, 0.0, 30.0),)),
            ),
        }
    )
    scan = next(s for s in case.scan if s.role is ScanRole.REFERENCE)
    source = MemorySource(case, demo_bench(), demo_events(), {scan.file: plate})
    asked = SurveyAsked(seat_direction=(0.0, 0.0, -1.0), bench=BenchAsked())
    survey = survey_case(source, now=None, clock=StoppedClock(DEMO_NOW), asked=asked)
    assert survey.bench is not None
    (pad,) = survey.bench.pads
    assert pad.thickness_mm == pytest.approx(0.511, abs=5e-4)  # the wire-gauge table's 24
    assert pad.area_mm2 == pytest.approx(10.0 * 6.0 + math.pi * 9.0, rel=0.02)
    assert [f.about for f in survey.findings if f.id == "relief-off-scan"] == ["lost"]
    assert any("24-gauge" in step for step in survey.bench.wax_steps)
