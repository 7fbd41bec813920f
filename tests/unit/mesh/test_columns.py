import numpy as np
import pytest
from tests.shapes import ball, box, joined

from seatwright.errors import ValueOutOfRange
from seatwright.mesh import (
    Surface,
    build_columns,
    find_bodies,
    find_heights,
    join_vertices,
    measure_area_above_mm2,
    measure_face_areas_mm2,
    measure_reach,
    trace_level,
    turn_outwards,
)


def cross(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    return one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]


def heights_naively(surface: Surface, plan: np.ndarray) -> np.ndarray:
    """Highest face over each plan point, by barycentric weights of every face."""
    a, b, c = (surface.vertices_mm[surface.faces[:, k]] for k in range(3))
    area = cross(b - a, c - a)
    tops = []
    for point in plan:
        with np.errstate(divide="ignore", invalid="ignore"):
            one = cross(b - [*point, 0], c - [*point, 0]) / area
            two = cross(c - [*point, 0], a - [*point, 0]) / area
            three = 1 - one - two
            z = one * a[:, 2] + two * b[:, 2] + three * c[:, 2]
        hit = (one >= 0) & (two >= 0) & (three >= 0)
        tops.append(z[hit].max() if hit.any() else -np.inf)
    return np.array(tops)


@pytest.mark.parametrize("seed", range(3))
def test_column_heights_fast_agree_with_naive(seed: int) -> None:
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-5, 5, (200, 1, 3)) + rng.normal(0, 1, (200, 3, 3)) * rng.choice(
        [1e-6, 0.1, 3.0], (200, 1, 1)
    )
    surface = Surface(corners.reshape(-1, 3), np.arange(600).reshape(-1, 3))
    model = build_columns(surface, np.eye(4), pitch_mm=0.3)
    plan = rng.uniform(-7, 7, (400, 2))
    middle = -model.T_columns_surface[:3, 3]
    fast = find_heights(model, plan - middle[:2]) + middle[2]
    naive = heights_naively(surface, plan)
    assert np.isfinite(naive).any()
    assert np.isinf(naive).any()
    assert np.array_equal(np.isfinite(fast), np.isfinite(naive))
    seen = np.isfinite(naive)
    assert np.abs(fast[seen] - naive[seen]).max() < 1e-9


def test_exact_answers_need_bins() -> None:
    model = build_columns(ball(1.0, subdivisions=1), np.eye(4), pitch_mm=0.1, with_bins=False)
    with pytest.raises(ValueOutOfRange):
        find_heights(model, np.zeros((1, 2)))
    with pytest.raises(ValueOutOfRange):
        measure_reach(model, model.vertices_mm, model.normals, limit_mm=1.0, slack_mm=0.0)


def test_joined_vertices_stand_in_the_order_of_first_appearance() -> None:
    corners = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]])
    joined_surface, became = join_vertices(Surface(corners, np.arange(6).reshape(2, 3)))
    assert became.tolist() == [0, 1, 2, 1, 3, 2]
    assert joined_surface.vertices_mm.tolist() == corners[[0, 1, 2, 4]].tolist()


def test_inside_out_body_is_found_and_turned_but_a_hollow_is_not() -> None:
    outer, inner = box((4, 4, 4), edge=9.0), box((1, 1, 1), edge=9.0)
    hollow = Surface(inner.vertices_mm, inner.faces[:, ::-1])
    block = joined(outer, hollow)
    assert not find_bodies(block).is_inside_out.any()
    alone = find_bodies(hollow)
    assert alone.is_closed.tolist() == alone.is_inside_out.tolist() == [True]
    assert np.array_equal(turn_outwards(hollow, alone).faces, inner.faces)


def test_faces_turned_against_each_other_are_counted() -> None:
    cube = box((1, 1, 1), edge=9.0)
    faces = cube.faces.copy()
    faces[0] = faces[0][::-1]
    assert find_bodies(Surface(cube.vertices_mm, faces)).n_faults == 3
    assert find_bodies(cube).n_faults == 0


def test_level_line_on_a_ball_is_one_ring_of_the_right_length() -> None:
    surface = ball(3.0, subdivisions=5)
    lines = trace_level(surface, surface.vertices_mm[:, 2], 1.0)
    assert [line.is_closed for line in lines] == [True]
    assert lines[0].length_mm == pytest.approx(2 * np.pi * np.sqrt(8), rel=1e-3)


def test_area_above_a_level_on_a_ball_is_the_cap_s() -> None:
    surface = ball(3.0, subdivisions=5)
    areas = measure_face_areas_mm2(surface)
    measured = measure_area_above_mm2(surface, surface.vertices_mm[:, 2], 1.0, areas_mm2=areas)
    assert measured == pytest.approx(2 * np.pi * 3 * 2, rel=2e-3)  # Archimedes: 2 pi r h
