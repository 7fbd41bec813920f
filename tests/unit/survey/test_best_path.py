"""The best path: each measure alone finds what is known, weights rule, and a path by hand gets the same measures."""

import math
from typing import Any

import numpy as np
import pytest
from tests.examples import demo_case
from tests.unit.survey.shapes import join, lean, revolve

from seatwright.arch import OcclusalFrame
from seatwright.case import Case, Clasp, GuidePlane, Region
from seatwright.errors import ValueOutOfRange
from seatwright.mesh import Surface
from seatwright.survey import PathAsked, PathMeter, PathWeights, make_meter, make_path, measure_paths, survey_paths

X, Y, Z = np.eye(3)
FRAME = OcclusalFrame(Z, Y, X)
NOTHING = {"guide_planes": 0, "retention": 0, "balance": 0, "block_out": 0, "tissue": 0, "visible_metal": 0, "tilt": 0}
ARM: dict[str, Any] = {"surface": "facial", "approach": "suprabulge", "form": "cast", "alloy": "cobalt_chromium"}


def ball(x_mm: float) -> Surface:
    polar = np.linspace(math.pi, 0.0, 60)
    skin = revolve([(4.0 * math.sin(t), 4.0 * math.cos(t)) for t in polar], 120)
    return Surface(skin.vertices_mm + np.array([x_mm, 0.0, 0.0]), skin.faces)


def tip(x_mm: float, depth_mm: float, side: float) -> tuple[float, float, float]:
    return (x_mm + side * math.sqrt(16.0 - depth_mm**2), 0.0, -depth_mm)


def two_balls(planes: tuple[GuidePlane, ...] = ()) -> tuple[Case, PathMeter]:
    """Crowns as spheres of radius 4, right and left; tips 1.3919 mm under the equator outside each: 0.25 mm level."""
    clasps = (
        Clasp(id="clasp-44", tooth=44, tip_mm=tip(-15.0, 1.3919, -1.0), **ARM),
        Clasp(id="clasp-35", tooth=35, tip_mm=tip(15.0, 1.3919, 1.0), **ARM),
    )
    regions = (
        Region(tooth=44, seed_mm=(-15.0, 0, 0), radius_mm=4.0),
        Region(tooth=35, seed_mm=(15.0, 0, 0), radius_mm=4.0),
    )
    case = demo_case().model_copy(
        update={"attachment": (), "rest": (), "clasp": clasps, "guide_plane": planes, "region": regions}
    )
    return case, make_meter(case, join(ball(-15.0), ball(15.0)), FRAME, {})


def test_level_crowns_hold_best_without_tilt() -> None:
    case, meter = two_balls()
    weights = PathWeights(**{**NOTHING, "retention": 1, "balance": 1})
    survey = survey_paths(case, FRAME, PathAsked(max_tilt_deg=10.0, meter=meter, weights=weights))
    assert survey.path is not None
    assert survey.path.how == "best"
    assert survey.path.tilt.left_deg == pytest.approx(0.0, abs=1.0)
    assert [c.reads_mm for c in survey.path.clasps] == pytest.approx([0.25, 0.25], abs=0.03)
    assert all(c.says == "as wanted" and c.how == "scan" for c in survey.path.clasps)
    assert len(survey.ranked) > 1
    assert survey.ranked[0].measures.score <= survey.ranked[1].measures.score


def test_a_tilt_deepens_one_side_and_shallows_the_other_as_spheres_do() -> None:
    """On a sphere the reading is r - sqrt(r^2 - z^2) with z the depth under the equator of that path."""
    _, meter = two_balls()
    tilt = math.radians(5.0)
    reads = measure_paths(meter, lean(5.0, 0.0), fine=True).reads_mm[0]
    angle = math.asin(1.3919 / 4.0)
    expected = [4.0 - 4.0 * math.cos(angle + s * tilt) for s in (-1.0, 1.0)]
    assert reads == pytest.approx(expected, abs=0.02) or reads == pytest.approx(expected[::-1], abs=0.02)


