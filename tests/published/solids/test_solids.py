"""Area, volume and centroid against closed forms."""

import math
from itertools import pairwise

import numpy as np
import pytest
import trimesh

from seatwright.mesh import Surface, keep_faces, measure_area_mm2, measure_centroid_mm, measure_volume_mm3


def of(made: trimesh.Trimesh) -> Surface:
    return Surface(np.array(made.vertices), np.array(made.faces))


def test_regular_tetrahedron_of_edge_a() -> None:
    a = 2 * math.sqrt(2)
    vertices = np.array([[1.0, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]]) + np.array([3, 4, 5])
    surface = Surface(vertices, np.array([[0, 1, 2], [0, 3, 1], [0, 2, 3], [1, 3, 2]]))
    assert measure_area_mm2(surface) == pytest.approx(math.sqrt(3) * a**2, rel=1e-12)
    assert abs(measure_volume_mm3(surface)) == pytest.approx(a**3 / (6 * math.sqrt(2)), rel=1e-12)
    assert measure_centroid_mm(surface) == pytest.approx([3, 4, 5], abs=1e-12)


def test_box_of_sides_a_b_c() -> None:
    surface = of(trimesh.creation.box(extents=(2.0, 3.0, 5.0)))
    assert measure_area_mm2(surface) == pytest.approx(62.0, rel=1e-12)
    assert measure_volume_mm3(surface) == pytest.approx(30.0, rel=1e-12)


def test_sphere_of_radius_r_from_below_with_quadratic_convergence() -> None:
    area, volume = 4 * math.pi * 25, 4 / 3 * math.pi * 125
    errors = []
    for subdivisions in (3, 4, 5):
        surface = of(trimesh.creation.icosphere(subdivisions=subdivisions, radius=5.0))
        errors.append((area - measure_area_mm2(surface), volume - measure_volume_mm3(surface)))
    assert min(min(e) for e in errors) > 0
    for coarse, fine in pairwise(errors):
        assert coarse[0] / fine[0] == pytest.approx(4, rel=0.05)
        assert coarse[1] / fine[1] == pytest.approx(4, rel=0.05)
    # Richardson: the limit of the sequence is the closed form
    last = errors[-1][1] - (errors[-2][1] - errors[-1][1]) / 3
    assert abs(last) / volume < 1e-5


def test_regular_prism_of_n_sides() -> None:
    n, r, h = 12, 3.0, 7.0
    surface = of(trimesh.creation.cylinder(radius=r, height=h, sections=n))
    base = n / 2 * r**2 * math.sin(2 * math.pi / n)
    side = 2 * r * math.sin(math.pi / n)
    assert measure_area_mm2(surface) == pytest.approx(2 * base + n * side * h, rel=1e-9)
    assert measure_volume_mm3(surface) == pytest.approx(base * h, rel=1e-9)


def test_hollow_half_sphere_has_its_area_centroid_at_half_the_radius() -> None:
    """A hemispherical shell's centroid lies at r/2 above its rim plane (Archimedes' hat-box theorem)."""
    whole = of(trimesh.creation.icosphere(subdivisions=5, radius=4.0))
    upper = keep_faces(whole, whole.vertices_mm[whole.faces].mean(axis=1)[:, 2] > 0)
    assert measure_centroid_mm(upper)[2] == pytest.approx(2.0, abs=0.02)
