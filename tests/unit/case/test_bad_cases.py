"""Every way a case can be wrong names its field and a remedy; all faults are told at once."""

import copy

import pytest
from tests.examples import DEMO_NOW, demo_case, demo_events

from seatwright.case import CaseState, fold_events, parse_case, validate_case
from seatwright.errors import CaseError
from seatwright.files import case_to_toml, read_case


@pytest.fixture(scope="module")
def document():
    import tomllib

    return tomllib.loads(case_to_toml(demo_case()).decode())


def _unit(doc, tooth):
    return next(unit for unit in doc["unit"] if unit["tooth"] == tooth)


def _set(path, value):
    def change(doc):
        node = doc
        for key in path[:-1]:
            node = node[key]
        node[path[-1]] = value

    return change


def _drop(path):
    def change(doc):
        node = doc
        for key in path[:-1]:
            node = node[key]
        del node[path[-1]]

    return change


BAD = {
    "unknown tooth": (_set(["unit", 0, "tooth"], 19), "unit[0].tooth"),
    "tooth beyond the jaw": (_set(["unit", 0, "tooth"], 50), "unit[0].tooth"),
    "tooth of the other jaw": (_set(["unit", 0, "tooth"], 17), "unit[0]"),
    "tooth in two lists": (_set(["teeth", "missing_partial"], [36, 32, 31, 41, 46, 47, 44]), "teeth"),
    "tooth in no list": (_set(["teeth", "missing_not_replaced"], [48]), "teeth"),
    "unit twice": (lambda d: d["unit"].append(copy.deepcopy(d["unit"][0])), "unit[8]"),
    "tooth in two bridges": (
        lambda d: d["join"].append({"id": "b2", "kind": "bridge", "units": [35, 34]}),
        "join",
    ),
    "pontic without a bridge": (_set(["join"], []), "unit"),
    "crown without margins": (lambda d: _unit(d, 44).pop("margin"), "unit[6]"),
    "crown without a neck": (lambda d: _unit(d, 44).pop("neck_mm"), "unit[6]"),
    "conus without a taper": (lambda d: _unit(d, 37).pop("wall_taper_deg"), "unit[0]"),
    "clearance of unknown kind": (_drop(["attachment", 1, "clearance_is"]), "attachment[1]"),
    "direction of no unit length": (_set(["attachment", 1, "withdraw_direction"], [0.0, 0.0, 2.0]), "attachment[1]"),
    "slide without a length": (_drop(["attachment", 1, "length_mm"]), "attachment[1]"),
    "attachment on no unit": (_set(["attachment", 1, "tooth"], 36), "attachment[1]"),
    "attachment on no bar": (_set(["attachment", 2, "bar"], "bar-rear"), "attachment[2]"),
    "bar on no unit": (_set(["bar", 0, "to_tooth"], 41), "bar[0]"),
    "unit that no pick-up lifts": (_set(["impression", 0, "lifts"], [37, 35, 34, 33, 42, 43, 44]), "unit[7]"),
    "pick-up without a route": (_drop(["impression", 0, "route"]), "impression[0]"),
    "opposing on the same jaw": (_set(["impression", 1, "arch"], "mandible"), "impression[1]"),
    "two impressions of one id": (_set(["impression", 1, "id"], "pickup-1"), "impression[1]"),
    "returned die for no unit": (_set(["returned_die", 0, "tooth"], 36), "returned_die[0]"),
    "scan outside the folder": (_set(["scan", 0, "file"], "../reference.ply"), "scan[0].file"),
    "scan by absolute path": (_set(["scan", 0, "file"], "/etc/passwd"), "scan[0].file"),
    "scan by a backslash": (_set(["scan", 0, "file"], "..\\reference.ply"), "scan[0].file"),
    "poured scan of no impression": (_drop(["scan", 1, "impression"]), "scan[1]"),
    "region without a radius": (_drop(["region", 0, "radius_mm"]), "region[0]"),
    "region of no tooth": (_set(["region", 0, "tooth"], 15), "region[0]"),
    "tolerance without a reason": (_drop(["tolerance", "reason"]), "tolerance.reason"),
    "unknown field": (_set(["unit", 0, "nek_mm"], 5.0), "unit[0].nek_mm"),
    "word that is none": (_set(["unit", 2, "kind"], "pontik"), "unit[2].kind"),
    "newer schema": (_set(["schema"], 99), "schema"),
    "no schema": (_drop(["schema"]), "schema"),
    "number as text": (_set(["unit", 1, "neck_mm"], "five"), "unit[1].neck_mm"),
    "infinite number": (_set(["unit", 1, "neck_mm"], float("inf")), "unit[1].neck_mm"),
    "name as code": (_set(["code"], "Mrs Somebody"), "code"),
    "time without a zone": (_set(["as_of"], "2026-03-10T09:30:00"), "as_of"),
}


