import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from seatwright.errors import CannotCompute
from seatwright.mesh import (
    BodyPoints,
    CoarsePlan,
    Poses,
    Schedule,
    Surface,
    estimate_scale_mm,
    fit_bodies,
    index_surface,
    measure_vertex_normals,
    move_surface,
    pose_of,
    search_poses,
    transform_of,
)
from seatwright.mesh._coarse import list_rotations
from seatwright.quantities import apply_transform, make_transform


def bump(n: int = 60, shift: float = 0.0) -> Surface:
    """A wavy open sheet without symmetry."""
    u, v = np.meshgrid(np.linspace(0, 20, n) + shift, np.linspace(0, 14, n) + shift, indexing="ij")
    height = 2 * np.sin(u / 2.1) * np.cos(v / 1.7) + 0.8 * np.sin(u * v / 40) + 0.1 * u
    at = np.arange(n * n).reshape(n, n)
    a, b, c, d = (k.ravel() for k in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    return Surface(
        np.stack([u.ravel(), v.ravel(), height.ravel()], 1), np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    )


def body_of(surface: Surface) -> BodyPoints:
    return BodyPoints(
        surface.vertices_mm, measure_vertex_normals(surface), np.zeros(surface.n_vertices, dtype=np.int64)
    )


def test_rotations_are_rotations_and_leave_no_large_gap() -> None:
    rotations = list_rotations(1200)
    assert np.abs(np.einsum("kij,klj->kil", rotations, rotations) - np.eye(3)).max() < 1e-12
    assert np.linalg.det(rotations).min() > 0.999
    asked = Rotation.random(200, random_state=1).as_matrix()
    cosines = (np.einsum("aij,bij->ab", asked, rotations) - 1) / 2
    assert np.degrees(np.arccos(np.clip(cosines.max(axis=1), -1, 1))).max() < 30


@pytest.mark.parametrize("two_way", [False, True])
def test_fit_of_known_correspondences_agrees_with_the_closed_form(two_way: bool) -> None:
    """Outside check: scipy's Rotation.align_vectors (Kabsch) on the same vertices, nothing else moved."""
    surface = bump()
    T = make_transform(np.array([0.01, -0.02, 0.015]), np.array([0.2, -0.1, 0.15]))
    moved = move_surface(surface, T)
    middle = surface.vertices_mm.mean(axis=0)
    closed, _ = Rotation.align_vectors(moved.vertices_mm - moved.vertices_mm.mean(axis=0), surface.vertices_mm - middle)
    own, target = index_surface(surface), index_surface(moved)
    fit = fit_bodies(
        (own if two_way else None, body_of(surface)),
        (target, body_of(moved) if two_way else None),
        pose_of(np.eye(4), middle),
        Schedule((2.0, 1.0, 0.5, 0.1), rest_mm=1e-9),
    )
    found = transform_of(fit.poses)
    assert np.abs(found[:3, :3] - closed.as_matrix()).max() < 1e-8
    assert np.abs(apply_transform(found, middle[None])[0] - moved.vertices_mm.mean(axis=0)).max() < 1e-7


def test_two_bodies_move_on_their_own() -> None:
    surface = bump()
    left = surface.vertices_mm[:, 0] < 10
    target = index_surface(surface)
    # the points of each half were displaced, so that each half must go back by its own way
    points = surface.vertices_mm.copy()
    points[left] += (0.1, 0.05, -0.1)
    points[~left] += (-0.05, 0.1, 0.1)
    body = BodyPoints(points, measure_vertex_normals(surface), np.where(left, 0, 1).astype(np.int64))
    start = Poses(np.tile(np.eye(3), (2, 1, 1)), np.zeros((2, 3)), np.array([[5.0, 7, 0], [15.0, 7, 0]]))
    fit = fit_bodies((None, body), (target, None), start, Schedule((1.0, 0.3, 0.1)))
    assert fit.poses.shifts[0] == pytest.approx([-0.1, -0.05, 0.1], abs=1e-5)
    assert fit.poses.shifts[1] == pytest.approx([0.05, -0.1, -0.1], abs=1e-5)


def test_outliers_do_not_pull_the_fit() -> None:
    surface = bump()
    points = surface.vertices_mm.copy()
    points[::4, 2] += 0.4
    body = BodyPoints(points, measure_vertex_normals(surface), np.zeros(len(points), dtype=np.int64))
    fit = fit_bodies(
        (None, body),
        (index_surface(surface), None),
        pose_of(np.eye(4), points.mean(axis=0)),
        Schedule((1.0, 0.5, 0.25, 0.1)),
    )
    assert np.linalg.norm(fit.poses.shifts[0]) < 1e-4


@pytest.mark.parametrize("seed", range(3))
def test_any_pose_of_a_part_is_found(seed: int) -> None:
    surface = bump()
    T = make_transform(Rotation.random(random_state=seed).as_rotvec(), np.array([30.0, -25.0, 10.0]))
    pose, *_ = search_poses(surface, move_surface(bump(50, shift=0.3), T), plan=CoarsePlan(cell_mm=0.6), wide=False)
    error = apply_transform(pose.T_fixed_moving @ T, surface.vertices_mm) - surface.vertices_mm
    assert np.linalg.norm(error, axis=1).max() < 1.0


def test_scale_of_the_core_ignores_a_third_of_outliers() -> None:
    rng = np.random.default_rng(7)
    sample = np.concatenate([rng.normal(0, 0.01, 20000), rng.uniform(0.05, 0.4, 9000)])
    # a third of outliers on one side widens the shortest half by a known share, no more
    assert 0.009 < estimate_scale_mm(sample) < 0.018
    assert estimate_scale_mm(rng.normal(0, 0.01, 20000)) == pytest.approx(0.01, rel=0.03)
    assert estimate_scale_mm(np.zeros(2)) == 0.0


def test_surface_of_many_meters_is_refused_with_its_size() -> None:
    stray = bump()
    huge = Surface(stray.vertices_mm * 1000.0, stray.faces)
    with pytest.raises(CannotCompute, match="mm is too large") as refusal:
        search_poses(huge, stray, plan=CoarsePlan(), wide=False)
    assert "20000 by 14000 by" in refusal.value.message
    assert "length unit" in str(refusal.value.hint)
