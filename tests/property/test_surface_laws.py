"""Laws of measures on surfaces: rigid motions and orders change nothing, scaling scales."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from seatwright.errors import MeshError
from seatwright.files import encode_ply, parse_surface
from seatwright.mesh import (
    Surface,
    find_closest,
    index_surface,
    measure_area_mm2,
    measure_centroid_mm,
    measure_volume_mm3,
    move_surface,
)
from seatwright.quantities import apply_transform, make_transform

SMALL = settings(max_examples=40, deadline=None)
SEEDS = st.integers(0, 10**6)
ANGLES = st.tuples(*[st.floats(-3, 3)] * 3)
SHIFTS = st.tuples(*[st.floats(-100, 100)] * 3)


def hull(seed: int) -> Surface:
    """A closed convex body with outward faces."""
    points = np.random.default_rng(seed).normal(0, 10, (30, 3))
    made = ConvexHull(points)
    faces = made.simplices.copy()
    normals = np.cross(points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]])
    wrong = np.einsum("ij,ij->i", normals, made.equations[:, :3]) < 0
    faces[wrong] = faces[wrong][:, ::-1]
    return Surface(points, faces)


@SMALL
@given(SEEDS)
def test_volume_and_area_agree_with_the_hull_library(seed: int) -> None:
    surface = hull(seed)
    made = ConvexHull(surface.vertices_mm)
    assert measure_volume_mm3(surface) == pytest.approx(made.volume, rel=1e-9)
    assert measure_area_mm2(surface) == pytest.approx(made.area, rel=1e-9)


@SMALL
@given(SEEDS, ANGLES, SHIFTS)
def test_rigid_motion_keeps_measures_and_carries_the_centroid(
    seed: int, angles: tuple[float, ...], shifts: tuple[float, ...]
) -> None:
    surface, T = hull(seed), make_transform(np.array(angles), np.array(shifts))
    moved = move_surface(surface, T)
    assert measure_area_mm2(moved) == pytest.approx(measure_area_mm2(surface), rel=1e-9)
    assert measure_volume_mm3(moved) == pytest.approx(measure_volume_mm3(surface), rel=1e-8)
    carried = apply_transform(T, measure_centroid_mm(surface)[None])[0]
    assert measure_centroid_mm(moved) == pytest.approx(carried, abs=1e-8)


@SMALL
@given(SEEDS, st.floats(0.01, 100))
def test_scaling_scales(seed: int, factor: float) -> None:
    surface = hull(seed)
    scaled = Surface(surface.vertices_mm * factor, surface.faces)
    assert measure_area_mm2(scaled) == pytest.approx(factor**2 * measure_area_mm2(surface), rel=1e-9)
    assert measure_volume_mm3(scaled) == pytest.approx(factor**3 * measure_volume_mm3(surface), rel=1e-8)


@SMALL
@given(SEEDS)
def test_order_of_faces_changes_no_distance(seed: int) -> None:
    surface = hull(seed)
    rng = np.random.default_rng(seed)
    shuffled = Surface(surface.vertices_mm, surface.faces[rng.permutation(surface.n_faces)])
    points = rng.normal(0, 15, (50, 3))
    one, two = (find_closest(index_surface(s), points).distance_mm for s in (surface, shuffled))
    assert one == pytest.approx(two, abs=1e-12)


@SMALL
@given(SEEDS, st.integers(0, 400))
def test_a_file_cut_anywhere_is_refused_or_whole(seed: int, cut: int) -> None:
    data = encode_ply(hull(seed))
    kept = data[: max(0, len(data) - cut)]
    if cut == 0:
        assert parse_surface(kept, name="x.ply", length_unit="mm").n_faces == hull(seed).n_faces
    else:
        with pytest.raises(MeshError):
            parse_surface(kept, name="x.ply", length_unit="mm")


@SMALL
@given(st.binary(max_size=400), st.sampled_from(["x.stl", "x.ply", "x.obj"]))
def test_any_bytes_are_refused_in_words_or_read(data: bytes, name: str) -> None:
    refused = None
    try:
        parse_surface(data, name=name, length_unit="mm")
    except MeshError as error:
        refused = error
    assert refused is None or (refused.message.startswith(name) and refused.hint)
