"""A scan that is inside out is turned and said, open or closed; one that is not is left as it is."""

import numpy as np
import pytest
from tests.unit.survey.shapes import box, frustum, join, lean, slot

from seatwright.mesh import Surface
from seatwright.survey import face_outwards


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
