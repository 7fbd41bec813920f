"""Volumes against closed-form solids (elementary geometry)."""

import math

import numpy as np
import pytest
import trimesh

from seatwright.errors import CannotCompute
from seatwright.mesh import (
    Surface,
    estimate_enclosed_volume_mm3,
    has_base,
    keep_faces,
    measure_volume_mm3,
    measure_volume_on_base_mm3,
)
from seatwright.workflows.scan_volume import measure_scan_volume


def _surface(mesh: trimesh.Trimesh) -> Surface:
    return Surface(np.asarray(mesh.vertices, dtype=float), np.asarray(mesh.faces, dtype=np.int32))


def _dome(radius_mm: float) -> Surface:
    ball = _surface(trimesh.creation.icosphere(subdivisions=5, radius=radius_mm))
    middles = ball.vertices_mm[ball.faces].mean(axis=1)
    return keep_faces(ball, middles[:, 2] > 0)


def test_half_ball_on_a_base_is_half_a_ball_and_a_cylinder() -> None:
    r, h = 10.0, 4.0
    expected = 2 / 3 * math.pi * r**3 + math.pi * r**2 * h
    assert measure_volume_on_base_mm3(_dome(r), base_height_mm=h) == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize("h", [0.0, 4.0, 15.0])
def test_scan_tells_its_volume_for_any_base_it_will_be_poured_on(h: float) -> None:
    r = 10.0
    told = measure_scan_volume(_dome(r))
    assert told.enclosed_mm3 is None
    assert told.plan_mm2 == pytest.approx(math.pi * r**2, rel=0.02)
    assert told.on_base_mm3(h) == pytest.approx(2 / 3 * math.pi * r**3 + math.pi * r**2 * h, rel=0.02)
    assert told.on_base_mm3(h) == pytest.approx(measure_volume_on_base_mm3(_dome(r), base_height_mm=h), rel=1e-12)


def test_model_with_a_base_tells_what_it_encloses_whatever_base_is_asked_for() -> None:
    told = measure_scan_volume(_surface(trimesh.creation.box((3.0, 4.0, 5.0))))
    assert told.on_base_mm3(0.0) == told.on_base_mm3(20.0) == pytest.approx(60.0)


def test_volume_on_a_base_does_not_depend_on_the_pose() -> None:
    dome = _dome(10.0)
    turn = trimesh.transformations.rotation_matrix(2.1, [1, 2, 3])[:3, :3]
    turned = Surface(dome.vertices_mm @ turn.T + 5.0, dome.faces)
    one, other = (measure_volume_on_base_mm3(s, base_height_mm=4.0) for s in (dome, turned))
    assert other == pytest.approx(one, rel=1e-9)


def test_box_with_a_small_hole_keeps_almost_its_volume() -> None:
    box = _surface(trimesh.creation.box((20.0, 30.0, 10.0)).subdivide().subdivide().subdivide())
    holed = keep_faces(box, np.arange(2, box.n_faces))
    assert estimate_enclosed_volume_mm3(box) == pytest.approx(measure_volume_mm3(box), rel=1e-12)
    assert estimate_enclosed_volume_mm3(holed) == pytest.approx(6000.0, rel=0.01)


def test_open_scan_has_no_base_and_encloses_nothing() -> None:
    dome = _dome(10.0)
    assert not has_base(dome)
    with pytest.raises(CannotCompute):
        estimate_enclosed_volume_mm3(dome)
