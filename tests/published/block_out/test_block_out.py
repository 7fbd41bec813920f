"""Block-out and relief against closed forms; every solid watertight by our count and by a general-purpose library's."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation
from tests.shapes import ball, box, joined, rod, turned

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.evidence import list_evidence
from seatwright.mesh import Surface, is_closed, measure_face_normals
from seatwright.survey import (
    Ledge,
    ReliefAsked,
    UndercutMap,
    block_out,
    lay_relief,
    ledges_at_tips,
    list_wax_steps,
    make_path,
    make_relief,
    measure_undercut,
    measure_undercut_volume_mm3,
    wire_gauge_mm,
)

SOURCE = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))
BAR = SOURCE["bar"]["volume_error"]
PLATE = box((16, 16, 1), edge=20, center=(0, 0, -0.5))
TAPER = [2.0, 6.0]


def field_of(part: Surface, *, plate: Surface = PLATE) -> UndercutMap:
    return measure_undercut(joined(plate, part), make_path((0, 0, -1.0)))


def frustum(bottom: float, top: float, height: float) -> float:
    return np.pi * height / 3 * (bottom**2 + bottom * top + top**2)


def check_watertight(solid: Surface) -> None:
    assert is_closed(solid)
    read = trimesh.Trimesh(solid.vertices_mm, solid.faces)
    assert read.is_watertight
    assert read.is_winding_consistent
    assert read.volume > 0


BALL, CONE = ball(4.0, subdivisions=5, center=(0, 0, 4.0)), turned(np.array([[2.0, 0], [4.0, 6.0]]), n_around=360)
UPRIGHT = rod(3.0, 10.0, sections=360)
LYING = Surface(UPRIGHT.vertices_mm[:, [0, 2, 1]] * [1, -1, 1] + np.array([0, 0, 3.0]), UPRIGHT.faces)
PLAIN = {
    "ball": (BALL, np.pi * 4**3 / 3),  # cylinder less half a ball
    "cone": (CONE, np.pi * 4**2 * 6 - frustum(2, 4, 6)),
    "lying rod": (LYING, 10 * 3**2 * (2 - np.pi / 2)),  # box less half a cylinder
}


@pytest.mark.parametrize("name", PLAIN)
def test_parallel_block_out_has_the_volume_of_the_closed_form(name) -> None:
    part, truth = PLAIN[name]
    field = field_of(part)
    filled = block_out(field)
    assert filled.volume_mm3 == pytest.approx(truth, rel=BAR)
    assert measure_undercut_volume_mm3(field) == pytest.approx(truth, rel=BAR)
    assert filled.solids
    for solid in filled.solids:
        check_watertight(solid)
        # parallel to the path: every face that is neither of the cast nor of the plate stands upright
        up = np.abs(measure_face_normals(solid)[:, 2])
        assert (up < 1e-6).sum() > 100


def tapered_post(taper_deg: float) -> float:
    wide = 3.0 + 5.0 * np.tan(np.radians(taper_deg))
    return frustum(wide, 3.0, 5.0) - np.pi * 9 * 5


def tapered_ball(taper_deg: float) -> float:
    """The tool touches above the equator, where the ball's side has its slope; from there a cone runs down."""
    t = np.radians(taper_deg)
    radius, height = 4 * np.cos(t), 4 * (1 + np.sin(t))
    below = np.pi * height**2 * (12 - height) / 3  # segment of a ball up to that height
    return frustum(radius + height * np.tan(t), radius, height) - below


@pytest.mark.parametrize("taper_deg", TAPER)
@pytest.mark.parametrize(("part", "truth"), [(rod(3.0, 5.0, center=(0, 0, 2.5)), tapered_post), (BALL, tapered_ball)])
def test_tapered_block_out_has_the_volume_of_the_closed_form(part, truth, taper_deg) -> None:
    filled = block_out(field_of(part), taper_deg=taper_deg)
    assert filled.volume_mm3 == pytest.approx(truth(taper_deg), rel=BAR)
    for solid in filled.solids:
        check_watertight(solid)


