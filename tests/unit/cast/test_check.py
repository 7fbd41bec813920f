from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from seatwright.arch import SeedRegion, UnitRegion, assign_regions
from seatwright.cast import CastResult, check_cast, measure_deviation
from seatwright.errors import Cancelled, CannotCompute, ValueOutOfRange
from seatwright.findings import Verdict
from seatwright.mesh import Surface, keep_faces, move_surface
from seatwright.progress import Progress
from seatwright.quantities import invert_transform, make_transform, rotation_vector_rad

TEETH = ["17", "16", "15", "14", "13", "12", "11", "21", "22", "23", "24", "25", "26", "27"]


def surfaces(scene: object) -> tuple[Surface, Surface, tuple[UnitRegion, ...]]:
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)  # type: ignore[attr-defined]
    specs = [SeedRegion(t, s, 3.5) for t, s in zip(TEETH, scene.seeds, strict=False)]  # type: ignore[attr-defined]
    return reference, poured, assign_regions(reference, specs)


def check(
    reference: Surface, poured: Surface, regions: tuple[UnitRegion, ...], repeatability: float = 0.0
) -> CastResult:
    return check_cast(reference, poured, regions, tolerance_um=50, repeatability_um=repeatability)


def moved_teeth(result: CastResult) -> set[str]:
    return {u.tooth for u in result.units if u.is_moved}


@pytest.fixture(scope="module")
def scene(arches: ModuleType) -> object:
    return arches.draw_scene(1, n_u=500, n_v=110, n_moved=4, noise=0.005)


@pytest.fixture(scope="module")
def result(scene: object) -> CastResult:
    return check(*surfaces(scene))


def test_moved_units_are_found_and_the_others_are_not(scene: object, result: CastResult) -> None:
    expected = {TEETH[t] for t in scene.arch.motions}  # type: ignore[attr-defined]
    assert len(expected) == 4
    assert moved_teeth(result) == expected
    assert set(result.stable_units) == set(TEETH) - expected
    verdicts = {u.tooth: u.verdict for u in result.units}
    assert all((verdicts[t] is Verdict.DOES_NOT_CONFORM) == (t in expected) for t in TEETH)
    assert {f.about for f in result.findings if f.id == "cast-unit-moved"} == expected
    assert result.converged


def test_movements_are_those_that_were_made(scene: object, result: CastResult) -> None:
    assert scene.target_error_um(result.T_reference_poured) < 3.0  # type: ignore[attr-defined]
    for number, unit in enumerate(result.units):
        shift, turn = scene.truth(number, unit.about_mm)  # type: ignore[attr-defined]
        assert np.linalg.norm(unit.shift_mm - shift) < 0.008
        assert np.linalg.norm(unit.turn_deg - turn) < 0.25
        assert np.abs((unit.shift_mm - shift) / unit.u_shift_mm).max() < 5
        assert unit.covariance is not None
        assert np.allclose(np.sqrt(np.diag(unit.covariance)[:3]), unit.u_shift_mm)
        assert np.linalg.eigvalsh(unit.covariance).min() > 0


def test_same_motion_of_both_scans_changes_nothing(scene: object, result: CastResult) -> None:
    reference, poured, _ = surfaces(scene)
    T = make_transform(np.array([0.4, 2.0, -1.0]), np.array([100.0, -20.0, 7.0]))
    moved = move_surface(reference, T)
    specs = [SeedRegion(t, T[:3, :3] @ s + T[:3, 3], 3.5) for t, s in zip(TEETH, scene.seeds, strict=True)]  # type: ignore[attr-defined]
    again = check(moved, move_surface(poured, invert_transform(T)), assign_regions(moved, specs))
    for one, two in zip(result.units, again.units, strict=True):
        assert two.shift_mm == pytest.approx(T[:3, :3] @ one.shift_mm, abs=2e-4)
        assert two.verdict is one.verdict


def test_order_of_vertices_and_faces_changes_nothing(scene: object, result: CastResult) -> None:
    reference, poured, regions = surfaces(scene)
    rng = np.random.default_rng(3)
    order, faces = rng.permutation(poured.n_vertices), rng.permutation(poured.n_faces)
    place = np.argsort(order)
    shuffled = Surface(poured.vertices_mm[order], place[poured.faces[faces]])
    again = check(reference, shuffled, regions)
    assert again.T_reference_poured == pytest.approx(result.T_reference_poured, abs=2e-5)
    for one, two in zip(result.units, again.units, strict=True):
        assert two.shift_mm == pytest.approx(one.shift_mm, abs=1e-4)


