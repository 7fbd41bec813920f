"""Known movements made on real scanned casts and found again. Checks the computation; it is no clinical validation."""

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from seatwright.arch import SeedRegion, assign_regions
from seatwright.cast import check_cast
from seatwright.errors import CannotCompute
from seatwright.files import read_surface
from seatwright.findings import Verdict
from seatwright.mesh import Surface, measure_vertex_normals, move_surface
from seatwright.quantities import FloatArray, make_transform

TEETH = ("37", "36", "35", "34", "33", "43", "44", "45", "46", "47")
MOVED = {
    "35": (np.array([0.0, 0.0, 0.18]), np.array([0.4, 0.0, 0.0])),
    "46": (np.array([0.1, -0.08, 0.02]), np.array([0.0, 0.0, 0.0])),
}
RADIUS_MM = 4.0


def invent_units(surface: Surface) -> FloatArray:
    """Ten high places around the occlusal side (+z), at least 8 mm apart."""
    points = surface.vertices_mm
    high = points[np.argsort(-points[:, 2])][:4000]
    chosen = [high[0]]
    for point in high[1:]:
        if len(chosen) < len(TEETH) and min(np.linalg.norm(point - c) for c in chosen) > 8.0:
            chosen.append(point)
    assert len(chosen) == len(TEETH)
    return np.array(chosen)


def pour(surface: Surface, seeds: FloatArray, rng: np.random.Generator) -> Surface:
    """Another tessellation of the same facets, some balls moved, noise along the normal."""
    corners = surface.vertices_mm[surface.faces]
    middles = np.einsum("fk,fkj->fj", rng.dirichlet((6, 6, 6), surface.n_faces), corners)
    n = surface.n_vertices
    new = n + np.arange(surface.n_faces, dtype=np.int32)
    a, b, c = surface.faces.T
    faces = np.vstack([np.stack([a, b, new], 1), np.stack([b, c, new], 1), np.stack([c, a, new], 1)])
    vertices = np.vstack([surface.vertices_mm, middles])
    normals = measure_vertex_normals(Surface(vertices, faces))
    for tooth, (shift, turn) in MOVED.items():
        seed = seeds[TEETH.index(tooth)]
        near = np.linalg.norm(vertices - seed, axis=1) < RADIUS_MM + 1.0
        vertices[near] = Rotation.from_rotvec(turn, degrees=True).apply(vertices[near] - seed) + seed + shift
    return Surface(vertices + normals * rng.normal(0, 0.005, (len(vertices), 1)), faces)


@pytest.mark.parametrize(("name", "seed"), [("lower_cast", 1), ("upper_cast", 2)])
def test_movements_made_on_a_real_cast_are_found(scans_folder: Path, name: str, seed: int) -> None:
    reference = read_surface(scans_folder / f"{name}.ply", length_unit="mm")
    if name == "upper_cast":
        # turn it so that its teeth look up like those of the lower cast
        reference = move_surface(reference, make_transform(np.array([np.pi, 0, 0]), np.zeros(3)))
    seeds = invent_units(reference)
    rng = np.random.default_rng(seed)
    T = make_transform(Rotation.random(random_state=rng).as_rotvec(), np.array([25.0, -20.0, 24.0]))
    poured = move_surface(pour(reference, seeds, rng), T)
    regions = assign_regions(reference, [SeedRegion(t, s, RADIUS_MM) for t, s in zip(TEETH, seeds, strict=True)])
    result = check_cast(reference, poured, regions, tolerance_um=50, repeatability_um=2)

    stray = result.T_reference_poured @ T
    points = reference.vertices_mm
    error = np.linalg.norm(points @ stray[:3, :3].T + stray[:3, 3] - points, axis=1)
    assert error.max() < 0.015
    assert {u.tooth for u in result.units if u.is_moved} == set(MOVED)
    for unit, s in zip(result.units, seeds, strict=True):
        shift, turn = MOVED.get(unit.tooth, (np.zeros(3), np.zeros(3)))
        true = Rotation.from_rotvec(turn, degrees=True).apply(unit.about_mm - s) + s + shift - unit.about_mm
        assert np.linalg.norm(unit.shift_mm - true) < 0.012
        assert (unit.verdict is Verdict.DOES_NOT_CONFORM) == (unit.tooth in MOVED)


def test_upper_cast_is_not_the_lower_one(scans_folder: Path) -> None:
    lower, upper = (read_surface(scans_folder / f"{n}_cast.ply", length_unit="mm") for n in ("lower", "upper"))
    regions = assign_regions(lower, [SeedRegion(t, s, 4.0) for t, s in zip(TEETH, invent_units(lower), strict=True)])
    with pytest.raises(CannotCompute, match=r"does not fit|two poses"):
        check_cast(lower, upper, regions, tolerance_um=50, repeatability_um=2)


def test_mirrored_real_cast_is_refused(scans_folder: Path) -> None:
    lower = read_surface(scans_folder / "lower_cast.ply", length_unit="mm")
    regions = assign_regions(lower, [SeedRegion(t, s, 4.0) for t, s in zip(TEETH, invent_units(lower), strict=True)])
    mirrored = Surface(lower.vertices_mm * np.array([1.0, 1.0, -1.0]), lower.faces[:, ::-1])
    with pytest.raises(CannotCompute, match="mirror image"):
        check_cast(lower, mirrored, regions, tolerance_um=50, repeatability_um=2)
