"""The index test's picture: which end was fixed, the gaps, who is off; drawn to the stated factor, told in words too."""

import re
import xml.etree.ElementTree as ET

import pytest
from tests.unit.cast.test_caliper_index import PLACES, read_gaps

from seatwright.cast import check_index
from seatwright.figures import draw_index_test
from seatwright.figures._ink import ACCENT

NS = "{http://www.w3.org/2000/svg}"


def told(svg: str) -> tuple[ET.Element, str]:
    root = ET.fromstring(svg)
    return root, root.find(f"{NS}desc").text or ""


def test_located_abutment_is_filled_and_every_gap_is_told() -> None:
    result = check_index(read_gaps(PLACES, ["37", "47"], height={"43": -90}), PLACES)
    root, words = told(draw_index_test(result))
    assert result.is_located
    for reading in result.readings:
        assert f"Fixed at {reading.fixed}, gap at {reading.at}" in words
    filled = [r for r in root.iter(f"{NS}rect") if r.get("fill") == ACCENT.value]
    assert len(filled) == 2  # abutment 43, once per fixed end
    assert not [c for c in root.iter(f"{NS}circle") if c.get("stroke") == ACCENT.value]
    texts = "".join(root.itertext())
    assert texts.count("80 to 100 µm") >= 2
    assert texts.count("held") == 2


def test_gap_is_drawn_as_large_as_its_factor_says() -> None:
    result = check_index(read_gaps(PLACES, ["37", "47"], height={"43": -90}), PLACES)
    root, words = told(draw_index_test(result))
    factor = int(re.search(r"drawn (\d+) times", words).group(1))
    heads = sorted({float(r.get("y")) for r in root.iter(f"{NS}rect")})
    # first strip: the posts that fit end half a foil of 8 µm under the index, 43 in the middle of 80 to 100 µm
    index, held, fits, low = heads[:4]
    assert fits - held == pytest.approx(4e-3 * factor, abs=1e-3)
    assert low - held == pytest.approx(90e-3 * factor, abs=1e-3)
    assert index < held


def test_candidates_are_ringed_when_one_end_cannot_tell() -> None:
    result = check_index(read_gaps(PLACES, ["37"], height={"43": -90}), PLACES)
    root, _ = told(draw_index_test(result))
    rings = [c for c in root.iter(f"{NS}circle") if c.get("stroke") == ACCENT.value]
    assert len(rings) == len({seat for c in result.candidates for seat in c.seats}) > 1
    assert not [r for r in root.iter(f"{NS}rect") if r.get("fill") == ACCENT.value]


def test_seats_stand_in_the_order_of_the_arch() -> None:
    result = check_index(read_gaps(PLACES, ["37"]), PLACES)
    root, _ = told(draw_index_test(result))
    at = {t.text: float(t.get("x")) for t in root.iter(f"{NS}text") if t.text in PLACES and float(t.get("x")) > 20}
    assert sorted(at, key=at.__getitem__) == ["47", "43", "33", "37"]
    named = {"a": (0.0, 0.0), "c": (40.0, 0.0), "b": (20.0, 0.0)}
    root, _ = told(draw_index_test(check_index(read_gaps(named, ["a"]), named)))
    at = {t.text: float(t.get("x")) for t in root.iter(f"{NS}text") if t.text in named and float(t.get("x")) > 20}
    assert abs(at["b"] - (at["a"] + at["c"]) / 2) < 1e-6
