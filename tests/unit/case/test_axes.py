import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from tests.examples import demo_attachments, demo_case, leaning, twin_axes_case

from seatwright.case import Attachment, AxisPair, Case, admitted_tilt_deg, lateral_run_out_um, measure_axis_divergence
from seatwright.errors import ValueOutOfRange
from seatwright.findings import Severity, Verdict

SLIDE = demo_attachments()[1]


def _pair(case: Case, one: str, other: str) -> AxisPair:
    return next(p for p in measure_axis_divergence(case) if (p.one, p.other) == (one, other))


def _two_slides(angle_deg: float, **other: object) -> AxisPair:
    second = SLIDE.model_copy(update={"id": "second", "tooth": 44, "withdraw_direction": leaning(angle_deg)} | other)
    (pair,) = measure_axis_divergence(demo_case(attachment=(SLIDE, second)))
    return pair


def test_example_axes_share_a_path_and_the_twins_do_not() -> None:
    pair = _pair(demo_case(), "slide-35", "sleeve-front")
    assert pair.divergence_deg == pytest.approx(0.2, abs=1e-9)
    assert pair.verdict is Verdict.CONFORMS
    assert pair.finding.severity is Severity.NOTE
    assert "µm" not in pair.finding.why
    twin = _pair(twin_axes_case(), "slide-35", "sleeve-front")
    assert twin.divergence_deg == pytest.approx(2.6, abs=1e-9)
    assert [round(r.run_out_um) for r in twin.run_outs] == [227, 136]
    assert twin.verdict is Verdict.DOES_NOT_CONFORM
    assert twin.finding.severity is Severity.WARNING
    assert "227 µm" in twin.finding.why


def test_total_clearance_is_twice_that_per_side() -> None:
    total = _two_slides(0.1, clearance_um=30.0, clearance_is="total")
    per_side = _two_slides(0.1, clearance_um=15.0, clearance_is="per_side")
    assert total.admitted_deg == per_side.admitted_deg
    assert total.admitted_deg == pytest.approx(admitted_tilt_deg(20, 5) + admitted_tilt_deg(30, 5))


def test_conus_admits_the_taper_of_its_wall() -> None:
    pair = _pair(demo_case(), "conus-37", "slide-35")
    assert pair.admitted_deg == pytest.approx(6.0 + admitted_tilt_deg(20, 5))


def test_unknown_play_cannot_be_judged_and_says_what_is_missing() -> None:
    pair = _two_slides(0.0, clearance_um=None, clearance_is=None)
    assert pair.admitted_deg is None
    assert pair.verdict is Verdict.CANNOT_TELL
    assert pair.finding.severity is Severity.CAUTION
    assert pair.finding.do.endswith("of second")


def test_divergence_near_the_limit_cannot_be_told() -> None:
    limit = 2 * admitted_tilt_deg(20, 5)
    near = _two_slides(limit)
    assert near.verdict is Verdict.CANNOT_TELL
    assert near.finding.severity is Severity.CAUTION
    assert "measure" in near.finding.do
    assert _two_slides(limit + 0.3).verdict is Verdict.DOES_NOT_CONFORM
    assert _two_slides(limit - 0.3).verdict is Verdict.CONFORMS


@pytest.mark.parametrize("angle_deg", [90.0, 120.0, 180.0])
def test_opposite_directions_have_no_run_out_and_are_called_reversed(angle_deg: float) -> None:
    pair = _two_slides(angle_deg)
    assert pair.divergence_deg == pytest.approx(angle_deg)
    assert pair.run_outs == () or angle_deg == 90.0
    assert pair.finding.severity is Severity.WARNING
    assert ("reversed" in pair.finding.do) == (angle_deg > 90)


def test_resilient_attachments_and_those_without_a_direction_are_left_out() -> None:
    assert {p.one for p in measure_axis_divergence(demo_case())} <= {"conus-37", "slide-35", "sleeve-front"}
    assert measure_axis_divergence(demo_case(attachment=(SLIDE,))) == ()


UNIT = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: math.hypot(*v) > 0.1)


def _with_direction(attachment: Attachment, direction: np.ndarray) -> Attachment:
    x, y, z = direction / np.linalg.norm(direction)
    return attachment.model_copy(update={"withdraw_direction": (float(x), float(y), float(z))})


@given(UNIT, UNIT, st.tuples(*[st.floats(-3, 3)] * 3))
def test_turning_the_frame_leaves_the_divergence(one, other, turn) -> None:
    R = Rotation.from_rotvec(turn).as_matrix()
    angles = []
    for matrix in (np.eye(3), R):
        pair_of = tuple(_with_direction(SLIDE.model_copy(update={"id": n}), matrix @ np.array(v)) for n, v in (("a", one), ("b", other)))  # fmt: skip
        (pair,) = measure_axis_divergence(demo_case(attachment=pair_of))
        angles.append(pair.divergence_deg)
    assert angles[0] == pytest.approx(angles[1], abs=1e-6)


@given(st.floats(0.1, 15), st.floats(0, 500))
def test_tilt_and_run_out_are_inverse(length_mm: float, clearance_um: float) -> None:
    assert lateral_run_out_um(length_mm, admitted_tilt_deg(clearance_um, length_mm)) == pytest.approx(clearance_um)


@pytest.mark.parametrize("arguments", [(-1.0, 1.0), (1.0, 90.0), (1.0, -0.1), (math.nan, 1.0)])
def test_run_out_outside_its_range_is_refused(arguments: tuple[float, float]) -> None:
    with pytest.raises(ValueOutOfRange):
        lateral_run_out_um(*arguments)


@pytest.mark.parametrize("arguments", [(-1.0, 1.0), (1.0, 0.0), (math.nan, 1.0)])
def test_tilt_outside_its_range_is_refused(arguments: tuple[float, float]) -> None:
    with pytest.raises(ValueOutOfRange):
        admitted_tilt_deg(*arguments)
