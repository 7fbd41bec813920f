"""Poses that once were missed or wrongly taken: scenes of the study of poses, at a low resolution."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from seatwright.arch import SeedRegion, UnitRegion, assign_regions
from seatwright.cast import check_cast
from seatwright.cast._pose import find_global_pose
from seatwright.errors import CannotCompute


@pytest.fixture(scope="module")
def scenes(arches: ModuleType) -> ModuleType:
    """Load the module that draws pairs of scans; `arches` has loaded what it imports."""
    path = Path(__file__).resolve().parents[3] / "benchmarks" / "pose_scenes.py"
    spec = importlib.util.spec_from_file_location("pose_scenes", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def regions_of(pair: object) -> tuple[UnitRegion, ...]:
    seeds = pair.seeds.items()  # type: ignore[attr-defined]
    return assign_regions(pair.reference, [SeedRegion(t, s, 3.5) for t, s in seeds])  # type: ignore[attr-defined]


def test_swollen_gum_on_two_bases_with_holes_does_not_pull_the_pose(scenes: ModuleType) -> None:
    """0.3 mm of swelling on the gum's slopes moved the pose by 0.9 mm when all of the surface had the same say."""
    pair = scenes.draw_generated("base and holes", 5, 320)
    pulled = find_global_pose(pair.reference, pair.poured)
    assert pair.error_mm(pulled.T_reference_poured) > 0.5
    pose = find_global_pose(pair.reference, pair.poured, regions_of(pair))
    assert pair.error_mm(pose.T_reference_poured) < 0.05


@pytest.mark.parametrize(("kind", "seed"), [("half", 13), ("third", 12), ("partial half", 4), ("partial half", 224)])
def test_a_part_of_an_arch_is_found_and_not_flipped(scenes: ModuleType, kind: str, seed: int) -> None:
    pair = scenes.draw_generated(kind, seed, 320)
    pose = find_global_pose(pair.reference, pair.poured, regions_of(pair))
    assert pair.error_mm(pose.T_reference_poured) < 0.2


@pytest.mark.parametrize(
    ("kind", "seed", "reason"),
    [
        ("mirrored half", 4, "mirror image"),
        ("equal half", 2, "two poses"),
        ("other arch", 5, "does not fit"),
    ],
)
def test_what_does_not_belong_is_refused_with_its_reason(scenes: ModuleType, kind: str, seed: int, reason: str) -> None:
    pair = scenes.draw_generated(kind, seed, 320)
    with pytest.raises(CannotCompute, match=reason):
        check_cast(pair.reference, pair.poured, regions_of(pair), tolerance_um=50, repeatability_um=0)


def test_mirrored_open_scan_of_a_real_cast_is_refused(scans_folder: Path, scenes: ModuleType) -> None:
    """Its upper side lies within 0.3 mm of the reference over two fifths, which once was taken for a fit."""
    scenes.SCANS = scans_folder
    pair = scenes.draw_real("mirrored open", 6, "upper_cast", fine=False)
    with pytest.raises(CannotCompute, match="mirror image"):
        check_cast(pair.reference, pair.poured, regions_of(pair), tolerance_um=50, repeatability_um=0)
