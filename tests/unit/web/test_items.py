"""Items of a plan in one line: every number with its name and unit."""

from seatwright.web._items import describe_item


def test_a_line_names_each_number_with_its_unit_and_says_yes_or_no() -> None:
    scan = {"id": "poured", "of": "poured_cast", "repeatability_um": 8.0}
    assert describe_item("scan", scan) == "scan poured: poured cast, repeatability 8 µm"
    die = {"id": "die-43", "tooth": 43, "short_by_mm": 0.4, "keyed_root": True}
    assert describe_item("returned_die", die) == "returned die die-43: tooth 43, short by 0.4 mm, keyed root: yes"
