"""Several scans of one poured cast, on poses: what is averaged, what is not, and what the scanner's repeatability is."""

from types import ModuleType

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from seatwright.arch import SeedRegion, assign_regions
from seatwright.cast import Overlap, check_repeats
from seatwright.cast._check import Measurement
from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._frame import settle_units
from seatwright.cast._lattice import Pose
from seatwright.cast._misfit import Freedom
from seatwright.cast._pose import GlobalPose
from seatwright.cast._repeats import average_scans
from seatwright.errors import CannotCompute
from seatwright.mesh import Surface, move_surface
from seatwright.quantities import make_transform

ARCH = np.array([[x, x * x / 19, 0.5 * np.sin(k)] for k, x in enumerate(np.linspace(-27, 27, 10))])
TEETH = tuple(str(t) for t in (46, 45, 44, 43, 42, 32, 33, 34, 35, 36))
U_MM, S_MM, S_RAD = 0.001, 0.006, 0.0006


def scan(rng: np.random.Generator, *, places: tuple[int, ...] = tuple(range(10))) -> Measurement:
    """One scan of a cast whose unit 3 was lifted, in a frame of its own."""
    turn, shift = Rotation.from_rotvec(rng.normal(0, 0.002, 3)), rng.normal(0, 0.05, 3)
    covariance = np.diag([U_MM**2] * 3 + [(U_MM / 8) ** 2] * 3)
    poses = []
    for k in places:
        c = ARCH[k]
        own = np.array([0.0, 0.0, 0.2 if k == 3 else 0.0]) + rng.normal(0, S_MM, 3)
        together = turn * Rotation.from_rotvec(rng.normal(0, S_RAD, 3))
        poses.append(Pose(c, np.concatenate([turn.apply(c + own) + shift - c, together.as_rotvec()]), covariance, c))
    pose = GlobalPose(np.eye(4), None, None, Overlap(1.0, 1.0, 1, 1, 0.3, 0.0, 1.0, 0.05))  # type: ignore[arg-type]
    return Measurement(pose, None, places, tuple(poses), places, None, Freedom(200.0, 200.0))  # type: ignore[arg-type]


def test_mean_of_scans_keeps_what_is_common_and_narrows_the_rest() -> None:
    rng = np.random.default_rng(1)
    mean, repeats = average_scans([scan(rng) for _ in range(5)], TEETH)
    assert repeats.shift_um.value == pytest.approx(1e3 * S_MM, rel=0.2)
    assert np.radians(repeats.turn_deg.value) == pytest.approx(S_RAD, rel=0.2)
    for pose in mean.poses:
        expected = U_MM**2 + (1e-3 * repeats.shift_um.value) ** 2 / 5
        assert np.diag(pose.covariance)[:3] == pytest.approx(expected, rel=1e-3)


def test_repeatability_part_alone_falls_with_the_root_of_the_number_of_scans() -> None:
    rng = np.random.default_rng(2)
    scans = [scan(rng) for _ in range(20)]
    u = {}
    for n in (5, 20):
        mean, repeats = average_scans(scans[:n], TEETH)
        part = np.diag(mean.poses[0].covariance)[0] - U_MM**2
        u[n] = np.sqrt(part) / repeats.shift_um.value
    assert u[5] / u[20] == pytest.approx(2.0, rel=1e-3)


def test_movement_is_found_with_its_uncertainty_from_three_scans() -> None:
    rng = np.random.default_rng(3)
    z = []
    for _ in range(40):
        mean, _ = average_scans([scan(rng) for _ in range(3)], TEETH)
        settled = settle_units(mean.poses, (), (), SCALE_PRIOR)
        assert 3 not in settled.stable_units()
        off = settled.units[3].raw[:3] - np.array([0.0, 0.0, 0.2])
        z.append(off / np.sqrt(np.diag(settled.units[3].raw_covariance)[:3]))
    # 120 values: the mean square of a standard normal law stays within .74 and 1.31 in 95 % of runs
    assert 0.7 < float(np.mean(np.square(z))) < 1.4


def test_unit_that_one_scan_misses_is_left_out_and_too_few_are_refused() -> None:
    rng = np.random.default_rng(4)
    mean, _ = average_scans([scan(rng), scan(rng, places=(0, 1, 2, 4, 5, 6, 7, 8, 9)), scan(rng)], TEETH)
    assert mean.places == (0, 1, 2, 4, 5, 6, 7, 8, 9)
    with pytest.raises(CannotCompute, match="on every scan"):
        average_scans([scan(rng, places=(0, 1)), scan(rng, places=(1, 2))], TEETH)


def test_three_scans_of_a_generated_arch_give_one_answer(arches: ModuleType) -> None:
    """The whole way, coarse: one reference, the same poured cast scanned three times in three poses."""
    scene = arches.draw_scene(12, n_u=300, n_v=80, n_moved=2, noise=0.004)
    rng = np.random.default_rng(5)
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)
    names = ("17", "16", "15", "14", "13", "12", "11", "21", "22", "23", "24", "25", "26", "27")
    regions = assign_regions(reference, [SeedRegion(t, s, 3.5) for t, s in zip(names, scene.seeds, strict=True)])
    scans = [
        move_surface(
            Surface(poured.vertices_mm + rng.normal(0, 0.003, poured.vertices_mm.shape), poured.faces),
            make_transform(Rotation.random(random_state=rng).as_rotvec(), rng.uniform(-20, 20, 3)),
        )
        for _ in range(3)
    ]
    result = check_repeats(reference, scans, regions, tolerance_um=50, repeatability_um=2)
    assert result.repeats is not None
    assert result.repeats.n_scans == 3
    assert result.repeatability_um == result.repeats.shift_um.value
    assert {u.tooth for u in result.units if u.is_moved} == {names[t] for t in scene.arch.motions}
    assert any(f.id == "cast-repeatability" for f in result.findings)