def test_taper_adds_and_a_tilted_path_turns_the_solids_with_it() -> None:
    field = field_of(BALL)
    volumes = [block_out(field, taper_deg=taper).volume_mm3 for taper in (0.0, 2.0, 6.0)]
    assert volumes == sorted(volumes)
    turn = Rotation.from_euler("xyz", [20, -35, 50], degrees=True)
    whole = joined(PLATE, BALL)
    moved = Surface(turn.apply(np.array(whole.vertices_mm)), whole.faces)
    tilted = block_out(measure_undercut(moved, make_path(turn.apply([0, 0, -1.0]))))
    assert tilted.volume_mm3 == pytest.approx(volumes[0], rel=0.005)
    low = turn.inv().apply(np.array(tilted.solids[0].vertices_mm))
    assert low[:, 2].min() == pytest.approx(0, abs=1e-6)
    assert np.hypot(low[:, 0], low[:, 1]).max() == pytest.approx(4.0, abs=0.02)


def test_ledge_leaves_the_tooth_bare_above_the_arm_s_lower_border() -> None:
    part = turned(np.array([[2.0, 0], [4.0, 6.0]]), n_around=360)
    border = np.array([[4 * np.cos(a), 4 * np.sin(a), 3.0] for a in np.linspace(-0.3, 0.3, 9)])
    plain, stepped = block_out(field_of(part)), block_out(field_of(part), ledges=(Ledge(border, 1.0),))
    check_watertight(stepped.solids[0])
    assert stepped.volume_mm3 < plain.volume_mm3
    points = stepped.solids[0].vertices_mm
    near = (np.abs(np.arctan2(points[:, 1], points[:, 0])) < 0.25) & (points[:, 0] > 3.3)
    assert points[near, 2].max() == pytest.approx(3.0, abs=1e-6)


def test_block_out_stays_under_the_faces_it_is_wanted_under() -> None:
    field = field_of(CONE)
    centers = field.surface.vertices_mm[field.surface.faces].mean(axis=1)
    half = block_out(field, wanted=centers[:, 0] > 0)
    assert half.volume_mm3 == pytest.approx(block_out(field).volume_mm3 / 2, rel=0.03)
    check_watertight(half.solids[0])


def test_air_with_nothing_below_is_no_undercut_to_fill() -> None:
    lone = measure_undercut(ball(3.0), make_path((0, 0, -1.0)))
    assert block_out(lone).solids == ()
    assert measure_undercut_volume_mm3(lone) == 0.0


@pytest.mark.parametrize("taper", [-1.0, 40.0, np.nan])
def test_taper_that_is_none_is_refused(taper) -> None:
    with pytest.raises(ValueOutOfRange):
        block_out(field_of(CONE), taper_deg=taper)


@pytest.mark.parametrize("thickness", [0.255, 1.0])
def test_relief_on_a_ball_and_on_a_plate_has_the_closed_form_s_volume(thickness) -> None:
    surface = ball(6.0, subdivisions=5)
    centers = surface.vertices_mm[surface.faces].mean(axis=1)
    cap = make_relief(surface, centers[:, 2] > 2.0, thickness_mm=thickness)
    check_watertight(cap.solid)
    share = cap.area_mm2 / (4 * np.pi * 36)
    assert cap.volume_mm3 == pytest.approx(share * 4 * np.pi / 3 * ((6 + thickness) ** 3 - 6**3), rel=0.005)
    plate = box((10, 10, 2), edge=1.0)
    pad = make_relief(plate, measure_face_normals(plate)[:, 2] > 0.9, thickness_mm=thickness)
    check_watertight(pad.solid)
    assert pad.volume_mm3 == pytest.approx(100 * thickness, rel=1e-9)
    assert (cap.n_folded, pad.n_folded) == (0, 0)


@pytest.mark.parametrize("thickness", [0.0, -1.0, np.inf, 9.0])
def test_relief_without_a_thickness_is_refused(thickness) -> None:
    with pytest.raises(ValueOutOfRange):
        make_relief(BALL, np.arange(BALL.n_faces) < 9, thickness_mm=thickness)


@pytest.mark.parametrize(("gauge", "printed"), SOURCE["wire_gauge"]["thickness_mm"].items())
def test_wire_gauge_gives_the_table_s_thickness(gauge, printed) -> None:
    assert f"{wire_gauge_mm(int(gauge)):.3f}" == printed
    table = [r for r in list_evidence("survey") if r.quantity == f"thickness of {gauge}-gauge sheet wax"]
    assert [f"{r.require_value():.3f}" for r in table] == [printed]


