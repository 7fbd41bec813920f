"""Directions common to cones and half-spaces: against closed forms, sampling and a general half-space solver."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial import ConvexHull, HalfspaceIntersection

from seatwright.errors import ValueOutOfRange
from seatwright.survey._arcs import boundary_arcs
from seatwright.survey._cone import Cone, half_space, point_on_cone
from seatwright.survey._cones import intersect_cones, reach_towards

X, Y, Z = np.eye(3)


def draw_cones(seed: int, n: int) -> list[Cone]:
    rng = np.random.default_rng(seed)
    poles = Z + 0.3 * rng.normal(size=(n, 3))
    return [Cone(p / np.linalg.norm(p), a) for p, a in zip(poles, rng.uniform(0.2, 0.8, n), strict=True)]


def test_a_lone_cone_has_its_half_angle_and_the_area_of_a_cap() -> None:
    region = intersect_cones([Cone(Y, 0.3)])
    assert region.depth_rad == pytest.approx(0.3, abs=1e-9)
    assert region.area_sr == pytest.approx(2 * math.pi * (1 - math.cos(0.3)), rel=1e-9)
    assert np.allclose(region.center, Y, atol=1e-7)


def test_an_octant_has_an_eighth_of_the_sphere_and_its_in_radius() -> None:
    octant = [half_space(X), half_space(Y), half_space(Z), Cone(np.ones(3) / math.sqrt(3), 1.5)]
    region = intersect_cones(octant)
    assert region.area_sr == pytest.approx(math.pi / 2, rel=1e-9)
    assert math.sin(region.depth_rad) == pytest.approx(1 / math.sqrt(3), abs=1e-9)


def test_half_spaces_agree_with_a_general_solver_in_the_gnomonic_plane() -> None:
    rng = np.random.default_rng(4)
    for _ in range(20):
        normals = rng.normal(size=(12, 3)) * [1.0, 1.0, 0.0] + [0.0, 0.0, 0.3]
        cones = [*(half_space(n) for n in normals), Cone(Z, math.radians(89.0))]
        region = intersect_cones(cones)
        flat = np.column_stack([-normals[:, :2], -normals[:, 2]])  # a x + b y + c <= 0 in the plane z = 1
        size = np.linalg.norm(flat[:, :2], axis=1)
        inside = linprog(
            [0, 0, -1], A_ub=np.column_stack([flat[:, :2], size]), b_ub=-flat[:, 2], bounds=[(None, None)] * 3
        )
        polygon = HalfspaceIntersection(flat, inside.x[:2]).intersections
        corners = region.corners[:, :2] / region.corners[:, 2:]
        assert len(ConvexHull(polygon).vertices) == len(corners)
        assert ConvexHull(polygon).volume == pytest.approx(ConvexHull(corners).volume, rel=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_the_area_agrees_with_sampling_the_sphere(seed: int) -> None:
    cones = draw_cones(seed, 5)
    rng = np.random.default_rng(100 + seed)
    up = rng.uniform(0.3, 1.0, 400_000)
    turn = rng.uniform(0, 2 * math.pi, len(up))
    drawn = np.column_stack([np.sqrt(1 - up**2) * np.cos(turn), np.sqrt(1 - up**2) * np.sin(turn), up])
    inside = np.all([drawn @ c.pole >= math.cos(c.half_angle_rad) for c in cones], axis=0)
    expected = inside.mean() * 2 * math.pi * 0.7
    sd = 2 * math.pi * 0.7 * math.sqrt(inside.mean() * (1 - inside.mean()) / len(up))
    assert abs(intersect_cones(cones).area_sr - expected) <= 4 * sd + 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_no_direction_is_deeper_than_the_center(seed: int) -> None:
    cones = draw_cones(seed, 6)
    region = intersect_cones(cones)
    rng = np.random.default_rng(seed)
    near = region.center + 0.05 * rng.normal(size=(2000, 3))
    near /= np.linalg.norm(near, axis=1, keepdims=True)
    depth = np.min([c.half_angle_rad - np.arccos(np.clip(near @ c.pole, -1, 1)) for c in cones], axis=0)
    assert depth.max() <= region.depth_rad + 1e-9


def test_two_axes_apart_miss_each_other_by_half_of_what_they_lack() -> None:
    other = np.array([math.sin(0.05), 0.0, math.cos(0.05)])
    region = intersect_cones([Cone(Z, 0.01, "a"), Cone(other, 0.01, "b")])
    assert region.is_empty
    assert region.depth_rad == pytest.approx(-0.015, abs=1e-9)
    assert region.binding == (0, 1)


def test_cones_that_touch_leave_a_point() -> None:
    other = np.array([math.sin(0.04), 0.0, math.cos(0.04)])
    region = intersect_cones([Cone(Z, 0.02), Cone(other, 0.02)])
    assert not region.is_empty
    assert region.area_sr == 0.0
    assert region.depth_rad == pytest.approx(0.0, abs=1e-7)


def test_opposite_axes_are_empty_with_the_angle_missing() -> None:
    region = intersect_cones([Cone(Z, 0.1), Cone(-Z, 0.1)])
    assert region.is_empty
    assert region.depth_rad == pytest.approx(0.1 - math.pi / 2, abs=1e-7)


def test_two_opposed_half_spaces_leave_a_line() -> None:
    region = intersect_cones([half_space(X), half_space(-X), Cone(Z, 0.3)])
    assert not region.is_empty
    assert np.allclose(region.center, Z, atol=1e-6)


def test_half_spaces_alone_are_refused() -> None:
    with pytest.raises(ValueOutOfRange):
        intersect_cones([half_space(Z)])


@given(st.integers(0, 10_000), st.integers(2, 7))
def test_the_boundary_lies_on_its_cone_and_inside_the_others(seed: int, n: int) -> None:
    cones = draw_cones(seed, n)
    for arc in boundary_arcs(cones):
        for share in (0.0, 0.5, 1.0):
            point = point_on_cone(cones[arc.cone], arc.start_rad + share * (arc.end_rad - arc.start_rad))
            assert all(point @ c.pole >= math.cos(c.half_angle_rad) - 1e-9 for c in cones)


@given(st.integers(0, 10_000), st.integers(2, 7), st.floats(0.0, 0.3))
def test_regions_shrink_with_cones_added_and_grow_with_their_angle(seed: int, n: int, more: float) -> None:
    cones = draw_cones(seed, n)
    few, all_of_them = intersect_cones(cones[:-1]), intersect_cones(cones)
    wider = intersect_cones([Cone(c.pole, c.half_angle_rad + more) for c in cones])
    assert all_of_them.depth_rad <= few.depth_rad + 1e-9
    assert all_of_them.area_sr <= few.area_sr + 1e-9
    assert wider.depth_rad >= all_of_them.depth_rad + more - 1e-9


@given(st.integers(0, 10_000))
def test_a_ray_ends_on_the_first_cone_it_meets(seed: int) -> None:
    cones = draw_cones(seed, 4)
    region = intersect_cones(cones)
    if region.is_empty or region.depth_rad < 1e-3:
        return
    towards = np.random.default_rng(seed).normal(size=3)
    reach = reach_towards(cones, region.center, towards)
    ahead = towards - region.center * (towards @ region.center)
    ahead /= np.linalg.norm(ahead)
    for share, inside in ((1 - 1e-6, True), (1 + 1e-6, False)):
        angle = reach.angle_rad * share
        point = region.center * math.cos(angle) + ahead * math.sin(angle)
        assert all(point @ c.pole >= math.cos(c.half_angle_rad) - 1e-12 for c in cones) is inside
