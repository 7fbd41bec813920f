"""The window and the seating of whole rigid parts, against closed forms."""

import math

import numpy as np
import pytest
from tests.unit.survey.shapes import box, frustum, join, lean, revolve, slot

from seatwright.arch import OcclusalFrame
from seatwright.mesh import offset_surface, prepare_withdrawal
from seatwright.survey import (
    FrameworkAsked,
    find_loose_window,
    find_part_window,
    make_path,
    seat_part,
    survey_framework,
)
from seatwright.survey._seating import offsets_of

X, Y, Z = np.eye(3)
FRAME = OcclusalFrame(Z, Y, X)


def test_the_window_of_a_cap_is_taper_and_gap_all_round() -> None:
    die, cap = frustum(taper_deg=6.0, height_mm=6.0, n=120), frustum(taper_deg=6.0, height_mm=6.0, n=100, gap_mm=0.03)
    window = find_part_window(prepare_withdrawal(die, cap), FRAME, 20.0)
    assert len(window.regions) == 1
    region = window.regions[0]
    assert np.degrees(np.arccos(region.center @ Z)) < 0.3
    reach = np.degrees(np.arccos(region.outline @ Z))
    assert np.abs(reach - 6.285).max() <= 0.06  # promised edge of 0.05 degree; the polygon of 100 sides takes 0.02


def test_the_window_of_a_slide_is_found_from_its_axis_though_the_grid_misses_it() -> None:
    female = slot(width_mm=2.0, depth_mm=5.0)
    male = box((-0.98, -0.98, 0.0), (0.98, 0.98, 8.0))
    axis = lean(3.1, 40.0)
    side = np.cross(Z, axis) / np.linalg.norm(np.cross(Z, axis))
    turn = np.column_stack([side, np.cross(axis, side), axis])
    from seatwright.mesh import move_surface

    motion = np.eye(4)
    motion[:3, :3] = turn
    pair = prepare_withdrawal(move_surface(female, motion), move_surface(male, motion))
    assert find_part_window(pair, FRAME, 6.0).is_empty
    window = find_part_window(pair, FRAME, 6.0, seeds=[axis])
    limit = math.degrees(math.atan2(0.02, 5.0))
    assert window.regions[0].in_radius_deg == pytest.approx(limit, abs=max(0.02, 0.05 * 2 * limit))


def test_two_openings_are_two_regions_and_their_middle_is_blocked() -> None:
    """A post under a roof with a gap at each side: it leaves by leaning left or right, not straight."""
    roof = box((-1.0, -6.0, 4.0), (1.0, 6.0, 4.4))
    walls = join(box((-9.0, -6.0, 0.0), (-4.0, 6.0, 8.0)), box((4.0, -6.0, 0.0), (9.0, 6.0, 8.0)))
    post = box((-0.2, -0.2, 0.0), (0.2, 0.2, 0.5))
    window = find_part_window(prepare_withdrawal(join(roof, walls), post), FRAME, 24.0)
    assert len(window.regions) == 2
    leans = sorted(float(r.center @ X) for r in window.regions)
    assert leans[0] < -0.2
    assert leans[1] > 0.2
    assert all(abs(r.center @ Z) < 0.97 for r in window.regions)


def test_a_locked_part_says_so_and_what_blocks_the_seeds() -> None:
    lid = box((-9.0, -9.0, 3.0), (9.0, 9.0, 4.0))
    window = find_part_window(prepare_withdrawal(lid, box((-1, -1, 0), (1, 1, 1))), FRAME, 20.0, seeds=[Z])
    assert window.is_empty
    assert window.blocked_by
    assert window.n_free == 0


def test_windows_grow_with_clearance_and_shrink_with_parts_added() -> None:
    die, cap = frustum(taper_deg=6.0, height_mm=6.0, n=90), frustum(taper_deg=6.0, height_mm=6.0, n=80, gap_mm=0.05)
    other_die = frustum(taper_deg=3.0, height_mm=6.0, n=90, radius_mm=3.0)
    other_cap = frustum(taper_deg=3.0, height_mm=6.0, n=80, gap_mm=0.05, radius_mm=3.0)
    plain = find_part_window(prepare_withdrawal(die, cap), FRAME, 10.0).regions[0].in_radius_deg
    wider = find_part_window(prepare_withdrawal(die, offset_surface(cap, 0.1)), FRAME, 10.0).regions[0].in_radius_deg
    shifted = [move(other_die), move(other_cap)]
    both = find_part_window(prepare_withdrawal(join(die, shifted[0]), join(cap, shifted[1])), FRAME, 10.0)
    assert wider > plain
    assert both.regions[0].in_radius_deg < plain - 2.0