def test_wax_steps_name_taper_ledge_and_sheet() -> None:
    field = field_of(CONE)
    border = np.array([[4.0, -1, 3.0], [4.0, 1, 3.0]])
    fill = block_out(field, taper_deg=2.0, ledges=(Ledge(border),))
    pad = make_relief(PLATE, measure_face_normals(PLATE)[:, 2] > 0.9, thickness_mm=wire_gauge_mm(30))
    text = " ".join(list_wax_steps(fill, (pad,)))
    assert "2 degree" in text
    assert "ledge" in text
    assert "30-gauge sheet wax (0.25 mm)" in text


def test_a_cast_without_undercut_asks_for_no_wax() -> None:
    fill = block_out(field_of(box((20.0, 20.0, 2.0), edge=2.0)))
    assert fill.volume_mm3 == pytest.approx(0.0, abs=1e-6)
    steps = " ".join(list_wax_steps(fill))
    assert "No undercut to block out" in steps
    assert "Trim the wax" not in steps


def test_relief_by_gauge_within_a_reach_has_the_closed_form_s_area_and_volume() -> None:
    # All points of a sphere within a chord c of one of them make a cap of area pi c², whatever the radius.
    pads, notes = lay_relief(ball(6.0, subdivisions=5), [ReliefAsked(24, 3.0, np.array([[0.0, 0.0, 6.0]]))])
    thickness = wire_gauge_mm(24)
    assert pads[0].area_mm2 == pytest.approx(np.pi * 9, rel=0.005)
    shell = 4 * np.pi / 3 * ((6 + thickness) ** 3 - 6**3)
    assert pads[0].volume_mm3 == pytest.approx(np.pi * 9 / (4 * np.pi * 36) * shell, rel=BAR)
    check_watertight(pads[0].solid)
    # On a level plate a strip along a line of length l is a rectangle with two half discs.
    plate, line = box((20, 20, 2), edge=0.5, center=(0, 0, -1)), np.array([[-4.0, 0, 0], [0, 0, 0], [4.0, 0, 0]])
    strips, _ = lay_relief(plate, [ReliefAsked(30, 2.0, line)])
    assert strips[0].area_mm2 == pytest.approx(8 * 4 + np.pi * 4, rel=0.005)
    assert strips[0].volume_mm3 == pytest.approx(strips[0].area_mm2 * wire_gauge_mm(30), rel=1e-6)
    check_watertight(strips[0].solid)
    assert not notes


def test_relief_covers_the_piece_under_its_line_and_not_one_behind_it() -> None:
    thin = joined(box((10, 10, 1), edge=0.5, center=(0, 0, -0.5)), box((10, 10, 1), edge=0.5, center=(0, 0, -2.5)))
    (pad,), _ = lay_relief(thin, [ReliefAsked(30, 2.5, np.array([[0.0, 0.0, 0.0]]))])
    assert pad.solid.vertices_mm[:, 2].min() == pytest.approx(0.0)
    with pytest.raises(CannotCompute, match="off the surface"):
        lay_relief(thin, [ReliefAsked(30, 2.5, np.array([[0.0, 0.0, 9.0]]))])
    for wrong in (ReliefAsked(99, 2.0, np.zeros((1, 3))), ReliefAsked(30, -1.0, np.zeros((1, 3)))):
        with pytest.raises(ValueOutOfRange):
            lay_relief(thin, [wrong])


def test_ledge_under_a_clasp_tip_lies_half_a_millimeter_below_it_and_level() -> None:
    field = field_of(CONE)
    tip = np.array([2.0 + 3.5 / 3.0, 0.0, 3.5])  # on the cone's wall
    ledges, notes = ledges_at_tips(field, [tip])
    assert not notes
    points = block_out(field, ledges=ledges).solids[0].vertices_mm
    near = (np.abs(points[:, 1]) < 1.4) & (points[:, 0] > 2.5)
    assert points[near, 2].max() == pytest.approx(3.0, abs=1e-6)
    none, notes = ledges_at_tips(field, [np.array([0.0, 0.0, 6.0]), np.array([0.0, 20.0, 9.0])])
    assert not none
    assert [n.id for n in notes] == ["ledge-not-cut"] * 2
