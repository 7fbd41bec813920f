"""From a case to its path: fixed by a slide, refused when axes part, narrowed by planes, judged by hand."""

import math
from typing import Any

import numpy as np
import pytest
from tests.examples import demo_case

from seatwright.arch import OcclusalFrame, find_occlusal_frame, nominal_layout
from seatwright.case import Arch, AttachmentKind, Case, Clasp, GuidePlane, Region
from seatwright.errors import ValueOutOfRange
from seatwright.findings import Verdict
from seatwright.survey import (
    PathAsked,
    direction_at,
    direction_on_table,
    find_guides,
    make_path,
    measure_tilt,
    survey_paths,
    wanted_depth,
)

X, Y, Z = np.eye(3)
FRAME = OcclusalFrame(Z, Y, X)


def lean(x_deg: float) -> tuple[float, float, float]:
    return (math.sin(math.radians(x_deg)), 0.0, math.cos(math.radians(x_deg)))


def rigid_slide(tooth: int, axis: tuple[float, float, float], **changed: Any) -> Any:
    slide = next(a for a in demo_case().attachment if a.kind is AttachmentKind.SLIDE)
    plain = {"id": f"slide-{tooth}", "tooth": tooth, "withdraw_direction": axis, "length_mm": 5.0}
    return slide.model_copy(update={**plain, "clearance_um": 20.0, "clearance_is": "total", **changed})


def case_with(*attachments: Any, planes: tuple[GuidePlane, ...] = (), clasps: tuple[Clasp, ...] = ()) -> Case:
    return demo_case().model_copy(
        update={"attachment": attachments, "guide_plane": planes, "clasp": clasps, "rest": ()}
    )


def ids(survey: Any) -> set[str]:
    return {f.id for f in survey.findings}


def test_a_rigid_slide_fixes_the_path_at_its_own_axis() -> None:
    survey = survey_paths(case_with(rigid_slide(35, lean(3.0))), FRAME)
    assert survey.is_fixed
    assert survey.fixed_by == ("slide-35",)
    assert survey.path is not None
    assert np.allclose(survey.path.withdraw_direction, lean(3.0), atol=1e-6)
    assert np.allclose(survey.path.seat_direction, -np.array(lean(3.0)), atol=1e-6)
    assert survey.path.tilt.left_deg == pytest.approx(3.0, abs=1e-4)
    assert survey.attachments[0].centered_deg == pytest.approx(0.1146, abs=5e-5)
    assert survey.attachments[0].floating_deg == pytest.approx(0.2292, abs=5e-5)
    assert "survey-path-fixed" in ids(survey)


def test_axes_that_part_are_a_finding_and_no_path_is_offered() -> None:
    survey = survey_paths(case_with(rigid_slide(35, lean(0.0)), rigid_slide(44, lean(2.6))), FRAME)
    assert survey.path is None
    assert survey.verdict is Verdict.DOES_NOT_CONFORM
    finding = next(f for f in survey.findings if f.id == "survey-no-path")
    assert "2.60 degrees apart" in finding.what
    assert all(20.0 < gap < 5000.0 * math.tan(math.radians(1.3)) + 0.1 for gap in survey.window.openings_um.values())


def test_total_and_per_side_clearance_differ_by_two() -> None:
    guides = find_guides(
        case_with(rigid_slide(35, lean(0.0)), rigid_slide(44, lean(0.0), clearance_is="per_side")), FRAME
    ).guides
    assert [g.gap_mm for g in guides] == [0.01, 0.02]


def test_axes_entered_only_with_a_common_float_are_said_so() -> None:
    sure = PathAsked(u_axis_deg=0.0)
    heading = nominal_layout(Arch.MANDIBLE)[35].heading_rad  # a slide's box lies along the arch
    size = math.tan(math.radians(0.48))  # centered .40 degree is admitted, with a float .57
    short = rigid_slide(35, (size * math.cos(heading), size * math.sin(heading), 1.0), id="short", length_mm=2.0)
    survey = survey_paths(case_with(rigid_slide(35, lean(0.0)), short), FRAME, sure)
    assert survey.window.is_empty
    assert survey.window_floating is not None
    assert not survey.window_floating.is_empty
    assert "survey-float-only" in ids(survey)
    assert survey.path is not None
    assert not survey.path.is_inside
    assert survey.path.is_inside_floating