def test_swapped_roles_invert_the_motions(scene: object, result: CastResult) -> None:
    reference, poured, _ = surfaces(scene)
    moves = [make_transform(np.radians(u.turn_deg), np.zeros(3)) for u in result.units]
    back = invert_transform(result.T_reference_poured)
    seeds = [
        back[:3, :3] @ (m[:3, :3] @ (s - u.about_mm) + u.about_mm + u.shift_mm) + back[:3, 3]
        for m, s, u in zip(moves, scene.seeds, result.units, strict=True)  # type: ignore[attr-defined]
    ]
    regions = assign_regions(poured, [SeedRegion(t, s, 3.5) for t, s in zip(TEETH, seeds, strict=True)])
    swapped = check(poured, reference, regions)
    assert swapped.T_reference_poured @ result.T_reference_poured == pytest.approx(np.eye(4), abs=2e-3)
    for one, two, m in zip(result.units, swapped.units, moves, strict=True):
        # the forward motion at the place where the swapped one is told about
        at = result.T_reference_poured[:3, :3] @ two.about_mm + result.T_reference_poured[:3, 3]
        forth = m.copy()
        forth[:3, 3] = one.about_mm + one.shift_mm - m[:3, :3] @ one.about_mm
        expected = invert_transform(forth)
        there = expected[:3, :3] @ at + expected[:3, 3] - at
        mine = result.T_reference_poured[:3, :3] @ two.shift_mm
        limit = 4 * float(np.hypot(one.u_worst_mm or 0, two.u_worst_mm or 0))
        assert np.linalg.norm(mine - there) < limit
        assert rotation_vector_rad(expected) == pytest.approx(
            result.T_reference_poured[:3, :3] @ np.radians(two.turn_deg), abs=0.006
        )


def test_motion_common_to_all_units_is_invisible(arches: ModuleType) -> None:
    still = arches.draw_scene(5, n_u=500, n_v=110, n_moved=0, noise=0.003)
    reference, poured, regions = surfaces(still)
    plain = check(reference, poured, regions)
    shifted = check(
        reference, move_surface(poured, make_transform(np.array([0.0, 0.004, 0.002]), np.full(3, 0.2))), regions
    )
    assert moved_teeth(plain) == moved_teeth(shifted) == set()
    for one, two in zip(plain.units, shifted.units, strict=True):
        assert two.shift_mm == pytest.approx(one.shift_mm, abs=2e-4)


def test_uniform_scale_is_told_and_no_unit_is_called_odd(arches: ModuleType) -> None:
    base = arches.draw_scene(6, n_u=500, n_v=110, n_moved=0, noise=0.003)
    reference, _, regions = surfaces(base)
    scale = 1.0015
    vertices = base.poured[0].copy()
    inside = (vertices - base.T_poured_arch[:3, 3]) @ base.T_poured_arch[:3, :3]
    index, _ = base.arch.tooth_at(np.repeat((np.arange(490) + 0.5) / 490, 112))
    # crowns stay rigid, their lattice grows
    for tooth in range(14):
        c = base.arch.center(tooth)
        inside[index == tooth] += (scale - 1) * c
    placed = inside @ base.T_poured_arch[:3, :3].T + base.T_poured_arch[:3, 3]
    result = check(reference, Surface(placed, base.poured[1]), regions)
    assert result.scale_percent is not None
    assert result.scale_percent.value == pytest.approx(0.15, abs=0.01)
    assert len(result.stable_units) >= 13
    assert any(f.id == "cast-scale" for f in result.findings)
    assert len(moved_teeth(result)) <= 1
    # the raw shifts show the scale, as a rigid framework feels it
    far = max(result.units, key=lambda u: float(np.linalg.norm(u.about_mm[:2] - np.mean(base.seeds, axis=0)[:2])))
    assert np.linalg.norm(far.shift_mm) > 0.03


