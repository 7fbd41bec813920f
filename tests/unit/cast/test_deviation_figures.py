"""Figures of the signed deviation: closed forms on turned surfaces, and the general library's statistics."""

import numpy as np
import pytest
import trimesh
from scipy import integrate

from seatwright.arch import UnitRegion
from seatwright.cast import Deviation, DeviationFigures, measure_deviation, summarize_deviation
from seatwright.mesh import Surface

R, A, E = 4.0, 1.5, 0.08  # mm: radius of the cylinder or ring, of the tube, and how far the surface was moved
STILL = np.eye(4)


def lattice(n: int, m: int, *, closes: bool) -> np.ndarray:
    """Faces of an n by m grid of vertices; rows close on themselves, columns too when asked."""
    rows = n
    columns = m if closes else m - 1
    i, j = (k.ravel() for k in np.meshgrid(np.arange(rows), np.arange(columns), indexing="ij"))
    a, b = i * m + j, (i + 1) % n * m + j
    c, d = (i + 1) % n * m + (j + 1) % m, i * m + (j + 1) % m
    return np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])]).astype(np.int32)


def cylinder(radius: float, *, half_mm: float, at: float = 0.0, n: int = 720, packed: float = 0.0) -> Surface:
    """An open wall about z; `packed` crowds its vertices towards the side where x is positive."""
    phi = np.linspace(0, 2 * np.pi, n, endpoint=False)
    phi = phi - packed * np.sin(phi)
    z = np.linspace(-half_mm, half_mm, 15)
    p, q = (g.ravel() for g in np.meshgrid(phi, z, indexing="ij"))
    points = np.column_stack([radius * np.cos(p) + at, radius * np.sin(p), q])
    return Surface(points, lattice(n, 15, closes=False))


def torus(tube: float, *, lift: float = 0.0, n: int = 300, m: int = 120) -> Surface:
    phi, theta = (
        g.ravel()
        for g in np.meshgrid(
            np.linspace(0, 2 * np.pi, n, endpoint=False), np.linspace(0, 2 * np.pi, m, endpoint=False), indexing="ij"
        )
    )
    out = R + tube * np.cos(theta)
    points = np.column_stack([out * np.cos(phi), out * np.sin(phi), tube * np.sin(theta) + lift])
    return Surface(points, lattice(n, m, closes=True))


def whole(reference: Surface, poured: Surface) -> DeviationFigures:
    [figures] = summarize_deviation(reference, measure_deviation(reference, poured, STILL), ())
    return figures


def test_swollen_cylinder_and_torus_deviate_by_their_swelling_everywhere() -> None:
    for reference, poured in (
        (cylinder(R, half_mm=3), cylinder(R + 0.05, half_mm=4)),
        (torus(A), torus(A + 0.05)),
    ):
        found = whole(reference, poured)
        assert found.refused_share == 0
        assert (found.mean_um, found.rms_um) == (pytest.approx(50, abs=0.6), pytest.approx(50, abs=0.6))
        assert found.sd_um == pytest.approx(0, abs=0.6)
        assert found.percentiles_um == pytest.approx([50] * 4, abs=1.0)


@pytest.mark.parametrize("packed", [0.0, 0.7])
def test_turned_cylinder_moved_aside_has_the_closed_form_whatever_the_vertices(packed: float) -> None:
    """A point at phi lies R - |R e(phi) - E x| inside the moved wall; the share of area goes with phi, not vertices."""
    found = whole(cylinder(R, half_mm=3, packed=packed), cylinder(R, half_mm=4, at=E))

    def deviation_um(phi: float) -> float:
        return 1e3 * (R - float(np.hypot(R * np.cos(phi) - E, R * np.sin(phi))))

    mean = integrate.quad(deviation_um, 0, np.pi)[0] / np.pi
    square = integrate.quad(lambda phi: deviation_um(phi) ** 2, 0, np.pi)[0] / np.pi
    assert found.mean_um == pytest.approx(mean, abs=0.1)
    assert found.rms_um == pytest.approx(np.sqrt(square), abs=0.1)
    assert found.sd_um == pytest.approx(np.sqrt(square - mean**2), abs=0.1)
    # it falls steadily from phi 0 to pi: the share q of the area lies below its value at pi (1 - q)
    closed = [deviation_um(np.pi * (1 - q)) for q in (0.05, 0.5, 0.95, 0.99)]
    assert found.percentiles_um == pytest.approx(closed, abs=1.0)
    if packed:
        plain = measure_deviation(cylinder(R, half_mm=3, packed=packed), cylinder(R, half_mm=4, at=E), STILL)
        assert abs(1e3 * plain.distance_mm.mean() - mean) > 5  # what counting vertices would say


