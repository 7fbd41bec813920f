from collections import Counter

import numpy as np
import pytest

from seatwright.errors import CannotCompute, MeshError, ValueOutOfRange
from seatwright.mesh import (
    Surface,
    choose_vertices,
    choose_voxel_points,
    find_border_edges,
    find_components,
    find_rim_faces,
    is_closed,
    keep_faces,
    measure_area_mm2,
    measure_centroid_mm,
    measure_face_normals,
    measure_vertex_normals,
    measure_volume_mm3,
    merge_vertices,
    move_surface,
)
from seatwright.quantities import make_transform

CUBE_VERTICES = np.array([[x, y, z] for x in (0.0, 2.0) for y in (0.0, 3.0) for z in (0.0, 5.0)])
CUBE_FACES = np.array(
    [
        [0, 1, 3],
        [0, 3, 2],
        [4, 6, 7],
        [4, 7, 5],
        [0, 4, 5],
        [0, 5, 1],
        [2, 3, 7],
        [2, 7, 6],
        [0, 2, 6],
        [0, 6, 4],
        [1, 5, 7],
        [1, 7, 3],
    ]
)


def box() -> Surface:
    return Surface(CUBE_VERTICES, CUBE_FACES)


@pytest.mark.parametrize(
    ("vertices", "faces", "says"),
    [
        (np.zeros((0, 3)), np.array([[0, 1, 2]]), "vertices"),
        (CUBE_VERTICES, np.zeros((0, 3), dtype=int), "triangles"),
        (np.where(CUBE_VERTICES == 5, np.nan, CUBE_VERTICES), CUBE_FACES, "finite"),
        (CUBE_VERTICES, np.array([[0, 1, 8]]), "vertex 8"),
        (CUBE_VERTICES, np.array([[0, -1, 2]]), "vertex -1"),
        (CUBE_VERTICES, np.array([[0, 0, 1]]), "area"),
        (CUBE_VERTICES, np.array([[0.0, 1.0, 2.0]]), "whole numbers"),
        (CUBE_VERTICES[:, :2], CUBE_FACES, "vertices"),
    ],
)
def test_surface_that_is_not_valid_is_refused(vertices: np.ndarray, faces: np.ndarray, says: str) -> None:
    with pytest.raises(MeshError, match=says):
        Surface(vertices, faces)


def test_degenerate_faces_are_counted_and_kept() -> None:
    surface = Surface(CUBE_VERTICES, np.vstack([CUBE_FACES, [[0, 0, 1], [3, 3, 3]]]))
    assert surface.n_degenerate_faces == 2
    assert surface.n_faces == 14


def test_surface_does_not_follow_later_changes_of_the_given_arrays() -> None:
    vertices = CUBE_VERTICES.copy()
    surface = Surface(vertices, CUBE_FACES)
    vertices[0] = 99.0
    assert surface.vertices_mm[0].tolist() == [0, 0, 0]
    with pytest.raises(ValueError, match="read-only"):
        surface.vertices_mm[0] = 1.0


def test_box_normals_look_outwards() -> None:
    surface = box()
    middles = surface.vertices_mm[surface.faces].mean(axis=1)
    outwards = middles - measure_centroid_mm(surface)
    assert (np.einsum("ij,ij->i", outwards, measure_face_normals(surface)) > 0).all()
    # the angles around each corner of a box are equal for its three sides, whatever the diagonals
    assert np.allclose(np.abs(measure_vertex_normals(surface)), 1 / np.sqrt(3))


def test_open_surface_has_no_volume_but_a_border() -> None:
    opened = keep_faces(box(), np.arange(10))
    assert not is_closed(opened)
    assert len(find_border_edges(opened)) == 4
    assert find_rim_faces(opened).sum() == 4
    with pytest.raises(CannotCompute, match="open"):
        measure_volume_mm3(opened)


def test_closed_surface_has_no_border_and_no_rim() -> None:
    assert is_closed(box())
    assert not find_rim_faces(box()).any()


def test_pieces_are_numbered_by_size() -> None:
    surface = box()
    two = Surface(
        np.vstack([CUBE_VERTICES, CUBE_VERTICES + 10]),
        np.vstack([keep_faces(surface, np.arange(2)).faces, CUBE_FACES + 8]),
    )
    pieces = find_components(two)
    assert pieces.tolist() == [1, 1] + [0] * 12


def test_chosen_faces_that_have_no_area_have_no_centroid() -> None:
    surface = Surface(CUBE_VERTICES, np.vstack([CUBE_FACES, [[0, 0, 1]]]))
    with pytest.raises(CannotCompute):
        measure_centroid_mm(surface, np.array([12]))


def test_soup_is_joined_again_and_keeps_the_order_of_first_use() -> None:
    surface = box()
    soup = Surface(surface.vertices_mm[surface.faces].reshape(-1, 3), np.arange(36).reshape(-1, 3))
    joined = merge_vertices(soup)
    assert joined.n_vertices == 8
    assert is_closed(joined)
    assert np.array_equal(joined.vertices_mm[joined.faces], surface.vertices_mm[surface.faces])
    assert np.array_equal(joined.vertices_mm[0], soup.vertices_mm[0])


def test_negative_zero_joins_with_zero() -> None:
    vertices = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [-0.0, 0, 0], [0, -1, 0], [1, -0.0, 0]])
    assert merge_vertices(Surface(vertices, np.array([[0, 1, 2], [3, 4, 5]]))).n_vertices == 4


def test_moved_box_keeps_area_and_volume() -> None:
    moved = move_surface(box(), make_transform(np.array([0.3, -1.2, 2.0]), np.array([10.0, -20.0, 5.0])))
    assert measure_area_mm2(moved) == pytest.approx(2 * (6 + 10 + 15), rel=1e-12)
    assert measure_volume_mm3(moved) == pytest.approx(30.0, rel=1e-12)


def test_vertices_are_chosen_once_each_and_reproducibly() -> None:
    chosen = choose_vertices(box(), 5, np.random.default_rng(4))
    assert len(set(chosen.tolist())) == 5
    assert np.array_equal(chosen, choose_vertices(box(), 5, np.random.default_rng(4)))
    assert len(choose_vertices(box(), 99, np.random.default_rng(4))) == 8
    with pytest.raises(ValueOutOfRange):
        choose_vertices(box(), 0, np.random.default_rng(4))


def test_voxel_choice_does_not_depend_on_order() -> None:
    rng = np.random.default_rng(8)
    points = rng.uniform(0, 10, (500, 3))
    order = rng.permutation(500)
    first = points[choose_voxel_points(points, 2.0)]
    second = points[order][choose_voxel_points(points[order], 2.0)]
    assert {tuple(p) for p in first} == {tuple(p) for p in second}
    with pytest.raises(ValueOutOfRange):
        choose_voxel_points(points, 0.0)


def test_rim_faces_are_those_that_counting_edges_names() -> None:
    rng = np.random.default_rng(4)
    faces = rng.integers(0, 11, (40, 3))
    faces = faces[(faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])]
    surface = Surface(rng.normal(size=(11, 3)), faces)
    edges = [[frozenset((int(f[k]), int(f[(k + 1) % 3]))) for k in range(3)] for f in faces]
    count = Counter(edge for three in edges for edge in three)
    expected = [any(count[edge] == 1 for edge in three) for three in edges]
    assert 0 < sum(expected) < len(faces)
    assert find_rim_faces(surface).tolist() == expected