def test_half_arch_leaves_the_other_units_unjudged(arches: ModuleType) -> None:
    half = arches.draw_scene(7, n_u=500, n_v=110, n_moved=1, noise=0.003, keep_u=(0.0, 0.6))
    reference, poured, regions = surfaces(half)
    result = check(reference, poured, regions)
    assert half.target_error_um(result.T_reference_poured) < 30
    measured = {u.tooth for u in result.units if u.is_measured}
    assert measured >= set(TEETH[:8])
    for unit in result.units:
        if not unit.is_measured:
            assert unit.verdict is Verdict.CANNOT_TELL
            assert unit.shift_mm is None
    assert {f.about for f in result.findings if f.id == "cast-unit-not-found"} == set(TEETH) - measured


def test_watertight_poured_model_with_a_base_fits_an_open_reference(arches: ModuleType) -> None:
    based = arches.draw_scene(8, n_u=500, n_v=110, n_moved=3, noise=0.003, base=8.0)
    reference, poured, regions = surfaces(based)
    result = check(reference, poured, regions)
    assert based.target_error_um(result.T_reference_poured) < 4
    assert moved_teeth(result) == {TEETH[t] for t in based.arch.motions}


def test_mirrored_scan_is_refused_by_name(scene: object) -> None:
    reference, poured, regions = surfaces(scene)
    mirrored = Surface(poured.vertices_mm * np.array([1.0, -1.0, 1.0]), poured.faces[:, ::-1])
    with pytest.raises(CannotCompute, match="mirror image"):
        check(reference, mirrored, regions)


def test_another_arch_is_refused(arches: ModuleType, scene: object) -> None:
    reference, _, regions = surfaces(scene)
    other = arches.draw_scene(11, shape=arches.Arch(seed=77, width=60.0, depth=36.0), n_u=500, n_v=110, n_moved=0)
    with pytest.raises(CannotCompute, match="does not fit"):
        check(reference, Surface(*other.poured), regions)


def test_shape_that_fits_two_ways_is_refused() -> None:
    """A ring of equal bumps fits itself at every step around."""
    u, v = np.meshgrid(np.linspace(0, 2 * np.pi, 400), np.linspace(-1, 1, 60), indexing="ij")
    radius = 25 + 4 * v
    height = 4 * (1 - v**2) * (1 + 0.3 * np.cos(12 * u))
    vertices = np.stack([radius * np.cos(u), radius * np.sin(u), height], -1).reshape(-1, 3)
    at = np.arange(400 * 60).reshape(400, 60)
    a, b, c, d = (k.ravel() for k in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    ring = Surface(vertices, np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))
    regions = assign_regions(
        ring, [SeedRegion(t, vertices[k], 3.0) for t, k in (("11", 30), ("14", 8000), ("24", 16000))]
    )
    with pytest.raises(CannotCompute, match="two poses"):
        check(ring, move_surface(ring, make_transform(np.array([0.5, 0.2, 1.0]), np.zeros(3))), regions)


def test_one_unit_alone_is_refused(scene: object) -> None:
    reference, poured, regions = surfaces(scene)
    with pytest.raises(CannotCompute, match="only 1 unit "):
        check(reference, poured, regions[:1])


def test_two_groups_of_equal_size_leave_it_open(arches: ModuleType) -> None:
    turn, shift = np.zeros(3), np.array([0.0, 0.0, 0.2])
    shape = arches.Arch(seed=9, motions=dict.fromkeys(range(7), (turn, shift)))
    pair = arches.draw_scene(9, shape=replace(shape, motions={}), n_u=500, n_v=110, n_moved=0, noise=0.003)
    vertices, faces = shape.mesh(490, 112, offset=0.3, flip=True)
    reference, _, regions = surfaces(pair)
    result = check(reference, Surface(vertices, faces), regions)
    assert any(f.id == "cast-no-majority" for f in result.findings)
    assert {u.verdict for u in result.units} == {Verdict.CANNOT_TELL}


def test_missing_unit_is_reported_not_guessed(scene: object) -> None:
    reference, poured, regions = surfaces(scene)
    seed = scene.T_poured_arch[:3, :3] @ scene.seeds[4] + scene.T_poured_arch[:3, 3]  # type: ignore[attr-defined]
    far = np.linalg.norm(poured.vertices_mm[poured.faces].mean(axis=1) - seed, axis=1) > 6
    result = check(reference, keep_faces(poured, far), regions)
    [unit] = [u for u in result.units if not u.is_measured]
    assert unit.tooth == TEETH[4]
    assert unit.verdict is Verdict.CANNOT_TELL


