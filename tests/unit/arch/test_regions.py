import numpy as np
import pytest

from seatwright.arch import MeshRegion, SeedRegion, assign_regions
from seatwright.errors import InputError
from seatwright.mesh import Surface, keep_faces


def sheet(n: int = 41) -> Surface:
    """A flat square of 40 mm."""
    x, y = np.meshgrid(np.linspace(0, 40, n), np.linspace(0, 40, n), indexing="ij")
    at = np.arange(n * n).reshape(n, n)
    a, b, c, d = (k.ravel() for k in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    return Surface(
        np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], 1), np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    )


def seed(tooth: str, x: float, y: float, radius: float) -> SeedRegion:
    return SeedRegion(tooth, np.array([x, y, 0.0]), radius)


def test_each_face_goes_to_its_nearest_seed_within_the_radius() -> None:
    surface = sheet()
    one, two = assign_regions(surface, [seed("23", 15, 20, 8), seed("24", 25, 20, 8)])
    middles = surface.vertices_mm[surface.faces].mean(axis=1)
    to_one, to_two = (np.linalg.norm(middles - (x, 20, 0), axis=1) for x in (15, 25))
    assert set(one.face_ids) == set(np.flatnonzero((to_one <= 8) & ~(to_two < to_one)))
    assert not set(one.face_ids) & set(two.face_ids)
    assert len(one.face_ids) + len(two.face_ids) == ((to_one <= 8) | (to_two <= 8)).sum()


def test_a_small_radius_does_not_take_from_a_larger_one_beyond_its_reach() -> None:
    small, large = assign_regions(sheet(), [seed("23", 15, 20, 2), seed("24", 25, 20, 12)])
    assert small.area_mm2 < 20
    middles = sheet().vertices_mm[sheet().faces].mean(axis=1)
    assert middles[large.face_ids][:, 0].min() < 15.0


def test_region_of_a_disc_has_its_area_and_centroid() -> None:
    [disc] = assign_regions(sheet(401), [seed("23", 20, 18, 5)])
    assert disc.area_mm2 == pytest.approx(np.pi * 25, rel=0.005)
    assert disc.centroid_mm == pytest.approx([20, 18, 0], abs=0.02)


def test_mesh_takes_its_faces_before_seeds_do() -> None:
    surface = sheet()
    middles = surface.vertices_mm[surface.faces].mean(axis=1)
    crown = keep_faces(surface, (middles[:, 0] < 10) & (middles[:, 1] < 10))
    mesh, ball = assign_regions(surface, [MeshRegion("23", crown), seed("24", 9, 9, 6)])
    assert mesh.area_mm2 == pytest.approx(100.0)
    assert not set(mesh.face_ids) & set(ball.face_ids)


def test_overlap_of_meshes_is_refused() -> None:
    surface = sheet()
    x = surface.vertices_mm[surface.faces].mean(axis=1)[:, 0]
    with pytest.raises(InputError, match="23 and 24"):
        assign_regions(
            surface, [MeshRegion("23", keep_faces(surface, x < 20)), MeshRegion("24", keep_faces(surface, x > 10))]
        )


def test_empty_regions_and_doubled_teeth_are_all_named() -> None:
    with pytest.raises(InputError) as caught:
        assign_regions(
            sheet(), [seed("23", 200, 0, 3), seed("24", 10, 10, 3), seed("24", 20, 20, 3), seed("25", 0, 0, 1e-6)]
        )
    assert [f.where for f in caught.value.faults] == ["unit 24", "unit 23", "unit 25"]
    assert all(f.hint for f in caught.value.faults)
    with pytest.raises(InputError, match="no unit"):
        assign_regions(sheet(), [])
