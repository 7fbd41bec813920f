"""Several scans of one poured cast, on poses: what is averaged, what is not, and what the scanner's repeatability is."""

from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from tests.rescans import scan_again

from seatwright.arch import SeedRegion, UnitRegion, assign_regions
from seatwright.cast import Overlap, check_repeats
from seatwright.cast._check import Measurement
from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._frame import settle_units
from seatwright.cast._lattice import Pose
from seatwright.cast._misfit import Freedom, join_freedom
from seatwright.cast._pose import GlobalPose
from seatwright.cast._repeats import average_scans
from seatwright.cast._repeats_told import tell_repeats
from seatwright.errors import CannotCompute
from seatwright.mesh import Surface, move_surface
from seatwright.quantities import Measured, make_transform

ARCH = np.array([[x, x * x / 19, 0.5 * np.sin(k)] for k, x in enumerate(np.linspace(-27, 27, 10))])
TEETH = tuple(str(t) for t in (46, 45, 44, 43, 42, 32, 33, 34, 35, 36))
CROWNS = ("17", "16", "15", "14", "13", "12", "11", "21", "22", "23", "24", "25", "26", "27")
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
        many = repeats.shift_um.dof / (repeats.shift_um.dof - 2)
        expected = U_MM**2 + many * (1e-3 * repeats.shift_um.value) ** 2 / 5
        assert np.diag(pose.covariance)[:3] == pytest.approx(expected, rel=1e-3)


def test_repeatability_part_alone_falls_with_the_root_of_the_number_of_scans() -> None:
    rng = np.random.default_rng(2)
    scans = [scan(rng) for _ in range(20)]
    u = {}
    for n in (5, 20):
        mean, repeats = average_scans(scans[:n], TEETH)
        few = repeats.shift_um.dof / (repeats.shift_um.dof - 2)
        part = (np.diag(mean.poses[0].covariance)[0] - U_MM**2) / few
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
    regions = crowns_of(scene, reference)
    scans = [set_down(scan_again(poured, rng, noise_mm=0.003), rng) for _ in range(3)]
    copy = Surface(scans[1].vertices_mm + rng.normal(0, 0.002, poured.vertices_mm.shape), scans[1].faces)
    result = check_repeats(reference, [*scans, set_down(copy, rng)], regions, tolerance_um=50, repeatability_um=2)
    assert result.repeats is not None
    assert result.repeats.n_scans == 3
    assert result.is_repeatability_found
    assert result.repeatability_um == result.repeats.shift_um.value
    assert {u.tooth for u in result.units if u.is_moved} == {CROWNS[t] for t in scene.arch.motions}
    told = {f.id: f for f in result.findings}
    assert told["cast-repeatability"].why.startswith("standard deviation over 3 scans")
    assert told["cast-repeats-same"].what == "Scan 4 of the poured cast is the mesh of scan 2: it counts as no repeat."


def crowns_of(scene: object, reference: Surface) -> tuple[UnitRegion, ...]:
    seeds = zip(CROWNS, scene.seeds, strict=True)  # type: ignore[attr-defined]
    return assign_regions(reference, [SeedRegion(t, s, 3.5) for t, s in seeds])


def set_down(surface: Surface, rng: np.random.Generator) -> Surface:
    turn = Rotation.random(random_state=rng).as_rotvec()
    return move_surface(surface, make_transform(turn, rng.uniform(-20, 20, 3)))


def test_mesh_given_twice_leaves_the_declared_repeatability_in_force(arches: ModuleType) -> None:
    """Byte-identical, in another pose, and with 2 µm on it: one scan, told as if it had been given once."""
    scene = arches.draw_scene(12, n_u=220, n_v=60, n_moved=1, noise=0.004)
    rng = np.random.default_rng(6)
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)
    regions = crowns_of(scene, reference)
    near = Surface(poured.vertices_mm + rng.normal(0, 0.002, poured.vertices_mm.shape), poured.faces)
    scans = [poured, poured, set_down(near, rng)]
    result = check_repeats(reference, scans, regions, tolerance_um=50, repeatability_um=4, reference_um=0)
    alone = check_repeats(reference, scans[:1], regions, tolerance_um=50, repeatability_um=4)
    assert result.repeats is None
    assert not result.is_repeatability_found
    assert result.repeatability_um == 4
    assert [f.id for f in result.findings].count("cast-repeats-same") == 2
    for one, other in zip(result.units, alone.units, strict=True):
        assert one.covariance == pytest.approx(other.covariance, rel=1e-9)