def test_declared_repeatability_widens_every_uncertainty(scene: object, result: CastResult) -> None:
    wide = check(*surfaces(scene), repeatability=10.0)
    for one, two in zip(result.units, wide.units, strict=True):
        assert (two.u_shift_mm >= 0.010).all()
        assert (two.u_shift_mm > one.u_shift_mm).all()


def test_cannot_be_asked_with_values_out_of_range(scene: object) -> None:
    reference, poured, regions = surfaces(scene)
    for tolerance, repeatability in ((0, 1), (np.inf, 1), (50, -1)):
        with pytest.raises(ValueOutOfRange):
            check_cast(reference, poured, regions, tolerance_um=tolerance, repeatability_um=repeatability)


def test_progress_is_told_and_a_stop_is_obeyed(scene: object) -> None:
    told: list[float] = []
    check_cast(*surfaces(scene), tolerance_um=50, repeatability_um=0, progress=Progress(lambda f, _: told.append(f)))
    assert told == sorted(told)
    assert told[-1] == 1.0
    with pytest.raises(Cancelled):
        check_cast(*surfaces(scene), tolerance_um=50, repeatability_um=0, progress=Progress(should_stop=lambda: True))


def test_deviation_of_a_raised_crown_is_its_rise(arches: ModuleType) -> None:
    plain = arches.Arch(seed=4)
    raised = replace(plain, motions={7: (np.zeros(3), np.array([0.0, 0.0, 0.15]))})
    reference, poured = Surface(*plain.mesh(400, 100)), Surface(*raised.mesh(400, 100, offset=0.5))
    deviation = measure_deviation(reference, poured, np.eye(4))
    top = np.linalg.norm(reference.vertices_mm - plain.center(7), axis=1) < 1.0
    other = np.linalg.norm(reference.vertices_mm - plain.center(3), axis=1) < 2.0
    assert deviation.is_defined[top].all()
    assert 0.1 < np.median(deviation.distance_mm[top]) <= 0.152
    assert np.abs(deviation.distance_mm[other]).max() < 0.02
    away = measure_deviation(reference, poured, make_transform(np.zeros(3), np.array([500.0, 0, 0])))
    assert not away.is_defined.any()
    assert (away.distance_mm == 0).all()


@pytest.mark.parametrize(("seed", "radius_mm"), [(5, 8.0), (2, 12.0), (4, 12.0)])
def test_region_that_holds_two_teeth_gets_no_verdict(arches: ModuleType, seed: int, radius_mm: float) -> None:
    """The fit followed the neighbor, so that a die 0.2 to 0.3 mm off its place once conformed."""
    scene = arches.draw_scene(seed, n_u=500, n_v=110, n_moved=2, noise=0.005)
    moved = min(scene.arch.motions)
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)
    away = np.linalg.norm(scene.seeds - scene.seeds[moved], axis=1)
    specs = [SeedRegion(TEETH[moved], scene.seeds[moved], radius_mm)]
    specs += [SeedRegion(TEETH[k], scene.seeds[k], 2.5) for k in range(14) if away[k] > radius_mm]
    unit = check(reference, poured, assign_regions(reference, specs)).units[0]
    true, _ = scene.truth(moved, unit.about_mm)
    assert np.linalg.norm(true) > 0.2
    assert np.linalg.norm(unit.shift_mm) < 0.01
    assert unit.verdict is Verdict.CANNOT_TELL
    assert not unit.is_moved


def test_region_that_holds_two_teeth_is_told(arches: ModuleType) -> None:
    scene = arches.draw_scene(5, n_u=500, n_v=110, n_moved=2, noise=0.005)
    moved = min(scene.arch.motions)
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)
    specs = [
        SeedRegion(t, s, 8.0 if k == moved else 2.5) for k, (t, s) in enumerate(zip(TEETH, scene.seeds, strict=True))
    ]
    result = check(reference, poured, assign_regions(reference, specs))
    [told] = [f for f in result.findings if f.id == "cast-region-mixed"]
    assert told.about == TEETH[moved]
    assert "smaller radius" in told.do
