"""Items of a plan in one line: every number with its name and unit."""

from seatwright.case import Arch
from seatwright.case.entry import start_document, view_entry
from seatwright.web._item_rows import group_items
from seatwright.web._items import describe_item


def test_a_line_names_each_number_with_its_unit_and_says_yes_or_no() -> None:
    scan = {"id": "poured", "of": "poured_cast", "repeatability_um": 8.0}
    assert describe_item("scan", scan) == "poured cast, repeatability 8 µm"
    die = {"id": "die-43", "tooth": 43, "short_by_mm": 0.4, "keyed_root": True}
    assert describe_item("returned_die", die) == "short by 0.4 mm, keyed root: yes"


def test_a_place_is_told_with_its_axes_and_a_direction_without_a_unit() -> None:
    region = {"tooth": 35, "seed_mm": [20.567, 17.0, -4.613], "radius_mm": 4.0}
    assert describe_item("region", region) == "seed x 20.57 y 17.00 z −4.61 mm, radius 4 mm"
    assert describe_item("region", {"tooth": 35, "mesh": "scans/35.ply"}).endswith("scans/35.ply")
    slide = {"id": "s", "kind": "slide", "tooth": 35, "withdraw_direction": [0.0034907, 0.0, 0.9999939]}
    assert describe_item("attachment", slide) == "slide, withdraw direction x 0.003 y 0.000 z 1.000"


def test_a_name_of_digits_is_told_with_what_it_is() -> None:
    assert describe_item("returned_die", {"id": "d", "tooth": 43, "engraved": "33"}) == "engraved 33"


def test_items_stand_under_their_unit_along_the_arch_and_a_unit_without_a_place_says_so() -> None:
    document = {
        **start_document("A-1", Arch.MANDIBLE),
        "unit": [{"tooth": 45, "kind": "crown"}, {"tooth": 35, "kind": "crown"}],
        "bar": [{"id": "front", "from_tooth": 33, "to_tooth": 43}],
        "attachment": [{"id": "clip", "bar": "front", "kind": "bar_clip"}],
        "rest": [{"id": "r", "tooth": 35, "kind": "occlusal"}],
        "scan": [{"id": "reference"}],
        "region": [{"tooth": 45, "seed_mm": [1.0, 2.0, 3.0]}],
    }
    groups = group_items(document, view_entry(document))
    assert [(group["tooth"], len(group["rows"]), group["unplaced"]) for group in groups] == [
        (45, 1, False),
        (33, 2, False),
        (35, 1, True),
        ("", 1, False),
    ]
