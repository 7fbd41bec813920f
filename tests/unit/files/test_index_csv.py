"""Foil readings from CSV: what is wrong is told by line and field."""

import pytest

from seatwright.errors import InputError
from seatwright.files import index_template, parse_index_csv

HEAD = "fixed,at,passes_um,stops_um,x_mm,y_mm\n"


def faults_of(text: str):
    with pytest.raises(InputError) as caught:
        parse_index_csv(text.encode(), file="i.csv")
    error = caught.value
    return [(f.where, f.what, f.hint) for f in error.faults] or [("", error.message, error.hint)]


def test_gaps_places_and_empty_lines_are_read() -> None:
    text = HEAD + "37,47,0,8,-24,21\n47,37,40,50,25,20.2\n37,33,,,,\n37,43,60,,,\n33,43,,12,,\n"
    readings, places, n_empty = parse_index_csv(text.encode())
    assert [(r.fixed, r.at, r.passes_um, r.stops_um) for r in readings] == [
        ("37", "47", 0, 8), ("47", "37", 40, 50), ("37", "43", 60, None), ("33", "43", 0, 12),
    ]  # fmt: skip
    assert places == {"47": (-24.0, 21.0), "37": (25.0, 20.2)}
    assert n_empty == 1


@pytest.mark.parametrize(
    ("row", "field", "said"),
    [
        ("37,47,50,40,,", "stops_um", "does not enter"),
        ("37,47,-5,40,,", "passes_um", "out of range"),
        ("37,47,x,40,,", "passes_um", "not a number"),
        ("37,47,0,9999,,", "stops_um", "out of range"),
        (",47,0,8,,", "fixed", "printable"),
        ("37,47,0,8,5,", "x_mm", "without the other"),
        ("37,47,0,8,500,5", "x_mm", "out of range"),
    ],
)
def test_wrong_field_is_told_with_its_line(row, field, said) -> None:
    where, what, _ = faults_of(HEAD + row + "\n")[0]
    assert where == f"i.csv: line 2, {field}"
    assert said in what


def test_gap_written_twice_and_seat_in_two_places_are_told() -> None:
    assert "line 2 already" in faults_of(HEAD + "37,47,0,8,,\n37,47,0,12,,\n")[0][1]
    assert "elsewhere" in faults_of(HEAD + "37,47,0,8,1,1\n33,47,0,12,9,9\n")[0][1]


def test_template_is_read_back_as_empty() -> None:
    with pytest.raises(InputError, match="no gap is filled in"):
        parse_index_csv(index_template(("37", "33", "47")))
