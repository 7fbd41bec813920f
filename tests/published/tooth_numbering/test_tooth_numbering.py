"""52 teeth in three notations, against the table beside this file."""

import csv
from pathlib import Path

import pytest

from seatwright.case import ToothNotation, format_tooth, parse_tooth

ROWS = list(csv.DictReader((Path(__file__).parent / "tooth_numbering.csv").open(encoding="utf-8")))
PERMANENT = [row for row in ROWS if row["dentition"] == "permanent"]
COLUMNS = [(ToothNotation.UNIVERSAL, "universal"), (ToothNotation.QUADRANT, "palmer"), (ToothNotation.ISO, "fdi")]


def test_the_table_holds_all_52_teeth() -> None:
    assert len(ROWS) == 52
    assert len(PERMANENT) == 32


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["fdi"])
@pytest.mark.parametrize(("notation", "column"), COLUMNS, ids=str)
def test_each_notation_leads_to_the_iso_number_and_back(row, notation, column) -> None:
    is_deciduous = row["dentition"] != "permanent"
    assert parse_tooth(row[column], notation, deciduous=is_deciduous) == int(row["fdi"])
    assert format_tooth(int(row["fdi"]), notation) == row[column]
