"""Windows of rigid parts of any shape: not star-shaped, with holes, in pieces; against closed forms and plan polygons.

A flat part at height 0 under flat plates at height H leaves along d exactly when no plate, widened by the part, lies
around the foot of d at H: in the plane that touches the sphere, the window is the opening of the plates less the part,
divided by H. General surfaces: the search less the union of all differences of two triangles, seen from the origin.
"""

import math

import numpy as np
import pytest
import shapely
from shapely import Polygon
from tests.unit.survey.shapes import box, join

from seatwright.arch import OcclusalFrame
from seatwright.errors import ValueOutOfRange
from seatwright.mesh import Surface, prepare_withdrawal
from seatwright.survey import find_part_window, make_path
from seatwright.survey._framework import FrameworkAsked, survey_framework
from seatwright.survey._plane import find_deepest, measure_solid_angle_sr, to_plane

X, Y, Z = np.eye(3)
FRAME = OcclusalFrame(Z, Y, X)
HIGH = 10.0
EDGE_DEG = 0.08  # edges are promised to 0.05 degree, sharp corners to twice their tolerance of 0.04


def sheet(x: tuple[float, float], y: tuple[float, float], z: float = HIGH) -> Surface:
    """A flat rectangle of two triangles."""
    corners = [(x[0], y[0], z), (x[1], y[0], z), (x[1], y[1], z), (x[0], y[1], z)]
    return Surface(np.array(corners, dtype=float), np.array([[0, 1, 2], [0, 2, 3]]))


def around(half: float) -> tuple[Surface, ...]:
    """Four plates around a square opening."""
    far = 9.0
    return (
        sheet((-far, far), (half, far)),
        sheet((-far, far), (-far, -half)),
        sheet((half, far), (-half, half)),
        sheet((-far, -half), (-half, half)),
    )


PART = sheet((-0.1, 0.1), (-0.1, 0.1), 0.0)


def in_plan(polygon: Polygon) -> Polygon:
    """From x, y on the plate to the plane of directions: first to the back (y), second to the left (x), over H."""
    return shapely.transform(polygon, lambda at: at[:, ::-1] / HIGH)


def drawn(cast: Surface, part: Surface, max_tilt_deg: float) -> list[Polygon]:
    window = find_part_window(prepare_withdrawal(cast, part), FRAME, max_tilt_deg)
    return [Polygon(to_plane(r.outline, FRAME), [to_plane(h, FRAME) for h in r.holes]) for r in window.regions]


def farthest_edge_deg(one: shapely.Geometry, other: shapely.Geometry) -> float:
    return math.degrees(shapely.hausdorff_distance(one.boundary, other.boundary, densify=0.02))


def test_a_window_shaped_like_a_u_has_its_edge_area_and_depth() -> None:
    cast = join(*around(2.0), sheet((-1.0, 1.0), (-0.5, 2.0)))
    window = find_part_window(prepare_withdrawal(cast, PART), FRAME, 20.0)
    assert len(window.regions) == 1
    region = window.regions[0]
    truth = in_plan(shapely.box(-1.9, -1.9, 1.9, 1.9) - shapely.box(-1.1, -0.6, 1.1, 1.9))
    assert farthest_edge_deg(region.area, truth) <= EDGE_DEG
    assert region.area.area == pytest.approx(truth.area, rel=0.02)
    solid = measure_solid_angle_sr(truth, FRAME) * math.degrees(1.0) ** 2
    assert region.solid_angle_deg2 == pytest.approx(solid, rel=0.02)
    deep = (4.2 - math.sqrt(4.2**2 - 4 * 2.33)) / 2  # circle in the U's corner: two walls and the tongue's corner
    assert region.in_radius_deg == pytest.approx(math.degrees(math.atan(deep / HIGH)), rel=0.04)
    assert region.contains(np.array([0.15, 0.15, 1.0]), FRAME)
    assert region.contains(np.array([-0.15, 0.15, 1.0]), FRAME)
    assert not region.contains(np.array([0.0, 0.15, 1.0]), FRAME)


def test_what_is_blocked_in_the_middle_of_a_window_is_a_hole() -> None:
    (region,) = drawn(sheet((-0.5, 1.5), (-1.0, 1.0)), PART, 20.0)
    assert len(region.interiors) == 1
    hole = in_plan(shapely.box(-0.6, -1.1, 1.6, 1.1))
    assert farthest_edge_deg(Polygon(region.interiors[0]), hole) <= EDGE_DEG
    circle = math.degrees(math.atan(float(np.linalg.norm(shapely.get_coordinates(region.exterior), axis=1).max())))
    assert circle == pytest.approx(20.0, abs=1e-6)


