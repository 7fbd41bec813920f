"""Straight withdrawal: against closed forms, a plain search over all pairs, and a triangle-exact collision library."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.survey.shapes import box, frustum, join, lean, slot, soup

from seatwright.errors import ValueOutOfRange
from seatwright.mesh import (
    Surface,
    find_block,
    find_block_naively,
    map_blocks,
    measure_volume_mm3,
    move_surface,
    offset_surface,
    prepare_withdrawal,
)

X, Y, Z = np.eye(3)


def test_a_male_in_its_slot_leaves_up_to_the_closed_form_and_not_beyond() -> None:
    female, male = slot(width_mm=2.0, depth_mm=5.0), box((-0.98, -0.98, 0.0), (0.98, 0.98, 8.0))
    pair = prepare_withdrawal(female, male)
    limit = math.degrees(math.atan2(0.02, 5.0))
    for towards in (0.0, 90.0, 180.0, 270.0):
        assert find_block(pair, lean(limit - 0.001, towards)) is None
        assert find_block(pair, lean(limit + 0.001, towards)) is not None


def test_a_cap_leaves_its_die_up_to_taper_and_gap() -> None:
    die, cap = frustum(taper_deg=6.0, height_mm=6.0, n=360), frustum(taper_deg=6.0, height_mm=6.0, n=300, gap_mm=0.03)
    pair = prepare_withdrawal(die, cap)
    assert find_block(pair, lean(6.27, 33.0)) is None
    assert find_block(pair, lean(6.30, 33.0)) is not None


def test_a_block_tells_where_and_after_what_travel() -> None:
    shelf, plate = box((0.0, 0.0, 5.0), (2.0, 2.0, 6.0)), box((1.0, 1.0, 0.0), (4.0, 4.0, 1.0))
    block = find_block(prepare_withdrawal(shelf, plate), Z)
    assert block is not None
    worst = max(map_blocks(prepare_withdrawal(shelf, plate), Z), key=lambda b: b.height_mm)
    assert worst.height_mm == pytest.approx(6.0)  # top of the shelf over the foot of the plate
    assert 1.0 <= worst.at_mm[0] <= 2.0
    assert find_block(prepare_withdrawal(shelf, plate), -Z) is None


def test_edges_that_cross_without_a_vertex_over_a_face_are_seen() -> None:
    one, other = box((-5.0, -0.1, 3.0), (5.0, 0.1, 3.2)), box((-0.1, -5.0, 0.0), (0.1, 5.0, 0.2))
    assert find_block(prepare_withdrawal(one, other), Z) is not None


def test_touching_walls_are_free_and_nominal_interference_is_not() -> None:
    female = slot(width_mm=2.0, depth_mm=5.0)
    assert find_block(prepare_withdrawal(female, box((-1.0, -1.0, 0.0), (1.0, 1.0, 8.0))), Z) is None
    assert find_block(prepare_withdrawal(female, box((-1.001, -1.0, 0.0), (1.0, 1.0, 8.0))), Z) is not None


def test_a_direction_without_length_is_refused() -> None:
    pair = prepare_withdrawal(box((0, 0, 0), (1, 1, 1)), box((0, 0, 2), (1, 1, 3)))
    with pytest.raises(ValueOutOfRange):
        find_block(pair, np.zeros(3))


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.floats(0.0, 40.0), st.floats(0.0, 360.0))
def test_the_tree_says_what_every_pair_tried_says(seed: int, tilt: float, towards: float) -> None:
    rng = np.random.default_rng(seed)
    fixed, moving = soup(rng, 30), soup(rng, 30)
    direction = lean(tilt, towards)
    naive = find_block_naively(fixed, moving, direction)
    heights = [b.height_mm for b in map_blocks(prepare_withdrawal(fixed, moving), direction)]
    assert max(heights, default=-math.inf) == pytest.approx(naive)


@settings(max_examples=20)
@given(st.integers(0, 10_000))
def test_what_blocks_stays_when_parts_are_added_and_the_pair_is_moved(seed: int) -> None:
    rng = np.random.default_rng(seed)
    fixed, moving, more = soup(rng, 20), soup(rng, 20), soup(rng, 10)
    direction = lean(rng.uniform(0, 20), rng.uniform(0, 360))
    worst = find_block_naively(fixed, moving, direction)
    assert find_block_naively(join(fixed, more), moving, direction) >= worst
    rotation, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    rotation *= np.sign(np.linalg.det(rotation))
    motion = np.eye(4)
    motion[:3, :3], motion[:3, 3] = rotation, rng.normal(size=3)
    turned = find_block_naively(move_surface(fixed, motion), move_surface(moving, motion), rotation @ direction)
    assert turned == pytest.approx(worst, rel=1e-6, abs=1e-6)


def test_the_stop_is_where_a_collision_library_first_sees_contact() -> None:
    fcl = pytest.importorskip("fcl")
    rng = np.random.default_rng(5)
    for _ in range(12):
        fixed, moving = soup(rng, 40), soup(rng, 40)
        direction = lean(rng.uniform(0, 20), rng.uniform(0, 360))
        heights = [b.height_mm for b in map_blocks(prepare_withdrawal(fixed, moving), direction)]
        if not heights:
            continue

        def collides(travel: float, pair=(fixed, moving), way=direction) -> bool:
            objects = []
            for surface, shift in zip(pair, (np.zeros(3), travel * way), strict=True):
                model = fcl.BVHModel()
                model.beginModel(surface.n_vertices, surface.n_faces)
                model.addSubModel(surface.vertices_mm, surface.faces)
                model.endModel()
                objects.append(fcl.CollisionObject(model, fcl.Transform(np.eye(3), shift)))
            return bool(fcl.collide(objects[0], objects[1], fcl.CollisionRequest(), fcl.CollisionResult()))

        stop = max(heights)
        assert not collides(stop + 1e-4)
        assert collides(stop - 1e-4)


@pytest.mark.parametrize("distance_mm", [0.05, -0.05])
def test_an_offset_keeps_the_edges_of_a_box_sharp(distance_mm: float) -> None:
    cube = box((-1.0, -1.0, -1.0), (1.0, 1.0, 1.0))
    assert measure_volume_mm3(offset_surface(cube, distance_mm)) == pytest.approx((2.0 + 2 * distance_mm) ** 3)


def test_an_offset_of_a_fine_cone_moves_its_wall_by_the_distance() -> None:
    moved = offset_surface(frustum(taper_deg=6.0, height_mm=6.0, n=360), 0.03)
    wanted = frustum(taper_deg=6.0, height_mm=6.0, n=360, gap_mm=0.03)
    wall = slice(360, 720)  # rings between the foot and the top
    radius = [
        np.linalg.norm(s.vertices_mm[wall, :2], axis=1) + s.vertices_mm[wall, 2] * math.tan(math.radians(6))
        for s in (moved, wanted)
    ]
    assert np.allclose(radius[0], radius[1], atol=2e-4)


def test_surfaces_of_the_tests_are_not_empty() -> None:
    assert isinstance(soup(np.random.default_rng(0), 5), Surface)
