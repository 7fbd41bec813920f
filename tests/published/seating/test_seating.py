"""Where a part stops and where it touches first, against a triangle-exact collision library and closed forms."""

import math
from typing import Any

import numpy as np
import pytest
from tests.unit.survey.shapes import box, frustum, join, lean, revolve, slot

from seatwright.mesh import Surface, prepare_withdrawal
from seatwright.survey import make_path, seat_part

fcl = pytest.importorskip("fcl")

TINY_MM = 1e-4


def ball(radius_mm: float, at: tuple[float, float, float]) -> Surface:
    polar = np.linspace(math.pi, 0.0, 48)
    skin = revolve([(radius_mm * math.sin(t), radius_mm * math.cos(t)) for t in polar], 72)
    return Surface(skin.vertices_mm + np.array(at), skin.faces)


def clasped() -> tuple[Surface, Surface]:
    """Two crowns as balls, and a bar with two arms that reach under them: it stops on the higher crown."""
    crowns = join(ball(4.0, (-12.0, 0.3, 0.0)), ball(4.0, (12.0, 0.0, 0.4)))
    arms = join(box((-15.9, -0.5, -2.5), (-15.0, 0.5, -1.9)), box((15.0, -0.5, -2.5), (15.9, 0.5, -1.9)))
    return crowns, join(box((-11.0, -6.5, -1.0), (11.0, -5.0, 1.0)), arms)


PAIRS: dict[str, tuple[Surface, Surface]] = {
    "a plate under a ledge": (box((0.0, -1.0, 0.0), (1.0, 1.0, 5.0)), box((0.5, -0.5, 2.0), (4.0, 0.5, 3.0))),
    "a tight cap on its die": (
        frustum(taper_deg=6.0, height_mm=6.0, n=96),
        frustum(taper_deg=6.0, height_mm=6.0, n=90, gap_mm=-0.04),
    ),
    "a male too wide for its slide": (slot(width_mm=2.0, depth_mm=5.0), box((-1.03, -0.9, 0.5), (1.01, 0.9, 8.0))),
    "a bar with arms under two crowns": clasped(),
    "a cap on a ball": (ball(4.0, (0.0, 0.0, 0.0)), frustum(taper_deg=2.0, height_mm=5.0, n=60, radius_mm=3.6)),
}


def model(surface: Surface) -> Any:
    bvh = fcl.BVHModel()
    bvh.beginModel(surface.n_vertices, surface.n_faces)
    bvh.addSubModel(surface.vertices_mm, surface.faces)
    bvh.endModel()
    return bvh


def contacts(cast: Any, part: Any, shift: np.ndarray) -> set[tuple[int, int]]:
    """Pairs of triangles that the library finds to meet with the part moved by a shift: of the cast, of the part."""
    still, moved = fcl.CollisionObject(cast), fcl.CollisionObject(part, fcl.Transform(np.eye(3), shift))
    found = fcl.CollisionResult()
    fcl.collide(still, moved, fcl.CollisionRequest(num_max_contacts=100_000, enable_contact=True), found)
    return {(c.b1, c.b2) for c in found.contacts}


@pytest.mark.parametrize("tilt", [0.0, 3.0, 11.0])
@pytest.mark.parametrize("name", PAIRS)
def test_a_part_stops_and_touches_where_the_library_first_sees_contact(name: str, tilt: float) -> None:
    cast, part = PAIRS[name]
    way = lean(tilt, 25.0)
    seating = seat_part(prepare_withdrawal(cast, part), make_path(-way))
    models = model(cast), model(part)
    stop = seating.stops_short_mm
    for travel in (*np.geomspace(TINY_MM, 1.0, 12), 2.0, 5.0, 12.0):
        assert not len(contacts(*models, (stop + travel) * way)), f"touches {travel} mm before the stop"
    assert not seating.enters
    assert contacts(*models, (stop - TINY_MM) * way)
    assert seating.first[0].from_seat_mm == stop
    for touch in seating.first:
        pair = (touch.cast_face, touch.part_face)
        if tilt > 0:  # level, flat faces pass through each other at once, and only their rims meet
            assert pair in contacts(*models, (touch.from_seat_mm - TINY_MM) * way)
        assert pair not in contacts(*models, (touch.from_seat_mm + TINY_MM) * way)
        assert _distance_to_triangle(np.array(touch.at_mm), cast, touch.cast_face) <= 1e-6


def _distance_to_triangle(point: np.ndarray, surface: Surface, face: int) -> float:
    """Distance of a point over a triangle to its plane; infinite beside it."""
    a, b, c = surface.vertices_mm[surface.faces[face]]
    normal = np.cross(b - a, c - a)
    inside = [np.cross(q - p, point - p) @ normal >= -1e-6 for p, q in ((a, b), (b, c), (c, a))]
    return abs(float((point - a) @ normal)) / float(np.linalg.norm(normal)) if all(inside) else math.inf


def test_a_cap_too_tight_by_a_gap_stops_that_gap_over_the_sine_of_its_taper_short() -> None:
    """Along its axis a cone's wall comes nearer by travel times sin(taper): 0.04 mm / sin 6 degrees = 0.383 mm."""
    cast, part = (
        frustum(taper_deg=6.0, height_mm=6.0, n=720),
        frustum(taper_deg=6.0, height_mm=6.0, n=720, gap_mm=-0.04),
    )
    seating = seat_part(prepare_withdrawal(cast, part), make_path((0.0, 0.0, -1.0)))
    assert seating.stops_short_mm == pytest.approx(0.04 / math.sin(math.radians(6.0)), rel=0.01)