def test_two_openings_are_two_regions_with_their_own_edges() -> None:
    cast = join(*around(2.0), sheet((-0.4, 0.9), (-2.0, 2.0)))
    found = drawn(cast, PART, 20.0)
    wanted = [in_plan(shapely.box(-1.9, -1.9, -0.5, 1.9)), in_plan(shapely.box(1.0, -1.9, 1.9, 1.9))]
    assert len(found) == 2
    for one, other in zip(found, wanted, strict=True):  # widest first
        assert farthest_edge_deg(one, other) <= EDGE_DEG


def test_a_slit_narrower_than_the_grid_is_drawn_from_its_seed() -> None:
    cast = join(sheet((-9.0, 0.35), (-9.0, 9.0)), sheet((0.65, 9.0), (-9.0, 9.0)))
    seed = np.array([0.05, 0.0, 1.0])
    window = find_part_window(prepare_withdrawal(cast, PART), FRAME, 20.0, seeds=[seed / np.linalg.norm(seed)])
    (region,) = window.regions
    slit = in_plan(shapely.box(0.45, -9.0, 0.55, 9.0)) & shapely.Point(0, 0).buffer(math.tan(math.radians(20)), 256)
    assert farthest_edge_deg(region.area, slit) <= EDGE_DEG
    half = 0.5 * (math.atan(0.055) - math.atan(0.045))
    assert region.in_radius_deg == pytest.approx(math.degrees(half), abs=0.02)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_window_is_the_search_less_every_difference_of_two_triangles(seed: int) -> None:
    rng = np.random.default_rng(seed)
    blocks = []
    for _ in range(4):
        low = rng.uniform((-4.0, -4.0, 5.0), (3.0, 3.0, 9.0))
        blocks.append(box(tuple(low), tuple(low + rng.uniform((0.5, 0.5, 0.3), (2.0, 2.0, 2.0)))))
    cast, part = join(*blocks), box((-0.3, -0.2, 0.0), (0.2, 0.4, 1.0))
    found = shapely.union_all(drawn(cast, part, 20.0))
    truth = _less_all_differences(cast, part, 20.0)
    assert shapely.area(found ^ truth) <= truth.boundary.length * math.radians(EDGE_DEG) / 2
    assert not found.is_empty


def _less_all_differences(fixed: Surface, moving: Surface, max_tilt_deg: float) -> Polygon:
    """Every pair here lies wholly above: the hull of the nine differences, seen from the origin."""
    seen = []
    for one in fixed.vertices_mm[fixed.faces]:
        for other in moving.vertices_mm[moving.faces]:
            d = (one[:, None] - other[None]).reshape(-1, 3)
            seen.append(shapely.MultiPoint(d[:, [1, 0]] / d[:, 2:]).convex_hull)
    search = shapely.Point(0, 0).buffer(math.tan(math.radians(max_tilt_deg)), quad_segs=256)
    return search - shapely.union_all(seen)


def test_extents_are_told_through_the_path_up_to_the_first_limit() -> None:
    cast = join(*around(2.0), sheet((-1.0, 1.0), (-0.5, 2.0)))
    path = make_path((-0.15, -0.1, -1.0))  # in the U's left arm
    survey = survey_framework(cast, PART, FRAME, FrameworkAsked(20.0, path))
    (region,) = survey.regions
    assert np.allclose(region.looked_from, path.withdraw_direction)
    leans = [math.degrees(math.atan(v / math.hypot(HIGH, 1.0))) for v in (1.1, 1.5, 1.9)]
    reach = {s.side: s.reach_deg for s in region.sides}
    assert reach["left"] == pytest.approx(leans[2] - leans[1], abs=0.05)
    assert reach["right"] == pytest.approx(leans[1] - leans[0], abs=0.05)
    assert len(region.outline_deg) >= 8


def test_a_square_between_great_circles_has_the_angle_to_them_as_its_depth() -> None:
    side = math.tan(math.radians(10.0))
    center, depth = find_deepest(shapely.box(-side, -side, side, side), FRAME)
    assert math.degrees(depth) == pytest.approx(10.0, abs=1e-5)
    assert np.allclose(center, Z, atol=1e-6)


def test_the_solid_angle_of_a_cap_is_that_of_the_closed_form_and_a_hole_is_taken_out() -> None:
    def cap(half_deg: float) -> Polygon:
        return shapely.Point(0, 0).buffer(math.tan(math.radians(half_deg)), quad_segs=500)

    def solid(half_deg: float) -> float:
        return 2 * math.pi * (1 - math.cos(math.radians(half_deg)))

    assert measure_solid_angle_sr(cap(15.0), FRAME) == pytest.approx(solid(15.0), rel=1e-5)
    ring = cap(15.0) - cap(5.0)
    assert measure_solid_angle_sr(ring, FRAME) == pytest.approx(solid(15.0) - solid(5.0), rel=1e-5)


def test_a_search_past_sixty_degrees_is_refused() -> None:
    with pytest.raises(ValueOutOfRange, match="60"):
        find_part_window(prepare_withdrawal(box((0, 0, 0), (1, 1, 1)), PART), FRAME, 60.0)
