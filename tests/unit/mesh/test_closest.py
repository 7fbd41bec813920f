import numpy as np
import pytest
import trimesh

from seatwright.errors import ValueOutOfRange
from seatwright.mesh import (
    Surface,
    find_closest,
    find_closest_naively,
    index_surface,
    keep_faces,
    measure_signed_distance,
)


def ball(radius: float = 5.0, subdivisions: int = 3) -> Surface:
    made = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius)
    return Surface(np.array(made.vertices), np.array(made.faces))


def crumpled(seed: int, n: int = 300) -> Surface:
    """A tangle of triangles of all shapes: slivers, points, long ones."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-5, 5, (n, 1, 3)) + rng.normal(0, 1, (n, 3, 3)) * rng.choice([1e-6, 0.1, 3.0], (n, 1, 1))
    corners[:20, 2] = corners[:20, 1]
    corners[20:40, 2] = 2 * corners[20:40, 1] - corners[20:40, 0]
    return Surface(corners.reshape(-1, 3), np.arange(3 * n).reshape(-1, 3))


@pytest.mark.parametrize("seed", range(4))
def test_closest_point_fast_agrees_with_naive(seed: int) -> None:
    surface = crumpled(seed)
    points = np.random.default_rng(100 + seed).uniform(-8, 8, (200, 3))
    fast = find_closest(index_surface(surface), points)
    distance, feet = find_closest_naively(surface, points)
    assert np.abs(fast.distance_mm - distance).max() < 1e-12
    assert np.abs(np.linalg.norm(fast.points_mm - points, axis=1) - distance).max() < 1e-9
    assert np.abs(np.linalg.norm(feet - points, axis=1) - distance).max() < 1e-9


def test_foot_on_a_triangle_agrees_with_a_dense_search() -> None:
    """Independent of the formula: no point of a fine lattice on the triangle is nearer, and one is nearly as near."""
    rng = np.random.default_rng(5)
    k = 400
    i, j = np.meshgrid(np.arange(k + 1), np.arange(k + 1), indexing="ij")
    v, w = (a[i + j <= k] / k for a in (i, j))
    for _ in range(60):
        corners = rng.normal(0, 2, (3, 3))
        point = rng.normal(0, 4, 3)
        lattice = corners[0] + np.outer(v, corners[1] - corners[0]) + np.outer(w, corners[2] - corners[0])
        nearest = np.linalg.norm(lattice - point, axis=1).min()
        surface = Surface(corners, np.array([[0, 1, 2]]))
        found = find_closest(index_surface(surface), point[None]).distance_mm[0]
        step = max(np.linalg.norm(corners[1] - corners[0]), np.linalg.norm(corners[2] - corners[0])) / k
        assert found <= nearest + 1e-12
        assert nearest <= found + 2 * step


def test_distance_to_a_ball_is_radius_difference() -> None:
    """Closed form: chords of an icosphere of 3 subdivisions lie at most 1 - cos(half edge angle) below the radius."""
    points = np.random.default_rng(2).normal(size=(500, 3))
    points *= (np.random.default_rng(3).uniform(3, 9, 500) / np.linalg.norm(points, axis=1))[:, None]
    signed, is_defined = measure_signed_distance(index_surface(ball()), points, limit_mm=10.0)
    assert is_defined.all()
    error = signed - (np.linalg.norm(points, axis=1) - 5.0)
    assert error.min() > -1e-9
    assert error.max() < 5.0 * (1 - np.cos(np.radians(72) / 2**3 / np.sqrt(3) * 1.05))


def test_beyond_the_limit_nothing_is_found() -> None:
    answer = find_closest(index_surface(ball()), np.array([[0.0, 0, 9.0], [0, 0, 5.5]]), limit_mm=1.0)
    assert answer.is_found.tolist() == [False, True]
    assert answer.face_ids[0] == -1
    assert answer.distance_mm[0] == 1.0
    assert answer.points_mm[0].tolist() == [0, 0, 9]


def test_side_is_not_told_at_the_rim_of_an_open_surface() -> None:
    whole = ball()
    top = keep_faces(whole, whole.vertices_mm[whole.faces].mean(axis=1)[:, 2] > 0)
    signed, is_defined = measure_signed_distance(
        index_surface(top), np.array([[0, 0, 5.2], [5.5, 0, -1.0]]), limit_mm=3.0
    )
    assert is_defined.tolist() == [True, False]
    assert signed[1] == 0.0
    assert signed[0] > 0.19


def test_points_that_are_not_finite_are_refused() -> None:
    with pytest.raises(ValueOutOfRange):
        find_closest(index_surface(ball()), np.array([[np.nan, 0, 0]]))
    with pytest.raises(ValueOutOfRange):
        find_closest(index_surface(ball()), np.zeros((1, 3)), limit_mm=0.0)


def test_single_triangle_makes_a_tree() -> None:
    surface = Surface(np.eye(3), np.array([[0, 1, 2]]))
    assert find_closest(index_surface(surface), np.zeros((1, 3))).distance_mm[0] == pytest.approx(1 / np.sqrt(3))


def test_equal_middles_do_not_hang_the_tree() -> None:
    corners = np.tile(np.eye(3), (200, 1))
    surface = Surface(corners, np.arange(600).reshape(-1, 3))
    assert find_closest(index_surface(surface), np.zeros((1, 3))).distance_mm[0] == pytest.approx(1 / np.sqrt(3))