def test_few_degrees_of_freedom_widen_what_rests_on_them() -> None:
    """Two scans of four units, repeatability alone: the 95 % intervals of 300 casts hold, as 1.96 s_r would not."""
    rng = np.random.default_rng(9)
    four = (0, 2, 6, 9)
    inside, plain, dofs = [], [], []
    for _ in range(300):
        scans = [scan(rng, places=four) for _ in range(2)]
        mean, repeats = average_scans(scans, TEETH)
        settled = settle_units(mean.poses, (), (), Measured(0.0, 1e-9, "1"), mean.freedom)
        dofs.append(mean.freedom.common)
        shrunk = (repeats.shift_um.dof - 2) / repeats.shift_um.dof
        for unit in settled.units:
            u = np.sqrt(np.diag(unit.raw_covariance)[:3])
            inside.append(np.abs(unit.raw[:3]) < 1.96 * u)
            plain.append(np.abs(unit.raw[:3]) < 1.96 * u * np.sqrt(shrunk))
    # 300 casts that share their s_r: a coverage is known to about 0.009
    assert np.mean(inside) > 0.935
    assert np.mean(plain) < np.mean(inside) - 0.01
    assert 5 < np.median(dofs) < 40


def test_join_of_freedoms_is_that_of_welch_and_satterthwaite() -> None:
    """Half the variance with 8 degrees of freedom, half as good as known: 8 / .25, formula (G.2b) by hand."""
    joined = join_freedom(Freedom(1000.0, 1000.0), [2 * np.eye(6)], np.eye(6), 8.0)
    assert joined.common == pytest.approx(1 / (0.25 / 1000 + 0.25 / 8))
    assert joined.least == pytest.approx(joined.common)


def test_contradiction_of_the_declared_value_is_told_and_agreement_is_not() -> None:
    rng = np.random.default_rng(10)
    _, repeats = average_scans([scan(rng) for _ in range(3)], TEETH)
    assert repeats is not None
    s = repeats.shift_um.value
    assert [f.id for f in tell_repeats(repeats, (3, 10), s)] == ["cast-repeatability"]
    [_, less] = tell_repeats(repeats, (3, 10), 3 * s)
    [_, more] = tell_repeats(repeats, (3, 10), s / 3)
    assert (less.id, more.id) == ("cast-repeatability-differs", "cast-repeatability-differs")
    assert "repeat better than declared" in less.what
    assert "repeat worse than declared" in more.what
    low, high = repeats.shift_interval_um
    assert f"({np.floor(100 * low) / 100:.2f} to {np.ceil(100 * high) / 100:.2f} µm" in less.what


def test_too_few_degrees_of_freedom_leave_the_declared_value() -> None:
    rng = np.random.default_rng(11)
    mean, repeats = average_scans([scan(rng, places=(0, 9)) for _ in range(2)], TEETH, poured_um=5.0)
    assert repeats is None
    assert np.diag(mean.poses[0].covariance)[:3] == pytest.approx(U_MM**2 + 0.005**2 / 2, rel=1e-3)
    _, enough = average_scans([scan(rng) for _ in range(2)], TEETH)
    assert enough is not None
    few = replace(enough, shift_um=replace(enough.shift_um, dof=1.8))
    for one in (repeats, few):
        [told] = tell_repeats(one, (2, 2), 5.0)
        assert told.id == "cast-repeatability-few"
        assert "2 scans of 2 units are too few" in told.what
