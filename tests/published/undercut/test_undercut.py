"""The undercut field against closed forms: sphere, torus, cone, inclined walls, plates, several bodies, any path."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from tests.shapes import Array, ball, box, joined, rod, torus, turned

from seatwright.mesh import Surface
from seatwright.survey import Quality, UndercutFlag, make_path, measure_undercut

SOURCE = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))
DOWN = (0.0, 0.0, -1.0)
BAR_UM = {Quality.GAUGE: SOURCE["bar"]["gauge_p99_um"], Quality.DISPLAY: SOURCE["bar"]["display_p99_um"]}
LIMIT = 2.0


def reads(surface: Surface, truth: Array, *, seat: tuple[float, ...] = DOWN, quality: Quality = Quality.GAUGE) -> float:
    """99th percentile of the error, µm, over the vertices whose true undercut lies within the limit."""
    field = measure_undercut(surface, make_path(np.array(seat)), max_undercut_mm=LIMIT, quality=quality)
    counted = truth < 0.98 * LIMIT
    assert (counted & (truth > 0)).sum() > 20, "the check must have something to measure"
    assert not (counted & (field.flags == UndercutFlag.BEYOND)).any()
    return 1e3 * float(np.percentile(np.abs(field.undercut_mm - truth)[counted], 99))


def ball_truth(points: Array, center: Array, radius: float, seat: tuple[float, ...]) -> Array:
    """A point of the lower half needs the way out to the equator: r - rho."""
    up = -np.array(seat) / np.linalg.norm(seat)
    from_center = points - center
    height = from_center @ up
    aside = np.linalg.norm(from_center - height[:, None] * up, axis=1)
    return np.where(height < -1e-9, radius - aside, 0.0)


@pytest.mark.parametrize("quality", list(Quality))
@pytest.mark.parametrize("seat", [DOWN, (0.3, -0.5, -1.0), (0.0, 0.2, 1.0)])
def test_ball_along_any_path_reads_the_way_to_its_equator(seat, quality) -> None:
    surface = ball(5.0, subdivisions=6)
    truth = ball_truth(surface.vertices_mm, np.zeros(3), 5.0, seat)
    assert reads(surface, truth, seat=seat, quality=quality) <= BAR_UM[quality]


@pytest.mark.parametrize("quality", list(Quality))
def test_torus_reads_the_way_out_or_into_its_hole(quality) -> None:
    surface = torus(8.0, 2.5)
    aside = np.hypot(*surface.vertices_mm[:, :2].T)
    truth = np.where(surface.vertices_mm[:, 2] < -1e-9, np.minimum(10.5 - aside, aside - 5.5), 0.0)
    assert reads(surface, truth, quality=quality) <= BAR_UM[quality]


@pytest.mark.parametrize("quality", list(Quality))
def test_cone_that_widens_upwards_reads_the_way_to_its_rim(quality) -> None:
    surface = turned(np.stack([np.linspace(1, 4, 60), np.linspace(0, 6, 60)], 1), n_around=1440)
    aside = np.hypot(*surface.vertices_mm[:, :2].T)
    truth = np.where(surface.vertices_mm[:, 2] < 6 - 1e-9, 4 - aside, 0.0)
    assert reads(surface, truth, quality=quality) <= BAR_UM[quality]


@pytest.mark.parametrize("tilt_deg", [10.0, 35.0])
def test_inclined_round_wall_reads_the_way_to_its_side_line(tilt_deg) -> None:
    # A long cylinder of radius 3 that leans: under it, away from the ends, the gap runs square to its axis: 3 - |y|.
    outline = np.stack([np.full(301, 3.0), np.linspace(-30, 30, 301)], 1)
    upright = turned(outline, n_around=360)
    lean = Rotation.from_euler("y", 90 - tilt_deg, degrees=True)
    points = lean.apply(np.array(upright.vertices_mm))
    amid = np.abs(upright.vertices_mm[:, 2]) < 8
    up_there = lean.inv().apply([0, 0, 1.0])
    is_under = (upright.vertices_mm[:, :2] @ up_there[:2]) < -1e-9
    truth = np.where(amid, np.where(is_under, 3 - np.abs(points[:, 1]), 0.0), np.inf)
    assert reads(Surface(points, upright.faces), truth) <= BAR_UM[Quality.GAUGE]


def test_leaning_wall_reads_drop_times_tangent_and_never_through_its_own_thickness() -> None:
    plate = box((1.0, 20.0, 12.0), edge=0.5)
    lean = Rotation.from_euler("y", 20, degrees=True)
    surface = Surface(lean.apply(np.array(plate.vertices_mm)), plate.faces)
    drop = (6 - plate.vertices_mm[:, 2]) * np.cos(np.radians(20))
    is_under = (plate.vertices_mm[:, 0] > 0.49) & (np.abs(plate.vertices_mm[:, 1]) < 7)
    truth = np.where(is_under, drop * np.tan(np.radians(20)), np.inf)
    for quality in Quality:
        assert reads(surface, truth, quality=quality) <= BAR_UM[quality]
    four = 4 * np.tan(np.radians(20))
    assert f"{four:.3f}" == SOURCE["expected"]["plate_mm"]
    assert f"{1 / np.cos(np.radians(20)):.3f}" == SOURCE["expected"]["plate_through_itself_mm"]


def test_level_plate_under_a_cap_reads_the_way_to_the_cap_s_edge() -> None:
    plate, stem, cap = (
        box((16, 16, 1), edge=0.2, center=(0, 0, -0.5)),
        rod(0.5, 2, center=(0, 0, 1)),
        rod(2, 1, center=(0, 0, 2.5)),
    )
    aside = np.hypot(*plate.vertices_mm[:, :2].T)
    on_top = (plate.vertices_mm[:, 2] > -0.01) & (aside > 0.51)
    truth = np.full(plate.n_vertices + stem.n_vertices + cap.n_vertices, np.inf)
    truth[: plate.n_vertices] = np.where(on_top, np.maximum(2 - aside, 0.0), np.inf)
    surface = joined(plate, stem, cap)
    assert reads(surface, truth) <= BAR_UM[Quality.GAUGE]
    field = measure_undercut(surface, make_path(DOWN))
    at_one = np.flatnonzero(on_top & (np.abs(aside - 1.0) < 1e-9))
    assert len(at_one)
    assert {f"{u:.3f}" for u in field.undercut_mm[at_one]} == {SOURCE["expected"]["plateau_mm"]}


def test_several_bodies_read_each_its_own_gap_and_hide_each_other() -> None:
    # A ball of radius 2 above a level plate: the plate reads 2 - rho in its shadow; a second ball stands apart.
    under = box((9.0, 9.0, 1.0), edge=0.15, center=(0, 0, -5.5))
    over, apart = ball(2.0, subdivisions=6), ball(1.5, center=(9, 0, 0))
    surface = joined(under, over, apart)
    aside = np.hypot(*under.vertices_mm[:, :2].T)
    on_top = under.vertices_mm[:, 2] > -5.01
    truth = np.concatenate(
        [
            np.where(on_top, np.maximum(2 - aside, 0), np.inf),
            ball_truth(over.vertices_mm, np.zeros(3), 2.0, DOWN),
            ball_truth(apart.vertices_mm, np.array([9.0, 0, 0]), 1.5, DOWN),
        ]
    )
    assert reads(surface, truth) <= BAR_UM[Quality.GAUGE]
    assert any(f.id == "several-bodies" for f in measure_undercut(surface, make_path(DOWN)).findings)


def test_vertex_within_another_body_reads_zero_with_a_flag() -> None:
    surface = joined(ball(3.0), ball(3.0, center=(4.0, 0, 0)))
    field = measure_undercut(surface, make_path(DOWN))
    half = surface.n_vertices // 2
    other = np.where(np.arange(surface.n_vertices)[:, None] < half, [[4.0, 0, 0]], [[0.0, 0, 0]])
    depth = 3.0 - np.linalg.norm(surface.vertices_mm - other, axis=1)
    clear = np.abs(depth) > 0.02  # the meshed ball lies up to 5 µm within the round one
    assert ((depth > 0) & clear).sum() > 100
    assert ((field.flags == UndercutFlag.INSIDE) == (depth > 0))[clear].all()
    assert not field.undercut_mm[field.flags == UndercutFlag.INSIDE].any()
