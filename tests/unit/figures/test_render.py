"""The z-buffer against closed forms, and the picture made of it."""

import math
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from seatwright.errors import ValueOutOfRange
from seatwright.figures import Paint, View, render_surface
from seatwright.figures._render import project_depth, round_limit
from seatwright.mesh import Surface

TOP = View(np.array([1.0, 0, 0]), np.array([0, 1.0, 0]))
RADIUS_MM = 7.0


def make_sphere(n: int = 180) -> Surface:
    """Return a sphere of latitude and longitude facets; its chords stay within r (1 - cos(pi / n))."""
    polar, azimuth = np.meshgrid(np.linspace(0, math.pi, n), np.linspace(0, 2 * math.pi, 2 * n), indexing="ij")
    vertices = RADIUS_MM * np.column_stack(
        [(np.sin(polar) * np.cos(azimuth)).ravel(), (np.sin(polar) * np.sin(azimuth)).ravel(), np.cos(polar).ravel()]
    )
    i, j = (g.ravel() for g in np.meshgrid(np.arange(n - 1), np.arange(2 * n - 1), indexing="ij"))
    a = i * 2 * n + j
    b, c, d = a + 1, a + 2 * n, a + 2 * n + 1
    return Surface(vertices, np.concatenate([np.column_stack([a, c, d]), np.column_stack([a, d, b])]).astype(np.int32))


def square(z_mm: float, half_mm: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Return vertices and faces of a square that looks up."""
    h = half_mm
    return np.array([[-h, -h, z_mm], [h, -h, z_mm], [h, h, z_mm], [-h, h, z_mm]]), np.array([[0, 1, 2], [0, 2, 3]])


def test_silhouette_of_a_sphere_covers_pi_r_squared() -> None:
    # Closed form; a pixel counts by its center, so the error is a small part of the rim (circle problem: well below
    # one rim pixel in ten), plus the facets' sagitta.
    _, face, _, px_per_mm = project_depth(make_sphere(), TOP, (600, 500))
    area_mm2 = (face >= 0).sum() / px_per_mm**2
    rim_mm2 = 2 * math.pi * RADIUS_MM / px_per_mm
    assert abs(area_mm2 - math.pi * RADIUS_MM**2) < 0.1 * rim_mm2 + math.pi * RADIUS_MM**2 * (math.pi / 180) ** 2


def test_depth_of_a_sphere_is_its_height() -> None:
    depth, face, _, px_per_mm = project_depth(make_sphere(), TOP, (600, 500))
    row, column = np.nonzero(face >= 0)
    x, y = (column + 0.5 - 300) / px_per_mm, (250 - row - 0.5) / px_per_mm
    r2 = x**2 + y**2
    inner = r2 < (0.9 * RADIUS_MM) ** 2
    height = np.sqrt(RADIUS_MM**2 - r2[inner])
    # Facet sagitta r (1 - cos(step/2)), divided by the cosine of the slope at 0.9 r.
    sagitta = RADIUS_MM * (1 - math.cos(math.pi / 180)) / math.sqrt(1 - 0.81)
    assert inner.sum() > 100_000
    assert np.abs(depth[row, column][inner] - height).max() < 2 * sagitta


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_the_nearer_surface_hides_the_other_in_either_order(order: tuple[int, int]) -> None:
    sheets = [square(0.0), square(2.0, half_mm=0.5)]
    vertices = np.concatenate([sheets[k][0] for k in order])
    faces = np.concatenate([sheets[order[0]][1], sheets[order[1]][1] + 4]).astype(np.int32)
    depth, _, _, _ = project_depth(Surface(vertices, faces), TOP, (100, 100))
    assert depth[50, 50] == 2.0
    assert depth[20, 20] == 0.0
    assert depth[0, 0] == -np.inf


def test_neighbors_leave_no_gap_between_them() -> None:
    vertices, faces = square(0.0)
    _, face, _, _ = project_depth(Surface(vertices, faces.astype(np.int32)), TOP, (101, 101))
    covered = face >= 0
    rows, columns = np.nonzero(covered)
    assert covered[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1].all()


def test_up_on_the_page_is_up_in_the_view() -> None:
    vertices, faces = square(0.0)
    vertices = vertices + np.array([0, 0, 0.0])
    vertices[2:, 2] = 1.0
    depth, _, _, _ = project_depth(Surface(vertices, faces.astype(np.int32)), TOP, (100, 100))
    assert depth[10, 50] > depth[90, 50]


def test_painted_picture_opens_and_shows_the_colors() -> None:
    vertices, faces = square(0.0)
    surface = Surface(vertices, faces.astype(np.int32))
    for value, known, brighter in ((1.0, True, 0), (-1.0, True, 2)):
        paint = Paint(np.full(4, value), np.full(4, known), 1.0)
        picture = Image.open(BytesIO(render_surface(surface, view=TOP, paint=paint, size=(80, 60))))
        assert picture.size == (80, 60)
        pixel = picture.getpixel((40, 30))
        assert pixel[brighter] > pixel[2 - brighter] + 40  # type: ignore[index,operator]
    gray = Image.open(BytesIO(render_surface(surface, view=TOP, paint=Paint(np.ones(4), np.zeros(4, bool), 1.0))))
    center = gray.getpixel((600, 500))
    assert max(center) - min(center) < 8  # type: ignore[arg-type]
    assert gray.getpixel((2, 2)) == (255, 255, 255)


def test_the_inside_of_a_surface_is_dark() -> None:
    vertices, faces = square(0.0)
    outside, inside = (
        Image.open(BytesIO(render_surface(Surface(vertices, f.astype(np.int32)), view=TOP, size=(60, 60)))).getpixel((30, 30))
        for f in (faces, faces[:, ::-1])
    )  # fmt: skip
    assert inside[0] < outside[0] - 60  # type: ignore[index,operator]


def test_a_view_of_two_parallel_directions_is_refused() -> None:
    with pytest.raises(ValueOutOfRange):
        View(np.array([1.0, 0, 0]), np.array([2.0, 0, 0])).axes()


def test_a_color_scale_without_width_is_refused() -> None:
    vertices, faces = square(0.0)
    with pytest.raises(ValueOutOfRange):
        render_surface(
            Surface(vertices, faces.astype(np.int32)), view=TOP, paint=Paint(np.zeros(4), np.ones(4, bool), 0.0)
        )


def test_limit_of_a_scale_is_round_and_holds_the_tolerance() -> None:
    assert round_limit(np.zeros(10), 100.0) == 100.0
    assert round_limit(np.full(10, -187.0), 100.0) == 200.0