def test_lifted_torus_has_the_mean_square_of_its_closed_form_weighted_by_area() -> None:
    """Area goes with R + A cos(theta); the lift has A - |A e(theta) - E z| there."""
    found = whole(torus(A), torus(A, lift=E))

    def deviation_um(theta: float) -> float:
        return 1e3 * (A - float(np.hypot(A * np.cos(theta), A * np.sin(theta) - E)))

    def averaged(power: int) -> float:
        top = integrate.quad(lambda t: deviation_um(t) ** power * (R + A * np.cos(t)), 0, 2 * np.pi)[0]
        return top / (2 * np.pi * R)

    assert found.mean_um == pytest.approx(averaged(1), abs=0.6)
    assert found.rms_um == pytest.approx(np.sqrt(averaged(2)), abs=0.6)


def test_refused_area_is_told_and_stays_out() -> None:
    """The poured wall ends at a third of the height of the reference: two thirds of the area have no deviation."""
    short = cylinder(R + 0.05, half_mm=1.0)
    found = whole(cylinder(R, half_mm=3), short)
    # rows of vertices 0.43 mm apart stand for the area around them
    assert found.refused_share == pytest.approx(2 / 3, abs=0.15 / 3)
    assert found.mean_um == pytest.approx(50, abs=0.6)
    far = whole(cylinder(R, half_mm=3), cylinder(R + 5, half_mm=3))
    assert (far.refused_share, far.mean_um, far.percentiles_um) == (1.0, None, ())


def test_distances_and_figures_are_those_of_general_purpose_libraries() -> None:
    """Closest points by trimesh (brute force), weighted percentiles by numpy."""
    rng = np.random.default_rng(5)
    reference, poured = cylinder(R, half_mm=1.0, n=60), cylinder(R, half_mm=2.0, at=E, n=70)
    wavy = Surface(poured.vertices_mm + rng.normal(0, 0.01, poured.vertices_mm.shape), poured.faces)
    deviation = measure_deviation(reference, wavy, STILL)
    mesh = trimesh.Trimesh(wavy.vertices_mm, wavy.faces, process=False)
    foot, distance, face = trimesh.proximity.closest_point_naive(mesh, reference.vertices_mm)
    side = np.sign(((foot - reference.vertices_mm) * mesh.face_normals[face]).sum(axis=1))
    assert deviation.is_defined.all()
    assert np.abs(deviation.distance_mm) == pytest.approx(distance, abs=1e-9)
    assert np.mean(np.sign(deviation.distance_mm) == side) > 0.99
    own = trimesh.Trimesh(reference.vertices_mm, reference.faces, process=False)
    weights = np.zeros(reference.n_vertices)
    np.add.at(weights, own.faces.ravel(), np.repeat(own.area_faces / 3, 3))
    half = np.flatnonzero(own.triangles_center[:, 0] > 0)
    region = UnitRegion("44", half, own.triangles_center[half].mean(axis=0), float(own.area_faces[half].sum()))
    all_of_it, unit = summarize_deviation(reference, deviation, (region,))
    values = 1e3 * deviation.distance_mm
    expected = np.quantile(values, [0.05, 0.5, 0.95, 0.99], weights=weights, method="inverted_cdf")
    assert all_of_it.percentiles_um == pytest.approx(expected, abs=1e-9)
    assert all_of_it.mean_um == pytest.approx(np.average(values, weights=weights))
    assert all_of_it.sd_um == pytest.approx(np.sqrt(np.cov(values, aweights=weights, ddof=0)))
    assert unit.part == "44"
    assert unit.area_mm2 == pytest.approx(region.area_mm2)
    assert unit.mean_um is not None
    assert unit.mean_um > 30  # the half towards which the wall was moved


def test_mean_square_is_mean_and_spread_together() -> None:
    reference = cylinder(R, half_mm=1.0, n=60)
    rng = np.random.default_rng(6)
    known = rng.random(reference.n_vertices) < 0.8
    [found] = summarize_deviation(reference, Deviation(rng.normal(0.01, 0.03, reference.n_vertices), known, 1.0), ())
    assert found.mean_um is not None
    assert found.sd_um is not None
    assert found.rms_um == pytest.approx(np.hypot(found.mean_um, found.sd_um))