def move(surface, x_mm: float = 12.0):
    from seatwright.mesh import Surface

    return Surface(surface.vertices_mm + np.array([x_mm, 0.0, 0.0]), surface.faces)


def test_a_part_stops_where_the_cast_stands_above_it() -> None:
    ledge, plate = box((0.0, -1.0, 0.0), (1.0, 1.0, 5.0)), box((0.5, -0.5, 2.0), (4.0, 0.5, 3.0))
    pair = prepare_withdrawal(ledge, plate)
    seating = seat_part(pair, make_path((0.0, 0.0, -1.0)))
    assert not seating.enters
    assert seating.stops_short_mm == pytest.approx(3.0)
    assert seating.first[0].at_mm[2] == pytest.approx(5.0)


def test_the_relief_that_lets_a_tight_part_in_is_its_interference() -> None:
    female, male = slot(width_mm=2.0, depth_mm=5.0), box((-1.03, -1.0, 0.5), (1.03, 1.0, 8.0))
    seating = seat_part(prepare_withdrawal(female, male), make_path((0, 0, -1)), remade=offsets_of(female, male))
    assert not seating.enters
    assert seating.relief_um == pytest.approx(30.0, abs=2.0)
    assert seat_part(prepare_withdrawal(female, offset_surface(male, -0.03)), make_path((0, 0, -1))).enters


def test_a_framework_is_told_by_its_sides_with_what_opening_they_would_take() -> None:
    female = slot(width_mm=2.0, depth_mm=5.0)
    male = box((-1.0, -1.0, 0.0), (1.0, 1.0, 8.0))
    survey = survey_framework(female, male, FRAME, FrameworkAsked(5.0, make_path((0, 0, -1)), clearance_um=20.0))
    region = survey.regions[0]
    limit = math.degrees(math.atan2(0.02, 5.0))
    assert region.lateral_deg == pytest.approx(2 * limit, rel=0.05)
    assert region.antero_posterior_deg == pytest.approx(2 * limit, rel=0.05)
    assert {s.side for s in region.sides} == {"anterior", "posterior", "left", "right"}
    assert region.sides[0].opening_um_per_deg == pytest.approx(5000.0 * math.radians(1.0), rel=0.02)
    assert survey.seating is not None
    assert survey.seating.enters
    assert "survey-framework-narrow" in {f.id for f in survey.findings}
    beyond = survey_framework(female, male, FRAME, FrameworkAsked(5.0, make_path(-lean(2.0, 0.0)), clearance_um=20.0))
    assert "survey-framework-stops-short" in {f.id for f in beyond.findings}


def test_a_cone_has_no_undercut_up_to_its_half_angle() -> None:
    """A loose tapered die without a plan: undercut-free exactly where the tilt is at most its half angle."""
    window = find_loose_window(frustum(taper_deg=9.0, height_mm=5.0, n=60), 20.0)
    assert not window.is_empty
    assert window.how == "center"
    assert window.tilt.total_deg < 0.5
    region = window.regions[0]
    assert region.antero_posterior_deg == pytest.approx(18.0, abs=0.15)  # a 60-gon: 9 / cos(3 degrees) at the corners
    assert region.lateral_deg == pytest.approx(18.0, abs=0.15)


def test_a_surface_with_undercuts_everywhere_gets_the_path_that_shadows_least() -> None:
    cap = revolve([(9.0, 0.0), (1.0, 0.0), (1.0, 3.0), (3.0, 3.0), (3.0, 4.0), (0.01, 4.0)], 60)
    window = find_loose_window(cap, 15.0)
    assert window.is_empty
    assert window.how == "least shadow"
    assert "loose-window-empty" in {f.id for f in window.findings}


def test_a_loose_framework_is_seated_along_the_middle_of_its_window() -> None:
    female, male = slot(width_mm=2.0, depth_mm=5.0), box((-1.0, -1.0, 0.0), (1.0, 1.0, 8.0))
    window = find_loose_window(female, 4.0, framework=male, clearance_um=20.0)
    assert window.framework is not None
    assert window.framework.seating is not None
    assert window.framework.seating.enters
