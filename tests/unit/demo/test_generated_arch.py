"""Generated arches: closed, outward, as noisy as asked, and true to what was moved."""

from functools import cache

import numpy as np
import pytest
from tests.unit.demo.surface_checks import edge_uses, face_normals, n_equally_directed_edges, volume_mm3

from seatwright.case import Arch
from seatwright.demo import (
    ArchSpec,
    Form,
    GeneratedScan,
    Movement,
    ToothPart,
    draw_pose,
    generate_arch,
    make_demo_spec,
    make_random_spec,
    make_spec,
)
from seatwright.demo._field import make_arch_field
from seatwright.demo._scan import _place_grid
from seatwright.demo._surface import _sample_near_surface, measure_gradients
from seatwright.errors import ValueOutOfRange
from seatwright.progress import SILENT
from seatwright.quantities import apply_transform, invert_transform

GRID_MM = 0.4
MOVE = Movement(shift_mm=(0.05, -0.02, 0.18), turn_rad=(0.02, 0.0, 0.01))


@cache
def scan(*, seed: int = 1, noise_um: float = 0.0, closed_base: bool = False) -> GeneratedScan:
    rng = np.random.default_rng(seed)
    return generate_arch(make_demo_spec(), grid_mm=GRID_MM, rng=rng, noise_um=noise_um, closed_base=closed_base)


@cache
def moved_scan() -> GeneratedScan:
    rng = np.random.default_rng(2)
    return generate_arch(make_demo_spec(), grid_mm=GRID_MM, rng=rng, noise_um=0.0, movements={44: MOVE})


def own_surface(made: GeneratedScan, tooth: int, *, apart_mm: float = 0.6) -> np.ndarray:
    """Vertices of one unit that no rounding towards gum or neighbors reaches."""
    field = made.truth.field
    points = made.vertices_mm[field.nearest_unit(made.vertices_mm) == tooth]
    others = [field.gum(points)]
    others += [s.distance(s.to_local(points)) for s in field.solids if s.tooth != tooth]
    own = points[np.min(others, axis=0) > apart_mm]
    assert len(own) > 200
    return own


def test_closed_model_is_closed_manifold_and_outward() -> None:
    made = scan(closed_base=True)
    assert (edge_uses(made.faces) == 2).all()
    assert n_equally_directed_edges(made.faces) == 0
    # judgement: a trimmed lower cast of this size is a few tens of milliliters
    assert 15e3 < volume_mm3(made.vertices_mm, made.faces) < 60e3


def test_open_scan_is_manifold_with_a_level_rim_under_the_land() -> None:
    made = scan()
    uses = edge_uses(made.faces)
    assert set(np.unique(uses)) == {1, 2}
    assert n_equally_directed_edges(made.faces) == 0
    level = made.truth.field.ridge.land_mm - 2.0
    assert made.vertices_mm[:, 2].min() == pytest.approx(level)
    assert (uses == 1).sum() == pytest.approx((np.abs(made.vertices_mm[:, 2] - level) < 1e-9).sum(), abs=3)


@pytest.mark.parametrize("arch", list(Arch))
@pytest.mark.parametrize("n_missing", [0, 5])
def test_random_arches_are_closed_manifold_and_outward(arch: Arch, n_missing: int) -> None:
    rng = np.random.default_rng(n_missing)
    spec = make_random_spec(arch, rng, n_missing=n_missing)
    made = generate_arch(spec, grid_mm=0.55, rng=rng, closed_base=True)
    assert len(spec.teeth) == 14 - n_missing
    assert (edge_uses(made.faces) == 2).all()
    assert n_equally_directed_edges(made.faces) == 0
    assert volume_mm3(made.vertices_mm, made.faces) > 0


def test_no_face_is_degenerate_and_all_but_contact_webs_face_along_the_gradient() -> None:
    made = scan()
    normals = face_normals(made.vertices_mm, made.faces)
    twice_area = np.linalg.norm(normals, axis=1)
    assert twice_area.min() / 2 > 1e-4 * GRID_MM**2
    _, gradient = measure_gradients(made.truth.field, made.vertices_mm[made.faces].mean(axis=1))
    slope = np.linalg.norm(gradient, axis=1)
    cosine = np.einsum("ij,ij->i", normals, gradient) / twice_area / slope
    # in the webs between touching crowns the field is flat and its gradient says little: a few faces in 10 000
    clear = slope > 0.5
    assert clear.mean() > 0.99
    assert (cosine[clear] > 0).all()
    assert (cosine < 0.2).mean() < 5e-4


def test_noiseless_vertices_lie_on_the_analytic_surface() -> None:
    made = scan()
    up = made.vertices_mm[:, 2] > made.truth.field.ridge.land_mm - 1.5
    off = np.abs(made.truth.field(made.vertices_mm[up]))
    assert np.quantile(off, 0.995) < 1e-5


