"""Entering a plan by gestures: several teeth at once, what is not said stays a gap, nothing is guessed."""

import copy

import pytest

from seatwright.case import Arch, parse_case, teeth_of_arch
from seatwright.case.entry import apply_gesture, gesture_adapter, start_document
from seatwright.demo import make_demo_case
from seatwright.errors import CaseError

COLLAR = {"kind": "metal_collar", "thickness_mm": 0.4, "subgingival_mm": -0.7}
BUTT = {"kind": "ceramic_butt", "thickness_mm": 1.0, "subgingival_mm": -0.7}
CERAMIC = {"kind": "crown", "body": "noble_alloy", "veneer": "feldspathic"}
UNITS = [
    {"gesture": "set_teeth", "teeth": [36, 32, 31, 41, 46, 47], "state": "missing_partial"},
    {"gesture": "set_teeth", "teeth": [34], "state": "missing_partial"},
    {"gesture": "set_teeth", "teeth": [38, 48], "state": "missing_not_replaced"},
    {"gesture": "make_bridge", "teeth": [33, 34, 35]},
    {"gesture": "set_units", "teeth": [33, 35, 42, 43], **CERAMIC},
    {"gesture": "set_units", "teeth": [34], "body": "noble_alloy", "veneer": "feldspathic"},
    {"gesture": "set_margins", "teeth": [33, 34, 35, 42, 43], **COLLAR},
    {"gesture": "set_margins", "teeth": [33, 42, 43], "surfaces": ["facial"], **BUTT},
    {"gesture": "set_margins", "teeth": [33], "surfaces": ["lingual"], **COLLAR, "subgingival_mm": 1.5},
    {"gesture": "join_units", "teeth": [43, 42]},
    {"gesture": "set_units", "teeth": [33, 43], "neck_mm": 5.5},
    {"gesture": "set_units", "teeth": [42], "neck_mm": 3.6},
    {"gesture": "set_units", "teeth": [35], "neck_mm": 5.6, "core": "post_and_core"},
    {"gesture": "set_units", "teeth": [44], "kind": "crown", "body": "zirconia", "intaglio": "primed", "neck_mm": 5.0},
    {"gesture": "set_margins", "teeth": [44], "kind": "zirconia", "thickness_mm": 0.5, "subgingival_mm": -0.7},
    {"gesture": "set_units", "teeth": [45], **CERAMIC, "kind": "implant_screwed"},
    {
        "gesture": "set_units",
        "teeth": [37],
        "kind": "primary_conus",
        "body": "noble_alloy",
        "wall_taper_deg": 6.0,
        "neck_mm": 8.0,
    },
    {
        "gesture": "set_margins",
        "teeth": [37],
        "kind": "metal_knife_edge",
        "thickness_mm": 0.2,
        "subgingival_mm": -0.8,
    },
]


def _after(*gestures: dict, document: dict | None = None) -> dict:
    document = document or start_document("DEMO-1", Arch.MANDIBLE)
    for gesture in gestures:
        document = apply_gesture(document, gesture_adapter.validate_python(gesture))
    return document


def _fault_fields(document: dict) -> set[str]:
    return {fault.where.removeprefix("case.toml: ") for fault in parse_case(document)[1]}


def test_the_eight_units_of_the_demo_take_eighteen_gestures_and_are_the_same():
    planned = make_demo_case(grid_mm=0.6).case
    entered = _after(*UNITS)
    by_tooth = {unit["tooth"]: unit for unit in entered["unit"]}
    for placed in planned.unit:
        unit = placed.model_copy(update={"margin_center_mm": None})  # comes with the scan, not from the chair
        shown = unit.model_dump(mode="json", exclude_defaults=True)
        said = type(unit).model_validate(by_tooth[unit.tooth])
        assert said == unit, (shown, by_tooth[unit.tooth])
    assert {frozenset(j["units"]) for j in entered["join"]} == {frozenset(j.units) for j in planned.join}
    for name in ("present", "implants", "missing_fixed", "missing_partial", "missing_not_replaced"):
        assert set(entered["teeth"][name]) == set(getattr(planned.teeth, name)), name


def test_the_document_given_is_not_touched():
    document = start_document("X", Arch.MANDIBLE)
    before = copy.deepcopy(document)
    _after(*UNITS, document=document)
    assert document == before


def test_what_nobody_said_is_a_gap_and_not_a_guess():
    document = _after({"gesture": "set_units", "teeth": [36], "kind": "crown"})
    assert "unit[0].body" in _fault_fields(document)
    assert "tolerance" in _fault_fields(document)


