"""Points drawn on faces: which, how many, and that they stand for the curved surface."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from seatwright.errors import ValueOutOfRange
from seatwright.mesh import Surface, draw_face_points, measure_area_mm2


def dome(n: int, radius: float, shift: float = 0.0) -> Surface:
    """A square patch of a flat paraboloid z = -(x^2 + y^2) / 2r, in right triangles."""
    step = 2.0 / n
    x, y = np.meshgrid(-1 + (np.arange(n + 1) + shift) * step, -1 + (np.arange(n + 1) + shift) * step, indexing="ij")
    vertices = np.stack([x.ravel(), y.ravel(), -(x.ravel() ** 2 + y.ravel() ** 2) / (2 * radius)], axis=1)
    at = np.arange((n + 1) ** 2, dtype=np.int32).reshape(n + 1, n + 1)
    a, b, c, d = (k.ravel() for k in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    return Surface(vertices, np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


def test_drawn_points_lie_below_the_curved_surface_as_the_faces_do_on_average() -> None:
    """On right triangles with legs h the face lies h^2 / 6r below the paraboloid on average (closed form)."""
    n, radius = 40, 5.0
    points, _ = draw_face_points(dome(n, radius), 1)
    below = -(points[:, 0] ** 2 + points[:, 1] ** 2) / (2 * radius) - points[:, 2]
    assert len(points) == 2 * n * n
    assert below.mean() == pytest.approx((2.0 / n) ** 2 / (6 * radius), rel=1e-3)


def test_area_vectors_add_up_to_the_surface() -> None:
    surface = dome(30, 4.0)
    _, areas = draw_face_points(surface, 1)
    assert np.linalg.norm(areas, axis=1).sum() == pytest.approx(measure_area_mm2(surface), rel=1e-12)
    assert (areas[:, 2] > 0).all()


def test_about_one_in_so_many_faces_is_drawn_and_stands_for_the_area() -> None:
    surface = dome(200, 4.0, shift=0.3)
    points, areas = draw_face_points(surface, 10)
    expected = surface.n_faces / 10
    assert abs(len(points) - expected) < 4 * np.sqrt(expected)
    share = 10 * np.linalg.norm(areas, axis=1).sum() / measure_area_mm2(surface)
    assert share == pytest.approx(1.0, abs=4 / np.sqrt(expected))
    # no stripes: every tenth of the patch has its part of the points
    counts, _ = np.histogram(points[:, 0], bins=10, range=(-1, 1))
    assert (np.abs(counts - expected / 10) < 5 * np.sqrt(expected / 10)).all()


def test_order_of_vertices_and_faces_and_corners_does_not_matter() -> None:
    surface = dome(20, 4.0, shift=0.1)
    rng = np.random.default_rng(1)
    order, number = rng.permutation(surface.n_vertices), np.empty(surface.n_vertices, dtype=np.int32)
    number[order] = np.arange(surface.n_vertices)
    faces = np.roll(number[surface.faces][rng.permutation(surface.n_faces)], 1, axis=1)
    one, _ = draw_face_points(surface, 3)
    two, _ = draw_face_points(Surface(surface.vertices_mm[order], faces), 3)
    assert len(one) == len(two)
    assert cKDTree(one).query(two)[0].max() < 1e-12


def test_one_in_none_is_refused() -> None:
    with pytest.raises(ValueOutOfRange):
        draw_face_points(dome(2, 4.0), 0)