def test_the_example_itself_is_sound(document) -> None:
    case, faults = parse_case(document)
    assert faults == ()
    assert validate_case(case) == ()


@pytest.mark.parametrize("name", BAD)
def test_bad_case_names_its_field_and_a_remedy(name, document) -> None:
    change, place = BAD[name]
    doc = copy.deepcopy(document)
    change(doc)
    _, faults = parse_case(doc)
    hits = [fault for fault in faults if fault.where.startswith(f"case.toml: {place}")]
    assert hits, [fault.where for fault in faults]
    assert all(fault.what for fault in faults)
    assert all(fault.hint for fault in faults), [f for f in faults if not f.hint]
    assert not any("pydantic" in (f.what + f.hint).lower() or "http" in f.what + f.hint for f in faults)


def test_misspelt_field_suggests_the_right_one(document) -> None:
    doc = copy.deepcopy(document)
    doc["unit"][0]["nek_mm"] = 5.0
    _, faults = parse_case(doc)
    assert any("neck_mm" in fault.hint for fault in faults)


def test_all_faults_are_told_at_once(document) -> None:
    doc = copy.deepcopy(document)
    for name in ("crown without margins", "clearance of unknown kind", "scan outside the folder"):
        BAD[name][0](doc)
    _, faults = parse_case(doc)
    assert len({fault.where for fault in faults}) >= 3


def _renumbered(events):
    return tuple(event.model_copy(update={"seq": k}) for k, event in enumerate(events, start=1))


BAD_LOGS = {
    "gap": (lambda e: e[:2] + e[3:], "line 3"),
    "out of order": (lambda e: _renumbered((e[1], e[0], *e[2:])), "line"),
    "repeated number": (lambda e: (*e, e[-1]), "line 8"),
    "unknown impression": (lambda e: (*e[:6], e[6].model_copy(update={"die": "die-99"})), "line 7"),
    "twice out": (lambda e: (*e, e[0].model_copy(update={"seq": 8, "at": e[-1].at})), "line 8"),
    "in the future": (lambda e: (*e[:6], e[6].model_copy(update={"at": DEMO_NOW.replace(year=2030)})), "line 7"),
}


@pytest.mark.parametrize("name", BAD_LOGS)
def test_bad_log_names_its_line(name) -> None:
    change, place = BAD_LOGS[name]
    with pytest.raises(CaseError) as caught:
        fold_events(change(demo_events()), demo_case(), now=DEMO_NOW)
    assert any(place in fault.where for fault in caught.value.faults), caught.value.faults
    assert all(fault.where.startswith("log.jsonl") for fault in caught.value.faults)


def test_fold_of_the_example_log_knows_what_happened() -> None:
    state = fold_events(demo_events(), demo_case(), now=DEMO_NOW)
    assert isinstance(state, CaseState)
    pick_up = state.impressions["pickup-1"]
    assert pick_up.counted
    assert pick_up.in_tray == {37, 35, 34, 33, 42, 43, 44, 45}
    opposing = state.impressions["opposing-1"]
    assert opposing.spells[0].since == opposing.out_at
    assert opposing.spells[-1].until is None
    assert all(a.until == b.since for a, b in zip(opposing.spells, opposing.spells[1:], strict=False))
    assert state.die_trials[0].gap_um == 180.0


@pytest.mark.parametrize(
    ("data", "place"),
    [
        (b"schema = 1\ncode = ", "case.toml: line 2"),
        (b"a = 1\na = 2\n", "case.toml: line 2"),
        (b"\xff\xfes\x00c\x00", "case.toml"),
        (b'code = "\xc3\x28"\n', "case.toml: line 1"),
        (b"a = " + b"[" * 5000, "case.toml"),
        (b"x" * 5_000_000, "case.toml"),
        (b"", "case.toml"),
    ],
    ids=["cut off", "field twice", "utf-16", "bad byte", "nested deep", "huge", "empty"],
)
def test_unreadable_case_says_where_and_what(data, place) -> None:
    case, faults = read_case(data)
    assert case is None
    assert faults
    assert faults[0].where.startswith(place)
    assert faults[0].hint