def test_vertices_far_from_blocks_that_were_sampled_have_the_sign_of_the_whole_field() -> None:
    field = make_arch_field(make_demo_spec(), closed_base=True)
    grid = _place_grid(field, 0.6, np.random.default_rng(3))
    sampled = _sample_near_surface(field, grid, SILENT)
    index = np.argwhere(np.ones(sampled.shape, dtype=bool))
    some = index[np.random.default_rng(0).choice(len(index), 120_000, replace=False)]
    whole = field(grid.points_at(some))
    assert ((sampled[tuple(some.T)] < 0) == (whole < 0)).all()


def test_noise_is_as_large_as_asked_and_independent() -> None:
    quiet, noisy = scan(), scan(noise_um=10.0)
    assert (quiet.faces == noisy.faces).all()
    along = np.linalg.norm(noisy.vertices_mm - quiet.vertices_mm, axis=1) * 1e3
    n = len(along)
    # standard error of a root mean square of n independent normal values: 1 / sqrt(2 n)
    assert np.sqrt(np.mean(along**2)) == pytest.approx(10.0, rel=4 / np.sqrt(2 * n))
    value, gradient = measure_gradients(noisy.truth.field, noisy.vertices_mm)
    signed = value / np.linalg.norm(gradient, axis=1)
    a, b = noisy.faces[:, 0], noisy.faces[:, 1]
    keep = (np.abs(signed[a]) < 0.04) & (np.abs(signed[b]) < 0.04)
    assert abs(np.corrcoef(signed[a][keep], signed[b][keep])[0, 1]) < 0.05


def test_correlated_noise_has_its_size_and_its_length() -> None:
    quiet = scan()
    noisy = generate_arch(
        make_demo_spec(),
        grid_mm=GRID_MM,
        rng=np.random.default_rng(1),
        noise_um=0.0,
        correlated_um=20.0,
        correlation_mm=2.0,
    )
    step = noisy.vertices_mm - quiet.vertices_mm
    normals = face_normals(quiet.vertices_mm, quiet.faces)
    at = quiet.faces[:, 0]
    along = np.einsum("ij,ij->i", step[at], normals / np.linalg.norm(normals, axis=1)[:, None]) * 1e3
    # few independent patches of 2 mm on the arch: the sample's size is known to about a sixth
    assert np.std(along) == pytest.approx(20.0, rel=0.17)
    rng = np.random.default_rng(0)
    one, other = rng.integers(0, len(at), (2, 400_000))
    apart = np.linalg.norm(quiet.vertices_mm[at[one]] - quiet.vertices_mm[at[other]], axis=1)
    for low, high in ((0.3, 0.7), (1.8, 2.2), (3.8, 4.2)):
        pairs = (apart > low) & (apart < high)
        measured = np.mean(along[one[pairs]] * along[other[pairs]]) / np.mean(along**2)
        assert measured == pytest.approx(np.exp(-(((low + high) / 2) ** 2) / 8), abs=0.17)


def test_moved_unit_lies_on_its_planned_surface_after_moving_back() -> None:
    made = moved_scan()
    back = invert_transform(made.truth.T_moved_planned[44])
    planned = make_arch_field(make_demo_spec(), closed_base=False)
    points = own_surface(made, 44)
    assert np.abs(planned.unit_field(44, apply_transform(back, points))).max() < 1e-5
    assert np.abs(planned.unit_field(44, points)).max() > 0.1


def test_movement_is_a_turn_about_the_stated_point_then_a_shift() -> None:
    truth = moved_scan().truth
    middle = truth.field.middle_mm(44)
    assert truth.shift_mm(44, middle) == pytest.approx(MOVE.shift_mm)
    assert truth.turn_rad(44) == pytest.approx(MOVE.turn_rad)
    arm = np.array([0.0, 0.0, 6.0])
    assert truth.shift_mm(44, middle + arm) == pytest.approx(
        np.array(MOVE.shift_mm) + np.cross(MOVE.turn_rad, arm), abs=6 * 0.0225**2
    )


def test_units_not_moved_and_the_gum_stay() -> None:
    planned = make_arch_field(make_demo_spec(), closed_base=False)
    made = moved_scan()
    assert np.abs(planned.unit_field(43, own_surface(made, 43))).max() < 1e-5
    assert made.truth.shift_mm(43, np.array([10.0, 0.0, 0.0])) == pytest.approx([0, 0, 0])


def test_scaled_lattice_spreads_the_units_and_leaves_each_its_size() -> None:
    rng = np.random.default_rng(4)
    made = generate_arch(make_demo_spec(), grid_mm=GRID_MM, rng=rng, noise_um=0.0, lattice_scale=1.002)
    field = make_arch_field(make_demo_spec(), closed_base=False)
    moves = made.truth.T_moved_planned
    before = {t: field.middle_mm(t) for t in moves}
    after = {t: before[t] + made.truth.shift_mm(t, before[t]) for t in moves}
    assert np.linalg.norm(after[37] - after[44]) == pytest.approx(1.002 * np.linalg.norm(before[37] - before[44]))
    points = own_surface(made, 44)
    assert np.abs(field.unit_field(44, apply_transform(invert_transform(moves[44]), points))).max() < 1e-5