def test_a_copied_unit_is_the_same_but_for_its_own_neck():
    document = _after(
        {"gesture": "set_units", "teeth": [36], **CERAMIC, "neck_mm": 7.0},
        {"gesture": "set_margins", "teeth": [36], **COLLAR},
        {"gesture": "set_units", "teeth": [37], "kind": "crown", "neck_mm": 8.0},
        {"gesture": "copy_unit", "like": 36, "teeth": [37, 36, 35]},
    )
    by_tooth = {unit["tooth"]: unit for unit in document["unit"]}
    assert by_tooth[37]["margin"] == by_tooth[36]["margin"]
    assert (by_tooth[37]["neck_mm"], by_tooth[36]["neck_mm"]) == (8.0, 7.0)
    assert "neck_mm" not in by_tooth[35]


def test_taking_a_unit_off_takes_along_all_that_hangs_on_it():
    document = _after(*UNITS)
    document["attachment"] = [{"id": "a", "tooth": 33}, {"id": "c", "bar": "front"}, {"id": "b", "tooth": 45}]
    document["bar"] = [{"id": "front", "from_tooth": 33, "to_tooth": 42}]
    document["region"] = [{"tooth": 33}]
    document["impression"] = [{"id": "p", "role": "pick_up", "lifts": [33, 35]}]
    left = _after({"gesture": "remove_units", "teeth": [33, 34]}, document=document)
    assert [a["id"] for a in left["attachment"]] == ["b"]
    assert "bar" not in left
    assert "region" not in left
    assert left["impression"][0]["lifts"] == [35]
    assert [j["units"] for j in left["join"]] == [[43, 42]]
    assert 34 in left["teeth"]["missing_partial"]


def test_a_new_unit_is_lifted_by_the_only_pick_up():
    document = start_document("X", Arch.MANDIBLE)
    document["impression"] = [{"id": "p", "role": "pick_up", "lifts": [33]}]
    after = _after({"gesture": "set_units", "teeth": [36], **CERAMIC}, document=document)
    assert sorted(after["impression"][0]["lifts"]) == [33, 36]


@pytest.mark.parametrize(
    ("gestures", "said"),
    [
        ([{"gesture": "set_units", "teeth": [16], "kind": "crown"}], "not a tooth of the mandible"),
        ([{"gesture": "set_units", "teeth": [36], "neck_mm": 5.0}], "no unit at 36"),
        ([{"gesture": "make_bridge", "teeth": [33, 35]}], "no neighbors"),
        ([{"gesture": "make_bridge", "teeth": [33, 34], "pontics": [33, 34]}], "needs a tooth"),
        ([{"gesture": "join_units", "teeth": [33, 34]}], "no unit at 33"),
        ([{"gesture": "copy_unit", "like": 33, "teeth": [34]}], "no unit at 33"),
        ([{"gesture": "put_item", "table": "rest", "item": {}}], "has no id"),
        ([{"gesture": "put_item", "table": "rest", "item": {"id": "r", "color": 1}}], "has no color"),
        ([{"gesture": "remove_item", "table": "rest", "id": "r"}], "no rest r"),
        ([UNITS[3], {"gesture": "name_plan", "arch": "maxilla"}], "another case"),
    ],
)
def test_what_cannot_be_done_says_why_and_what_to_do(gestures: list[dict], said: str):
    with pytest.raises(CaseError, match=said) as raised:
        _after(*gestures)
    assert raised.value.hint


def test_items_are_replaced_by_name_and_taken_out():
    item = {"id": "r", "tooth": 44, "kind": "occlusal"}
    document = _after({"gesture": "put_item", "table": "rest", "item": item})
    document = _after({"gesture": "put_item", "table": "rest", "item": {**item, "tooth": 45}}, document=document)
    assert [r["tooth"] for r in document["rest"]] == [45]
    assert "rest" not in _after({"gesture": "remove_item", "table": "rest", "id": "r"}, document=document)


def test_a_sweep_in_either_direction_gives_the_same_bridge():
    one = _after({"gesture": "set_teeth", "teeth": [31, 41], "state": "missing_partial"})
    there = _after({"gesture": "make_bridge", "teeth": [32, 31, 41, 42]}, document=one)
    back = _after({"gesture": "make_bridge", "teeth": [42, 41, 31, 32]}, document=one)
    assert there == back
    assert {u["tooth"]: u["kind"] for u in there["unit"]} == {42: "crown", 41: "pontic", 31: "pontic", 32: "crown"}


def test_every_place_of_an_arch_stands_in_exactly_one_list_after_any_gesture():
    document = _after(*UNITS)
    lists = [t for name, teeth in document["teeth"].items() for t in teeth]
    assert sorted(lists) == sorted(teeth_of_arch(Arch.MANDIBLE))
