"""A wrong single field hides no contradiction elsewhere, and invents none."""

import copy
import tomllib
from collections.abc import Iterator

import pytest
from tests.examples import demo_case

from seatwright.case import parse_case
from seatwright.files import case_to_toml

DOCUMENT = tomllib.loads(case_to_toml(demo_case()).decode())


def _leaves(node: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    if isinstance(node, dict):
        for key, inner in node.items():
            yield from _leaves(inner, (*path, key))
    elif isinstance(node, list) and node:
        for index, inner in enumerate(node):
            yield from _leaves(inner, (*path, index))
    else:
        yield path


def _with(path: tuple[str | int, ...], value: object) -> dict[str, object]:
    document = copy.deepcopy(DOCUMENT)
    node = document
    for key in path[:-1]:
        node = node[key]
    node[path[-1]] = value
    return document


def _shown(path: tuple[str | int, ...]) -> str:
    return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in path).lstrip(".")


LEAVES = list(_leaves(DOCUMENT))


def test_the_example_has_many_fields_to_break() -> None:
    assert len(LEAVES) > 200
    assert parse_case(DOCUMENT)[1] == ()


@pytest.mark.parametrize("path", LEAVES, ids=_shown)
def test_one_wrong_field_is_told_and_nothing_else(path: tuple[str | int, ...]) -> None:
    case, faults = parse_case(_with(path, {"wrong": True}))
    assert case is None
    assert faults
    within = path[:-1] if isinstance(path[-1], int) else path  # a list may also say that it is now too short
    assert all(fault.where.startswith(f"case.toml: {_shown(within)}") for fault in faults), faults


def test_misspelt_kind_does_not_hide_a_bridge_or_a_path_that_is_wrong() -> None:
    document = _with(("unit", 6, "kind"), "crwon")
    document["scan"][0]["file"] = "../reference.ply"
    document["join"].append({"id": "b2", "kind": "bridge", "units": [35, 34]})
    places = {fault.where.removeprefix("case.toml: ") for fault in parse_case(document)[1]}
    assert "unit[6].kind" in places
    assert "scan[0].file" in places
    assert any(place.startswith("join[2]") for place in places), places


def test_places_are_those_of_the_document_as_written() -> None:
    document = _with(("attachment", 0, "motion"), "floppy")
    document["bar"][0]["to_tooth"] = 41
    places = [fault.where for fault in parse_case(document)[1]]
    assert any(place.startswith("case.toml: bar[0]") for place in places), places


def test_wrong_name_leaves_it_open_what_the_others_mean() -> None:
    document = _with(("unit", 0, "tooth"), 19)
    assert [fault.where for fault in parse_case(document)[1]] == ["case.toml: unit[0].tooth"]