def test_bridge_that_stays_one_body_moves_with_its_links_and_bar() -> None:
    move = Movement(shift_mm=(0.0, 0.0, 0.3), about_mm=(0.0, 0.0, 0.0))
    rng = np.random.default_rng(5)
    made = generate_arch(
        make_demo_spec(), grid_mm=GRID_MM, rng=rng, noise_um=0.0, movements=dict.fromkeys((33, 34, 35), move)
    )
    marks = {s.name: s for s in made.truth.field.solids}
    planned = {s.name: s for s in made.truth.field.planned}
    for name in ("link-33-34", "link-34-35", "bar-33-42", "slide-35"):
        mark = planned[name].to_patient(planned[name].mark_mm)
        assert marks[name].to_patient(marks[name].mark_mm) - mark == pytest.approx([0, 0, 0.3])


def test_pose_turns_the_whole_scan_and_nothing_else() -> None:
    pose = draw_pose(np.random.default_rng(9))
    posed = generate_arch(
        make_demo_spec(), grid_mm=GRID_MM, rng=np.random.default_rng(1), noise_um=0.0, T_scan_patient=pose
    )
    assert apply_transform(invert_transform(pose), posed.vertices_mm) == pytest.approx(scan().vertices_mm, abs=1e-9)
    assert np.linalg.det(pose[:3, :3]) == pytest.approx(1.0)


def test_same_seed_gives_the_same_scan_and_another_seed_another_tessellation() -> None:
    again = generate_arch(make_demo_spec(), grid_mm=GRID_MM, rng=np.random.default_rng(1), noise_um=0.0)
    assert (again.vertices_mm == scan().vertices_mm).all()
    assert (again.faces == scan().faces).all()
    other = scan(seed=6)
    field = scan().truth.field
    assert np.quantile(np.abs(field(other.vertices_mm)), 0.97) < 1e-5
    shared = np.isin(np.round(other.vertices_mm[:, 0], 6), np.round(again.vertices_mm[:, 0], 6))
    assert shared.mean() < 0.05


def test_distance_between_first_molars_is_that_of_the_layout() -> None:
    made = generate_arch(make_spec(Arch.MANDIBLE), grid_mm=GRID_MM, rng=np.random.default_rng(0), noise_um=0.0)
    field = made.truth.field
    unit = field.nearest_unit(made.vertices_mm)
    left, right = (made.vertices_mm[unit == tooth] for tooth in (36, 46))
    centers = [(side.max(axis=0) + side.min(axis=0)) / 2 for side in (left, right)]
    # crowns lean, so that the middle of their extent lies up to a millimeter from the arch curve
    assert centers[0][0] - centers[1][0] == pytest.approx(2 * 24.53, abs=1.5)
    # mirrored arch, one tessellation: equal to a tenth of the grid
    assert centers[0][0] + centers[1][0] == pytest.approx(0.0, abs=GRID_MM / 4)


def test_saddle_lies_lower_than_the_gum_line_of_its_neighbors_and_the_bar_keeps_its_gap() -> None:
    field = make_arch_field(make_demo_spec(), closed_base=False)
    line = {t: field.ridge.crest_at(field.frames[t].along_mm) for t in field.frames}
    assert line[36] < min(line[35], line[37]) - 1.0
    bar = next(s for s in field.solids if s.name == "bar-33-42")
    under = bar.mark_mm - np.array([0.0, 0.0, 2 * 1.1])
    column = np.column_stack([np.full(400, under[0]), np.full(400, under[1]), under[2] - np.linspace(0, 6, 400)])
    gap = 6 * np.argmax(field.gum(column) < 0) / 399
    # 2 mm over the highest crest under it; elsewhere the ridge falls away
    assert gap + 0.05 >= 2.0
    assert gap < 3.6


def test_wall_of_the_coping_leans_by_its_taper() -> None:
    made = scan()
    solid = next(s for s in made.truth.field.solids if s.name == "conus-37")
    local = solid.to_local(own_surface(made, 37))
    normals = measure_gradients(solid.distance, local)[1]
    wall = (local[:, 2] > 2.4) & (local[:, 2] < 5.0)
    lean = np.degrees(np.arcsin(normals[wall, 2] / np.linalg.norm(normals[wall], axis=1)))
    assert wall.sum() > 100
    assert lean == pytest.approx(6.0, abs=0.05)


@pytest.mark.parametrize("grid_mm", [0.01, 1.0])
def test_grid_out_of_range_is_refused(grid_mm: float) -> None:
    with pytest.raises(ValueOutOfRange, match="grid_mm"):
        generate_arch(make_demo_spec(), grid_mm=grid_mm, rng=np.random.default_rng(0))


def test_moving_a_tooth_that_is_not_there_is_refused() -> None:
    with pytest.raises(ValueOutOfRange, match="46"):
        generate_arch(make_demo_spec(), grid_mm=0.6, rng=np.random.default_rng(0), movements={46: MOVE})


def test_tooth_of_the_other_arch_or_twice_is_refused() -> None:
    for teeth in ((ToothPart(11),), (ToothPart(44), ToothPart(44, Form.CROWN))):
        with pytest.raises(ValueOutOfRange, match="its own"):
            ArchSpec(Arch.MANDIBLE, teeth)
