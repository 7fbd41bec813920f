"""The caliper's plan sketch: a text equivalent, the stated factor, nothing that overlaps, every case drawable."""

import xml.etree.ElementTree as ET

import numpy as np
import pytest
from tests.unit.cast.caliper_readings import ARCH, HEIGHTS, NAMES, read_marks

from seatwright.cast import check_caliper
from seatwright.figures import draw_caliper_plan

LINE = np.array([[0, 0, 0], [12, 0, 0], [25, 0, 0], [40, 0, 0]], dtype=float)
SPACE = np.column_stack([ARCH[:, :2], HEIGHTS])


def drawn(places, names, **more):
    return draw_caliper_plan(check_caliper(read_marks(places, np.random.default_rng(1), names=names, **more)))


@pytest.mark.parametrize(
    ("places", "names", "more"),
    [
        (ARCH, NAMES, {"moved": {"45": [0.15, 0.1, 0]}}),
        (ARCH, NAMES, {"epochs": ("mouth",)}),
        (SPACE, NAMES, {}),
        (LINE, ("a", "b", "c", "d"), {"moved": {"c": [0.2, 0, 0]}}),
        (ARCH[:2], ("37", "35"), {}),
        (ARCH[:3], ("<b>", "&", '"x"'), {}),
        (ARCH, NAMES, {"pairs": [(0, 1), (2, 3), (4, 5)]}),
    ],
)
def test_every_case_is_well_formed_and_tells_its_marks(places, names, more) -> None:
    root = ET.fromstring(drawn(places, names, **more))
    told = "".join(root.itertext())
    if more.get("pairs") is None:
        assert all(name in told for name in names[: len(places)])


def test_moved_mark_is_told_in_words_with_the_factor() -> None:
    svg = drawn(ARCH, NAMES, moved={"45": [0.15, 0.1, 0]})
    title = ET.fromstring(svg).find("{http://www.w3.org/2000/svg}title").text
    description = ET.fromstring(svg).find("{http://www.w3.org/2000/svg}desc").text
    assert "100 times larger" in title
    assert "45 moved" in description
    assert "µm are allowed" in description
