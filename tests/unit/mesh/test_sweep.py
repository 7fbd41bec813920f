"""Many directions at once: volumes under overhangs and gauge readings against closed forms."""

import math

import numpy as np
import pytest
from tests.unit.survey.shapes import box, join, lean, revolve

from seatwright.errors import ValueOutOfRange
from seatwright.mesh import Surface, coarsen_surface, crop_surface, sweep_gaps, sweep_voids

Z = np.array([0.0, 0.0, 1.0])


def sphere(radius_mm: float, n: int = 240) -> Surface:
    polar = np.linspace(math.pi, 0.0, n // 2)
    return revolve([(radius_mm * math.sin(t), radius_mm * math.cos(t)) for t in polar], n)


def mushroom() -> Surface:
    """A plate, a stem of radius 1 and 3 high, a cap of radius 3 and 1 thick; one closed skin."""
    return revolve([(6.0, 0.0), (1.0, 0.0), (1.0, 3.0), (3.0, 3.0), (3.0, 4.0), (0.0, 4.0)], 240)


@pytest.mark.parametrize(("pitch_mm", "allowed"), [(0.2, 0.02), (0.05, 0.005)])
def test_the_hollow_under_a_cap_is_its_ring_times_the_stem(pitch_mm: float, allowed: float) -> None:
    swept = sweep_voids(mushroom(), Z, centers_mm=np.zeros((1, 3)), radius_mm=8.0, pitch_mm=pitch_mm)
    assert swept.near_mm3[0, 0] == pytest.approx(math.pi * (9.0 - 1.0) * 3.0, rel=allowed)
    assert swept.elsewhere_mm3[0] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("tilt", [0.0, 8.0])
def test_a_base_under_the_cast_changes_nothing(tilt: float) -> None:
    """A scan closed by its base hollows the same: the base is the lowest surface, and no overhang."""
    rim = [(6.0, 0.0), (1.0, 0.0), (1.0, 3.0), (3.0, 3.0), (3.0, 4.0), (0.0, 4.0)]
    on_base = revolve([(0.0, -3.0), (6.0, -3.0), *rim], 240)
    where = {"centers_mm": np.zeros((1, 3)), "radius_mm": 4.5, "pitch_mm": 0.05}
    plain, closed = (sweep_voids(s, lean(tilt, 0.0), **where).near_mm3[0, 0] for s in (mushroom(), on_base))
    assert closed == pytest.approx(plain, rel=0.01)


def test_hollows_are_told_apart_by_center_and_radius() -> None:
    two = join(mushroom(), Surface(mushroom().vertices_mm + np.array([20.0, 0.0, 0.0]), mushroom().faces))
    swept = sweep_voids(two, Z, centers_mm=np.array([[0.0, 0, 0]]), radius_mm=8.0, pitch_mm=0.1)
    assert swept.near_mm3[0, 0] == pytest.approx(swept.elsewhere_mm3[0], rel=0.01)


def test_a_block_tilted_over_a_floor_hollows_the_wedge_beside_it() -> None:
    """A wall h high leaning over by t shadows a wedge: section h^2 sin t cos t / 2, seen along the path."""
    floor_and_block = revolve_free_block()
    for tilt in (5.0, 12.0):
        swept = sweep_voids(
            floor_and_block, lean(tilt, 0.0), centers_mm=np.zeros((1, 3)), radius_mm=40.0, pitch_mm=0.02
        )
        t = math.radians(tilt)
        wedge = 4.0 * 4.0 * math.tan(t) / 2.0 * 6.0  # height 4, breadth 6: area on the floor h tan t, triangle under it
        assert swept.near_mm3[0, 0] == pytest.approx(wedge, rel=0.02)


def revolve_free_block() -> Surface:
    """A floor with a block of 4 by 6 by 4 on it, as one open skin: floor around the foot, walls, roof."""
    x, y = np.array([-10.0, -2.0, 2.0, 10.0]), np.array([-10.0, -3.0, 3.0, 10.0])
    low = np.array([[a, b, 0.0] for a in x for b in y])
    roof = np.array([[a, b, 4.0] for a in x[1:3] for b in y[1:3]])
    faces = []
    for i in range(3):
        for j in range(3):
            if (i, j) != (1, 1):
                p = 4 * i + j
                faces += [[p, p + 4, p + 1], [p + 4, p + 5, p + 1]]
    foot, top = [5, 9, 10, 6], [16, 18, 19, 17]  # counter-clockwise seen from above
    for k in range(4):
        a, b, c, d = foot[k], foot[(k + 1) % 4], top[(k + 1) % 4], top[k]
        faces += [[a, b, c], [a, c, d]]
    faces += [[16, 18, 19], [16, 19, 17]]
    return Surface(np.vstack([low, roof]), np.array(faces))


def test_a_gauge_on_a_sphere_reads_the_printed_gap() -> None:
    """Sphere of radius 4, point 2 under its equator: 0.5359 mm; the 0.25 mm gauge rests 1.3919 mm under it."""
    ball = sphere(4.0)
    for depth, printed in ((2.0, 0.5359), (1.3919, 0.25)):
        point = np.array([math.sqrt(16.0 - depth**2), 0.0, -depth])
        swept = sweep_gaps(ball, Z, point_mm=point, reach_mm=1.0, pitch_mm=0.025, slack_mm=1e-4)
        assert swept.gap_mm[0] == pytest.approx(printed, abs=0.0125 + 0.004)  # half a cell, and the mesh's chord
        assert swept.contour_mm[0] == pytest.approx(depth, abs=0.2)


def test_a_wall_reads_its_height_times_the_tilt() -> None:
    block = box((-3.0, -3.0, 0.0), (3.0, 3.0, 5.0))
    for tilt in (0.0, 2.0, 6.0):
        swept = sweep_gaps(
            block, lean(tilt, 180.0), point_mm=np.array([3.0, 0.0, 0.2]), reach_mm=1.5, pitch_mm=0.02, slack_mm=1e-6
        )
        assert swept.gap_mm[0] == pytest.approx(4.8 * math.sin(math.radians(tilt)), abs=0.015)


def test_an_undercut_deeper_than_the_reach_gives_the_reach() -> None:
    swept = sweep_gaps(mushroom(), Z, point_mm=np.array([1.0, 0, 1.0]), reach_mm=1.0, pitch_mm=0.05, slack_mm=1e-6)
    assert swept.gap_mm[0] == pytest.approx(1.0)


def test_a_coarse_copy_keeps_the_volume_and_fewer_faces() -> None:
    ball = sphere(4.0)
    coarse = coarsen_surface(ball, 0.5)
    assert coarse.n_faces < ball.n_faces / 5
    assert np.abs(np.linalg.norm(coarse.vertices_mm, axis=1) - 4.0).max() < 0.05


def test_a_crop_keeps_what_is_near_and_nothing_far() -> None:
    near = crop_surface(join(box((0, 0, 0), (1, 1, 1)), box((50, 0, 0), (51, 1, 1))), (0.0, 0.0, 0.0), 5.0)
    assert near.n_faces == 12
    assert near.vertices_mm[:, 0].max() == 1.0


def test_cells_and_radii_without_a_size_are_refused() -> None:
    with pytest.raises(ValueOutOfRange):
        sweep_voids(mushroom(), Z, centers_mm=np.zeros((1, 3)), radius_mm=8.0, pitch_mm=0.0)