def test_a_reversed_axis_is_named_as_probably_reversed() -> None:
    survey = survey_paths(case_with(rigid_slide(35, lean(0.0)), rigid_slide(44, (0.0, 0.0, -1.0))), FRAME)
    assert survey.path is None
    assert "survey-axes-opposed" in ids(survey)


def test_an_axis_beyond_the_search_is_named() -> None:
    survey = survey_paths(case_with(rigid_slide(35, lean(25.0))), FRAME)
    assert survey.path is None
    assert "survey-axis-beyond-search" in ids(survey)
    assert survey_paths(case_with(rigid_slide(35, lean(25.0))), FRAME, PathAsked(max_tilt_deg=30.0)).is_fixed


def test_clearance_zero_leaves_a_point_not_nothing() -> None:
    survey = survey_paths(case_with(rigid_slide(35, lean(2.0), clearance_um=0.0)), FRAME)
    assert survey.path is not None
    assert survey.window.in_radius_deg == pytest.approx(0.0, abs=1e-6)
    assert np.allclose(survey.path.withdraw_direction, lean(2.0), atol=1e-6)


def test_guide_planes_narrow_a_free_window_and_are_judged_at_a_fixed_path() -> None:
    outward = (math.cos(math.radians(4.0)), 0.0, -math.sin(math.radians(4.0)))
    plane = GuidePlane(id="plane-44", tooth=44, surface="mesial", outward=outward, height_mm=3.0)
    free = survey_paths(case_with(planes=(plane,)), FRAME)
    assert free.path is not None
    assert free.path.planes[0].opens_deg > 0
    left = next(s for s in free.window.sides if s.side == "right")
    assert left.feature == "plane-44"
    fixed = survey_paths(case_with(rigid_slide(35, lean(0.0)), planes=(plane,)), FRAME)
    assert fixed.path is not None
    judged = fixed.path.planes[0]
    assert judged.says == "leans in"
    assert judged.undercut_mm == pytest.approx(3.0 * math.tan(math.radians(4.0)), rel=1e-6)
    assert "survey-plane-leans-in" in ids(fixed)


def test_a_path_by_hand_is_judged_by_the_same_measures() -> None:
    case = case_with(rigid_slide(35, lean(0.0)))
    survey = survey_paths(case, FRAME, PathAsked(path=make_path(-np.array(lean(1.0)))))
    assert survey.path is not None
    assert survey.path.how == "by hand"
    assert survey.path.attachments[0].says == "does not enter"
    assert survey.path.attachments[0].side_shift_um == pytest.approx(5000.0 * math.tan(math.radians(1.0)), abs=1e-3)
    assert "survey-does-not-enter" in ids(survey)


def test_mandrel_and_gauge_readings_get_the_same_checks_without_a_scan() -> None:
    arm = {"surface": "facial", "approach": "suprabulge", "form": "cast", "alloy": "cobalt_chromium"}
    clasps = (Clasp(id="clasp-35", tooth=35, **arm), Clasp(id="clasp-44", tooth=44, **arm))
    case = case_with(rigid_slide(35, lean(0.0)).model_copy(update={"withdraw_direction": None}), clasps=clasps)
    assert "survey-guide-left-out" in ids(survey_paths(case, FRAME))
    asked = PathAsked(
        axes={"slide-35": direction_on_table(2.0, 5.0, FRAME)}, gauges_mm={"clasp-35": 0.10, "clasp-44": 0.30}
    )
    survey = survey_paths(case, FRAME, asked)
    assert survey.path is not None
    assert survey.path.tilt.table_first_deg == pytest.approx(2.0, abs=1e-4)
    assert survey.path.tilt.table_second_deg == pytest.approx(5.0, abs=1e-4)
    assert [c.says for c in survey.path.clasps] == ["shallow", "as wanted"]
    said = next(f for f in survey.findings if f.id == "survey-clasp-depth")
    assert "35 reads 0.10 mm" in said.what
    assert "not the tilt" in said.do
    assert "survey-clasp-balance" in ids(survey)


