"""The extraction of a surface from a field, against closed forms and on fields made to be difficult."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from tests.unit.demo.surface_checks import area_mm2, edge_uses, n_equally_directed_edges, volume_mm3

from seatwright.demo._contour import connect_sheets, find_rim, split_quads
from seatwright.demo._surface import Grid, extract_surface, measure_vertex_normals


def grid(n: int, spacing_mm: float, low_mm: float) -> Grid:
    transform = np.eye(4)
    transform[:3, 3] = low_mm
    return Grid((n, n, n), spacing_mm, transform)


def torus(points: np.ndarray) -> np.ndarray:
    ring = np.hypot(points[:, 0], points[:, 1]) - 2.0
    return np.hypot(ring, points[:, 2]) - 0.8


def test_torus_has_closed_form_area_volume_and_one_hole() -> None:
    vertices, faces = extract_surface(torus, grid(66, 0.1, -3.2))
    # closed form: area 4 pi^2 R r, volume 2 pi^2 R r^2; facets of size h lose about (h / r)^2 / 8 of it
    loss = (0.1 / 0.8) ** 2 / 4
    assert area_mm2(vertices, faces) == pytest.approx(4 * np.pi**2 * 2.0 * 0.8, rel=loss)
    assert volume_mm3(vertices, faces) == pytest.approx(2 * np.pi**2 * 2.0 * 0.8**2, rel=loss)
    assert len(vertices) - len(edge_uses(faces)) + len(faces) == 0
    assert (edge_uses(faces) == 2).all()
    assert np.abs(torus(vertices)).max() < 1e-5


def test_vertex_normals_point_away_from_the_body() -> None:
    vertices, faces = extract_surface(torus, grid(66, 0.1, -3.2))
    ring = vertices * np.array([1, 1, 0])
    center = 2.0 * ring / np.linalg.norm(ring, axis=1)[:, None]
    outward = (vertices - center) / 0.8
    assert np.einsum("ij,ij->i", measure_vertex_normals(vertices, faces), outward).min() > 0.99


def test_body_cut_by_the_grid_is_open_there_only() -> None:
    def rod(points: np.ndarray) -> np.ndarray:
        return np.hypot(points[:, 0], points[:, 1]) - 0.7

    vertices, faces = extract_surface(rod, grid(21, 0.1, -1.0))
    rim = vertices[find_rim(faces)]
    assert len(rim) > 20
    assert (np.abs(np.abs(rim[:, 2]) - 0.95) < 0.051).all()


@pytest.mark.parametrize("seed", range(6))
def test_no_edge_has_more_than_two_faces_on_tangled_fields(seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = np.ones((26, 26, 26), dtype=np.float32)
    values[2:-2, 2:-2, 2:-2] = gaussian_filter(rng.standard_normal((22, 22, 22)), 0.8)
    vertices, quads = connect_sheets(values)
    faces = split_quads(vertices, quads)
    assert (edge_uses(faces) == 2).all()
    assert n_equally_directed_edges(faces) == 0
    assert volume_mm3(vertices, faces) > 0


def test_two_bodies_that_touch_in_one_cell_stay_apart_or_join_but_never_share_an_edge() -> None:
    values = np.full((6, 6, 6), 1.0, dtype=np.float32)
    values[2, 2, 2] = values[3, 3, 2] = -1.0
    vertices, quads = connect_sheets(values)
    assert (edge_uses(split_quads(vertices, quads)) == 2).all()
