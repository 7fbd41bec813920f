"""The path with a framework: sought within its own window, judged where it sits, refused with what shuts it out."""

import math
from typing import Any

import numpy as np
import pytest
from tests.examples import demo_case
from tests.unit.survey.shapes import box, join, slot
from tests.unit.survey.test_best_path import NOTHING
from tests.unit.survey.test_part_shapes import PART, sheet
from tests.unit.survey.test_path_survey import case_with, rigid_slide

from seatwright.arch import OcclusalFrame, nominal_layout
from seatwright.case import Arch, AttachmentKind, Case, GuidePlane
from seatwright.mesh import Surface, move_surface
from seatwright.survey import PartAtSeat, PathAsked, PathSurvey, PathWeights, make_meter, make_path, survey_paths

X, Y, Z = np.eye(3)
FRAME = OcclusalFrame(Z, Y, X)
TILT_ONLY = PathWeights(**{**NOTHING, "tilt": 1})
TO_THE_LEFT = join(sheet((-9.0, 0.9), (-9.0, 9.0)), sheet((1.6, 9.0), (-9.0, 9.0)))
"""Plates 10 mm above the part that let it leave only where it leans 1.0 to 1.5 in 10 to the left."""
LEAST_DEG, MOST_DEG = math.degrees(math.atan(0.1)), math.degrees(math.atan(0.15))


def named(at: tuple[float, float, float]) -> str:
    return f"plate at {at[0]:.1f}"


def survey_with(case: Case, cast: Surface, part: Surface = PART, **asked: Any) -> PathSurvey:
    at_seat = PartAtSeat(cast, part, 0.0, named)
    meter = make_meter(case, cast, FRAME, {})
    return survey_paths(case, FRAME, PathAsked(meter=meter, weights=TILT_ONLY, part=at_seat, **asked))


def conus(half_angle_deg: float) -> Any:
    """A smooth cone at 35 that admits so much all round."""
    slide = next(a for a in demo_case().attachment if a.kind is AttachmentKind.SLIDE)
    length = 4.0
    gap_um = 1000.0 * length * math.tan(math.radians(half_angle_deg))
    plain = {"kind": AttachmentKind.STUD, "id": "cone-35", "tooth": 35, "withdraw_direction": (0.0, 0.0, 1.0)}
    return slide.model_copy(update={**plain, "length_mm": length, "clearance_um": gap_um, "clearance_is": "per_side"})


def ids(survey: PathSurvey) -> set[str]:
    return {f.id for f in survey.findings}


def test_the_best_path_lies_in_the_framework_s_window_where_tilt_alone_would_leave_it() -> None:
    case = case_with()
    alone = survey_paths(case, FRAME, PathAsked(meter=make_meter(case, TO_THE_LEFT, FRAME, {}), weights=TILT_ONLY))
    assert alone.path is not None
    assert alone.path.tilt.total_deg < 0.5
    survey = survey_with(case, TO_THE_LEFT)
    assert survey.path is not None
    assert survey.path.how == "best"
    assert survey.path.tilt.left_deg == pytest.approx(LEAST_DEG, abs=0.1)
    assert survey.path.tilt.posterior_deg == pytest.approx(0.0, abs=0.5)
    assert survey.framework is not None
    assert survey.framework.seating is not None
    assert survey.framework.seating.enters
    (shared,) = survey.framework.shared
    assert shared.in_radius_deg == pytest.approx((MOST_DEG - LEAST_DEG) / 2, abs=0.05)
    right = next(t for t in survey.path.trade_offs if t.side == "right")
    assert not right.admitted  # a degree back towards level the plate stands over the part


def test_what_guides_and_framework_admit_together_is_told_with_what_ends_it() -> None:
    survey = survey_with(case_with(conus(7.0)), TO_THE_LEFT)
    assert survey.path is not None
    assert survey.path.is_inside
    assert survey.framework is not None
    (shared,) = survey.framework.shared
    ends = {s.side: s.place for s in shared.sides}
    assert ends["left"] == "cone-35 wall"
    assert ends["right"].startswith("plate at")


def test_guides_that_shut_the_framework_out_are_named_with_the_angle_between_and_where_it_touches() -> None:
    survey = survey_with(case_with(conus(4.0)), TO_THE_LEFT)
    assert survey.path is None
    assert survey.no_path == "No path serves both cone-35 and the framework"
    finding = next(f for f in survey.findings if f.id == "survey-framework-shut")
    told = float(finding.what.partition(": ")[2].split()[0])
    assert told == pytest.approx(LEAST_DEG - 4.0, abs=0.05)
    assert "stops 10.0" in finding.why
    assert "touches first at plate at" in finding.why
    assert survey.framework is not None
    assert survey.framework.shared == ()


def test_a_framework_that_enters_nowhere_gets_no_path_and_where_it_touches() -> None:
    survey = survey_with(case_with(), sheet((-30.0, 30.0), (-30.0, 30.0)))
    assert survey.path is None
    assert {"survey-framework-locked", "survey-framework-shut"} <= ids(survey)
    assert survey.no_path == "No path serves the framework"


def test_guide_planes_give_way_to_the_framework_and_are_named() -> None:
    away = GuidePlane(id="plane-44", tooth=44, surface="mesial", outward=(-1.0, 0.0, 0.0), height_mm=3.0)
    survey = survey_with(case_with(planes=(away,)), TO_THE_LEFT)
    assert survey.path is not None
    assert survey.path.tilt.left_deg >= LEAST_DEG - 0.05
    assert "survey-planes-give-way" in ids(survey)
    assert survey.path.planes[0].says == "leans in"


def test_a_framework_is_judged_where_its_slide_lets_it_sit() -> None:
    """A path of 0.35 degree in a slide of 20 µm a side over 5 mm: centered 0.23 are admitted, to one side 0.46."""
    heading = nominal_layout(Arch.MANDIBLE)[35].heading_rad
    along = np.array([math.cos(heading), math.sin(heading), 0.0])
    turn = np.eye(4)
    turn[:3, 0], turn[:3, 1] = along, np.cross(Z, along)
    cast = move_surface(slot(width_mm=2.0, depth_mm=5.0), turn)
    part = move_surface(box((-0.98, -0.98, 0.0), (0.98, 0.98, 8.0)), turn)
    lean = math.tan(math.radians(0.35))
    case = case_with(rigid_slide(35, (0.0, 0.0, 1.0), clearance_um=40.0))
    survey = survey_with(case, cast, part, path=make_path(-(Z + lean * along)), max_tilt_deg=4.0)
    assert survey.path is not None
    assert not survey.path.is_inside
    assert survey.path.is_inside_floating
    framework = survey.framework
    assert framework is not None
    assert framework.seating is not None
    assert framework.seating.enters
    assert framework.seating_as_designed is not None
    assert not framework.seating_as_designed.enters
    assert np.allclose(framework.seat_shift_mm, -(5.0 * lean - 0.02) * along, atol=1e-4)
    assert "survey-framework-floats" in ids(survey)


def test_a_framework_entered_centered_is_judged_as_designed() -> None:
    survey = survey_with(
        case_with(rigid_slide(35, (0.0, 0.0, 1.0), clearance_um=40.0)),
        slot(width_mm=2.0, depth_mm=5.0),
        box((-0.98, -0.98, 0.0), (0.98, 0.98, 8.0)),
        max_tilt_deg=4.0,
    )
    assert survey.is_fixed
    assert survey.framework is not None
    assert survey.framework.seat_shift_mm == (0.0, 0.0, 0.0)
    assert survey.framework.seating_as_designed is None
    assert survey.framework.seating is not None
    assert survey.framework.seating.enters
