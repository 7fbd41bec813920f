"""The mechanism is tried with a table of its own: there is only one version of the documents so far."""

import pytest
from tests.examples import demo_bench, demo_case

from seatwright.case import SCHEMA_VERSION, parse_bench, parse_case, upgrade_document

TABLE = {
    1: lambda old: {**{k: v for k, v in old.items() if k != "title"}, "name": old["title"]},
    2: lambda old: {**old, "length": old["name"].count("") - 1},
}


def test_old_document_is_upgraded_step_by_step_and_left_unchanged() -> None:
    old = {"schema": 1, "title": "abc"}
    assert upgrade_document(old, current=3, upgrades=TABLE, file="x.toml") == (
        {"schema": 3, "name": "abc", "length": 3},
        (),
    )
    assert old == {"schema": 1, "title": "abc"}


def test_current_document_passes_as_it_is() -> None:
    assert upgrade_document({"schema": 3, "a": 1}, current=3, upgrades=TABLE, file="x.toml")[0] == {"schema": 3, "a": 1}


@pytest.mark.parametrize("version", [4, 99, 0, -1, "1", 1.0, True, None, [1]])
def test_other_versions_are_refused_with_a_remedy(version: object) -> None:
    document, (fault,) = upgrade_document({"schema": version}, current=3, upgrades=TABLE, file="x.toml")
    assert document is None
    assert fault.where == "x.toml: schema"
    assert fault.hint


def test_missing_version_is_told_apart_from_a_wrong_one() -> None:
    assert "missing" in upgrade_document({}, current=3, upgrades=TABLE, file="x.toml")[1][0].what
    assert "whole number" in upgrade_document({"schema": "1"}, current=3, upgrades=TABLE, file="x.toml")[1][0].what


def test_newer_case_and_bench_are_refused_before_any_field_is_read() -> None:
    newer = {"schema": SCHEMA_VERSION + 1, "something": "new"}
    for parse in (parse_case, parse_bench):
        document, (fault,) = parse(newer)
        assert document is None
        assert "newer Seatwright" in fault.hint


def test_every_version_below_the_current_one_has_its_step() -> None:
    from seatwright.case import BENCH_SCHEMA_VERSION
    from seatwright.case._upgrade import BENCH_UPGRADES, CASE_UPGRADES

    assert set(CASE_UPGRADES) == set(range(1, SCHEMA_VERSION))
    assert set(BENCH_UPGRADES) == set(range(1, BENCH_SCHEMA_VERSION))
    assert demo_case().schema_version == SCHEMA_VERSION
    assert demo_bench().schema_version == BENCH_SCHEMA_VERSION
