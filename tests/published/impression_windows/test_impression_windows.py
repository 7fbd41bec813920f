"""The limits of the pour clock against printed figures, and its costs against the ranges they must cover."""

import tomllib
from pathlib import Path

import pytest

from seatwright.evidence import find_evidence
from seatwright.pour import list_ladders

SOURCE = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))
LADDERS = {ladder.id: ladder for ladder in list_ladders()}


@pytest.mark.parametrize("entry", SOURCE["limit"], ids=lambda e: f"{e['row']}-{e['rung']}")
def test_a_limit_is_the_printed_one(entry: dict[str, object]) -> None:
    rung = LADDERS[str(entry["row"])].rungs[int(str(entry["rung"]))]
    assert rung.until_min == float(str(entry["minutes"]))


@pytest.mark.parametrize("entry", SOURCE["covers"], ids=lambda e: e["cost"])
def test_a_cost_at_two_sigma_covers_the_printed_range(entry: dict[str, str]) -> None:
    record = find_evidence(entry["cost"])
    assert record.sd is not None
    low, high = record.require_value() - 2 * record.sd, record.require_value() + 2 * record.sd
    printed = float(entry["low_percent"]), float(entry["high_percent"])
    assert low <= printed[0]
    assert high >= printed[1]