def test_a_guide_plane_alone_turns_the_path_along_itself() -> None:
    outward = (math.cos(math.radians(3.0)), 0.0, math.sin(math.radians(3.0)))
    plane = GuidePlane(id="plane-44", tooth=44, surface="mesial", outward=outward, at_mm=(-11.0, 0, 0), height_mm=3.0)
    case, meter = two_balls((plane,))
    weights = PathWeights(**{**NOTHING, "guide_planes": 1})
    survey = survey_paths(case, FRAME, PathAsked(max_tilt_deg=10.0, meter=meter, weights=weights))
    assert survey.path is not None
    assert survey.path.planes[0].opens_deg == pytest.approx(0.0, abs=0.4)
    assert survey.path.planes[0].says == "parallel"


def test_a_path_by_hand_gets_the_same_measures_and_what_a_degree_changes() -> None:
    case, meter = two_balls()
    asked = PathAsked(max_tilt_deg=10.0, meter=meter, path=make_path(-lean(4.0, 0.0)))
    survey = survey_paths(case, FRAME, asked)
    assert survey.path is not None
    assert survey.path.measures is not None
    assert survey.path.measures.tilt == pytest.approx(4.0)
    table = measure_paths(meter, np.array(survey.path.withdraw_direction), fine=True)
    assert survey.path.measures.block_out == pytest.approx(float(table.values[0, 3]))
    right = next(t for t in survey.path.trade_offs if t.side == "right")
    left = next(t for t in survey.path.trade_offs if t.side == "left")
    assert right.balance < 0 < left.balance  # leaning back towards level evens the two sides out
    assert right.score < left.score
    assert survey.ranked == ()


def test_typed_gauge_readings_take_the_place_of_the_scans() -> None:
    case, meter = two_balls()
    asked = PathAsked(max_tilt_deg=10.0, meter=meter, path=make_path(-Z), gauges_mm={"clasp-44": 0.75})
    survey = survey_paths(case, FRAME, asked)
    assert survey.path is not None
    assert [(c.how, c.says) for c in survey.path.clasps] == [("gauge", "deep"), ("scan", "as wanted")]


def test_weights_below_zero_are_refused() -> None:
    with pytest.raises(ValueOutOfRange, match="retention"):
        PathWeights(retention=-1.0)


def test_a_tip_marked_off_the_scan_is_not_read_and_one_near_it_is_read_where_it_touches() -> None:
    case, _ = two_balls()
    far, near = case.clasp
    outwards = np.array(near.tip_mm) + 0.3 * (np.array(near.tip_mm) - [15.0, 0.0, 0.0]) / 4.0
    x, y, z = (float(v) for v in outwards)
    moved = (far.model_copy(update={"tip_mm": (-25.0, 0.0, 0.0)}), near.model_copy(update={"tip_mm": (x, y, z)}))
    case = case.model_copy(update={"clasp": moved})
    meter = make_meter(case, join(ball(-15.0), ball(15.0)), FRAME, {})
    survey = survey_paths(case, FRAME, PathAsked(meter=meter, path=make_path(-Z)))
    assert survey.path is not None
    assert [c.says for c in survey.path.clasps] == ["not read", "as wanted"]
    assert survey.path.clasps[1].reads_mm == pytest.approx(0.25, abs=0.03)
    assert [f.about for f in survey.findings if f.id == "survey-tip-off-scan"] == ["clasp-44"]


def test_the_next_best_paths_differ_by_a_degree_or_more() -> None:
    case, meter = two_balls()
    survey = survey_paths(case, FRAME, PathAsked(max_tilt_deg=10.0, meter=meter))
    ways = [np.array(r.withdraw_direction) for r in survey.ranked]
    apart = [np.degrees(np.arccos(np.clip(a @ b, -1, 1))) for k, a in enumerate(ways) for b in ways[:k]]
    assert len(ways) > 2
    assert min(apart) >= 1.0 - 1e-6
