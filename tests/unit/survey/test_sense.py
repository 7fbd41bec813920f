"""A scan that is inside out is turned and said, open or closed; one that is not is left as it is."""

import numpy as np
import pytest
from tests.unit.survey.shapes import box, frustum, join, lean, slot

from seatwright.mesh import Surface
from seatwright.survey import face_outwards, make_path, measure_undercut


@pytest.mark.parametrize("tilt", [0.0, 15.0])
@pytest.mark.parametrize(
    "surface",
    [box((-9, -9, 0), (9, 9, 4)), frustum(taper_deg=6.0, height_mm=6.0, n=90), slot(width_mm=2.0, depth_mm=5.0)],
    ids=["closed", "open below", "several bodies"],
)
def test_what_is_seen_first_tells_the_sense(surface: Surface, tilt: float) -> None:
    cast = join(surface, box((20, 0, 0), (24, 4, 3)))
    kept, said = face_outwards(cast, lean(tilt, 30.0))
    assert kept is cast
    assert said == ()
    turned, said = face_outwards(Surface(cast.vertices_mm, cast.faces[:, ::-1]), lean(tilt, 30.0))
    assert [f.id for f in said] == ["normals-inverted"]
    assert np.array_equal(turned.faces, cast.faces)


@pytest.mark.parametrize("factor", [1e-3, 1e3])
def test_surface_at_the_wrong_scale_is_measured_and_said(factor: float) -> None:
    crown = frustum(taper_deg=6.0, height_mm=6.0, n=90)
    down = make_path((0.0, 0.0, -1.0))
    assert "surface-size-unusual" not in [f.id for f in measure_undercut(crown, down).findings]
    scaled = Surface(factor * crown.vertices_mm, crown.faces)
    assert "surface-size-unusual" in [f.id for f in measure_undercut(scaled, down).findings]


def test_faces_without_area_are_counted_and_change_nothing() -> None:
    crown = frustum(taper_deg=-6.0, height_mm=6.0, n=90)
    down = make_path((0.0, 0.0, -1.0))
    whole = measure_undercut(crown, down)
    more = measure_undercut(Surface(crown.vertices_mm, np.vstack([crown.faces, [[0, 0, 1], [2, 2, 2]]])), down)
    assert whole.undercut_mm.max() > 0.1
    assert np.abs(more.undercut_mm - whole.undercut_mm).max() < 1e-12
    assert next(f.what for f in more.findings if f.id == "faces-without-area").startswith("2 of ")