def test_depths_wanted_follow_the_table_for_form_approach_and_alloy() -> None:
    def depth(**changed: Any) -> float:
        plain = {"surface": "facial", "approach": "suprabulge", "form": "cast", "alloy": "cobalt_chromium"}
        return wanted_depth(Clasp(id="c", tooth=44, **{**plain, **changed})).depth_mm

    assert depth() == 0.25
    assert depth(approach="infrabulge") == 0.5
    assert depth(alloy="gold") == 0.5
    assert depth(form="wrought", alloy="gold", arm_mm=9.0) == 0.75
    assert depth(form="wrought", alloy="gold") == 0.51
    assert depth(wanted_undercut_mm=0.4) == 0.4


def test_a_tilt_searched_up_to_zero_or_past_the_horizon_is_refused() -> None:
    for tilt in (0.0, 90.0, -5.0, math.nan):
        with pytest.raises(ValueOutOfRange):
            PathAsked(max_tilt_deg=tilt)


@pytest.mark.parametrize(("back", "left"), [(0.0, 0.0), (12.0, -7.0), (-15.0, 15.0)])
def test_a_tilt_reads_back_in_both_ways(back: float, left: float) -> None:
    tilt = measure_tilt(direction_at(back, left, FRAME), FRAME)
    assert (tilt.posterior_deg, tilt.left_deg) == pytest.approx((back, left))
    again = measure_tilt(direction_on_table(tilt.table_first_deg, tilt.table_second_deg, FRAME), FRAME)
    assert (again.posterior_deg, again.left_deg) == pytest.approx((back, left))


def test_a_path_that_points_into_the_jaw_says_so() -> None:
    with pytest.raises(ValueOutOfRange, match="90 degrees or more"):
        measure_tilt(-Z, FRAME)


def test_the_words_tip_the_side_down_that_the_path_leans_away_from() -> None:
    words = measure_tilt(direction_at(5.0, -3.0, FRAME), FRAME).words
    assert "front of the cast down" in words
    assert "patient's left side down" in words


def test_the_occlusal_frame_follows_the_units_however_the_scan_lies() -> None:
    rng = np.random.default_rng(3)
    rotation, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    rotation *= np.sign(np.linalg.det(rotation))
    case = demo_case()
    frame = find_occlusal_frame(case)
    turned = tuple(
        Region(tooth=r.tooth, seed_mm=tuple(rotation @ np.array(r.seed_mm)), radius_mm=r.radius_mm) for r in case.region
    )
    other = find_occlusal_frame(case.model_copy(update={"region": turned}))
    for one, two in zip(
        (frame.occlusal, frame.posterior, frame.left), (other.occlusal, other.posterior, other.left), strict=True
    ):
        assert np.allclose(rotation @ one, two, atol=1e-9)
    assert find_occlusal_frame(case.model_copy(update={"region": (), "arch": Arch.MAXILLA})).occlusal[2] == -1.0


def test_windows_grow_with_clearance_and_shrink_with_slides_added() -> None:
    few = survey_paths(case_with(rigid_slide(35, lean(0.0))), FRAME)
    more = survey_paths(case_with(rigid_slide(35, lean(0.0)), rigid_slide(44, lean(0.1))), FRAME)
    wider = survey_paths(case_with(rigid_slide(35, lean(0.0), clearance_um=40.0)), FRAME)
    assert more.window.in_radius_deg < few.window.in_radius_deg < wider.window.in_radius_deg
    assert few.window.solid_angle_deg2 is not None
    assert wider.window.solid_angle_deg2 == pytest.approx(4 * few.window.solid_angle_deg2, rel=1e-3)


def test_a_gauge_at_a_guide_plane_s_foot_tells_its_lean_and_a_plane_unread_is_said() -> None:
    planes = tuple(GuidePlane(id=f"plane-{t}", tooth=t, surface="mesial", height_mm=3.0) for t in (35, 44))
    asked = PathAsked(gauges_mm={"plane-44": 0.25}, path=make_path(-Z))
    survey = survey_paths(case_with(planes=planes), FRAME, asked)
    assert survey.path is not None
    assert [p.says for p in survey.path.planes] == ["not read", "leans in"]
    assert survey.path.planes[1].opens_deg == pytest.approx(-math.degrees(math.atan(0.25 / 3.0)))
    assert survey.path.planes[1].undercut_mm == pytest.approx(0.25)
    assert [f.about for f in survey.findings if f.id == "survey-plane-not-read"] == ["plane-35"]
