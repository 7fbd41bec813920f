"""The short way to the pose: right where the units settle it, silent where they do not."""

from types import ModuleType

import numpy as np

from seatwright.arch import SeedRegion, UnitRegion, assign_regions
from seatwright.cast._pose import MOST_SCALE_MM
from seatwright.cast._pose_by_units import AgreedPose, agree_on_pose
from seatwright.mesh import CoarsePlan, Surface, search_poses

TEETH = ("17", "16", "15", "14", "13", "12", "11", "21", "22", "23", "24", "25", "26", "27")
Scans = tuple[Surface, Surface]


def prepare(scene: object) -> tuple[Scans, tuple[UnitRegion, ...]]:
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)  # type: ignore[attr-defined]
    seeds = [SeedRegion(t, s, 3.5) for t, s in zip(TEETH, scene.seeds, strict=True)]  # type: ignore[attr-defined]
    return (reference, poured), assign_regions(reference, seeds)


def agree(scans: Scans, regions: tuple[UnitRegion, ...]) -> AgreedPose | None:
    coarse = search_poses(*scans, plan=CoarsePlan(), wide=False)[0]
    return agree_on_pose(scans, regions, coarse.T_fixed_moving, most_scale_mm=MOST_SCALE_MM)


def test_pose_and_movements_are_the_true_ones_where_most_units_stay(arches: ModuleType) -> None:
    scene = arches.draw_scene(21, n_u=500, n_v=110, swelling=0.05)
    scans, regions = prepare(scene)
    agreed = agree(scans, regions)
    assert agreed is not None
    assert scene.target_error_um(agreed.T_reference_poured) < 3.0
    assert agreed.motions is not None
    for number, region in enumerate(regions):
        shift, turn = scene.truth(number, region.centroid_mm)
        assert np.abs(agreed.motions.shifts[number] - shift).max() < 0.02, region.tooth
        angle = np.degrees(np.arccos(np.clip((np.trace(agreed.motions.rotations[number]) - 1) / 2, -1, 1)))
        assert abs(angle - np.linalg.norm(turn)) < 0.4, region.tooth


def test_two_groups_of_equal_size_settle_nothing(arches: ModuleType) -> None:
    scene = arches.draw_scene(22, n_u=400, n_v=90, n_moved=0)
    (reference, _), regions = prepare(scene)
    vertices = reference.vertices_mm.copy()
    vertices[vertices[:, 0] > 0] += np.array([0.0, 0.0, 0.2])
    assert agree((reference, Surface(vertices, reference.faces)), regions) is None


def test_nothing_near_the_units_settles_nothing(arches: ModuleType) -> None:
    scene = arches.draw_scene(23, n_u=300, n_v=70, n_moved=0)
    (reference, _), regions = prepare(scene)
    far = Surface(reference.vertices_mm + 50.0, reference.faces)
    assert agree_on_pose((reference, far), regions, np.eye(4), most_scale_mm=MOST_SCALE_MM) is None
