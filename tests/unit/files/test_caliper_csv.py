"""Caliper readings from CSV: what people really write is read; what is wrong is told by line and field."""

from itertools import combinations
from pathlib import Path

import pytest

from seatwright.cast import Epoch
from seatwright.errors import InputError
from seatwright.files import CaliperSheetFile, caliper_template, parse_caliper_csv

HEAD = "epoch,from,to,reading_mm\n"


def read(text: str):
    return parse_caliper_csv(text.encode("utf-8"), file="r.csv")


def faults_of(text: str):
    with pytest.raises(InputError) as caught:
        read(text)
    error = caught.value
    return [(f.where, f.what, f.hint) for f in error.faults] or [("", error.message, error.hint)]


def test_plain_table_is_read() -> None:
    readings, n_empty = read(HEAD + "mouth,35,44,34.21\ncast,35,44,34.25\n")
    assert n_empty == 0
    assert [(r.epoch, r.first, r.second, r.length_mm, r.line) for r in readings] == [
        (Epoch.MOUTH, "35", "44", 34.21, 2),
        (Epoch.CAST, "35", "44", 34.25, 3),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "epoch;from;to;reading_mm\nmouth;35;44;34,21\n",
        "\ufeffepoch;from;to;reading_mm\r\nmouth;35;44;34,21\r\n",
        "sep=;\nepoch;from;to;reading_mm\nmouth;35;44;34,21\n",
        'epoch,from,to,reading_mm\nMouth,35,44,"34,21"\n',
        "Epoch\tFrom\tTo\tReading_mm\n mouth \t 35\t44 \t34.21 mm\n",
        "# a note, with commas; and semicolons\n\nto,reading_mm,epoch,from\n44,34.21,mouth,35\n\n",
        "epoch;from;to;reading_mm;;\nmouth;35;44;34,21;;\n".replace(";;\n", "\n", 1),
    ],
)
def test_ways_of_writing_the_same_are_read_alike(text) -> None:
    readings, _ = read(text)
    assert [(r.epoch.value, r.first, r.second, r.length_mm) for r in readings] == [("mouth", "35", "44", 34.21)]


def test_utf16_of_a_spreadsheet_is_read() -> None:
    readings, _ = parse_caliper_csv((HEAD + "mouth,35,44,34.21\n").encode("utf-16"))
    assert len(readings) == 1


def test_lines_without_a_reading_yet_are_counted() -> None:
    readings, n_empty = read(HEAD + "mouth,35,44,34.21\nmouth,35,45,\n")
    assert (len(readings), n_empty) == (1, 1)


@pytest.mark.parametrize(
    ("row", "field", "said"),
    [
        ("tray,35,44,34.2", "epoch", "none of mouth, index, cast"),
        (",35,44,34.2", "epoch", "none of"),
        ("mouth,,44,34.2", "from", "is empty"),
        ("mouth,44,44,34.2", "to", "same mark"),
        ("mouth,35,44,x", "reading_mm", "not a number"),
        ("mouth,35,44,nan", "reading_mm", "not a number"),
        ("mouth,35,44,inf", "reading_mm", "not a number"),
        ("mouth,35,44,-34.2", "reading_mm", "not a number"),
        ("mouth,35,44,1e3", "reading_mm", "not a number"),
        ("mouth,35,44,1.234.5", "reading_mm", "not a number"),
        ("mouth,35,44,٣٤", "reading_mm", "not a number"),
        ("mouth,35,44,=1+1", "reading_mm", "not a number"),
        ("mouth,35,44,3.42 cm", "reading_mm", "not in millimeters"),
        ("mouth,35,44,34210 µm", "reading_mm", "not in millimeters"),
        ("mouth,35,44,34210", "reading_mm", "out of range"),
        ("mouth,35,44,0.34", "reading_mm", "out of range"),
        ("mouth,35,44,0", "reading_mm", "out of range"),
        ("mouth,35,4\u202e4,34.2", "to", "printable"),
        ("mouth,35," + "x" * 30 + ",34.2", "to", "printable"),
    ],
)
def test_wrong_field_is_told_with_its_line(row, field, said) -> None:
    where, what, hint = faults_of(HEAD + "mouth,33,44,30.00\n" + row + "\n")[0]
    assert where == f"r.csv: line 3, {field}"
    assert said in what
    assert hint


def test_all_faults_are_told_at_once() -> None:
    assert len(faults_of(HEAD + "tray,35,44,34.2\nmouth,35,44,x\nmouth,35,35,3\n")) == 3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("epoch,from,to,reading\nmouth,35,44,34.2\n", "name the column reading_mm"),
        ("epoch,from,to,reading_um\nmouth,35,44,34210\n", "name the column reading_mm"),
        ("epoch,from,to,reading_mm,colour\nmouth,35,44,34.2,red\n", "unknown column 'colour'"),
        ("epoch,from,too,reading_mm\nmouth,35,44,34.2\n", "did you mean to"),
        ("epoch,from,reading_mm\nmouth,35,34.2\n", "column 'to' is missing"),
        ("epoch,from,to,to,reading_mm\n", "stands twice"),
        ("mouth,35,44,34.2\n", "is missing"),
        ("", "holds no table"),
        ("# only notes\n", "holds no table"),
        (HEAD, "no reading is filled in"),
        (HEAD + "mouth,35,44,\n", "no reading is filled in"),
        (HEAD + "mouth,35,44,34,21\n", "5 fields"),
        (HEAD + 'mouth,"35,44,34.2\n', "quotation marks"),
    ],
)
def test_wrong_table_is_told(text, said) -> None:
    assert any(said in f"{what} {hint}" for _, what, hint in faults_of(text))


def test_decimal_comma_between_commas_is_explained() -> None:
    assert "semicolons" in faults_of(HEAD + "mouth,35,44,34,21\n")[0][2]


def test_repeat_written_twice_is_told_with_both_lines() -> None:
    text = "epoch,from,to,reading_mm,operator,repeat\nmouth,35,44,34.21,A,1\nmouth,44,35,34.22,A,1\n"
    where, what, _ = faults_of(text)[0]
    assert "line 3" in where
    assert "line 2" in what


def test_same_repeat_of_another_operator_is_no_double() -> None:
    text = "epoch,from,to,reading_mm,operator,repeat\nmouth,35,44,34.21,A,1\nmouth,35,44,34.22,B,1\n"
    assert len(read(text)[0]) == 2


def test_name_written_in_two_ways_is_told() -> None:
    what = faults_of(HEAD + "mouth,35 B,44,34.21\ncast,35b,44,34.25\n")[0][1]
    assert "two ways" in what


def test_slip_of_the_pen_is_told_with_its_repeats() -> None:
    text = HEAD + "mouth,35,44,34.21\nmouth,35,44,43.21\nmouth,35,44,34.23\n"
    where, what, _ = faults_of(text)[0]
    assert where == "r.csv: line 3, reading_mm"
    assert "34.21" in what


def test_mouth_and_index_in_one_sheet_are_refused() -> None:
    assert "both mouth and index" in faults_of(HEAD + "mouth,35,44,34.21\nindex,35,44,34.21\n")[0][1]


@pytest.mark.parametrize(
    "data", [b"\x00\x01\x02", b"\xff\xfe\x00", b"\x89PNG\r\n\x1a\n", b"epoch,\xe9\n", b"PK\x03\x04" * 50]
)
def test_file_that_is_no_text_is_refused(data) -> None:
    with pytest.raises(InputError):
        parse_caliper_csv(data)


def test_hostile_size_is_refused_before_it_costs_time() -> None:
    with pytest.raises(InputError, match="larger than"):
        parse_caliper_csv(b"a" * 2_000_000)
    with pytest.raises(InputError, match="rows"):
        parse_caliper_csv((HEAD + "mouth,35,44,34.2\n" * 6000).encode())
    with pytest.raises(InputError, match="hundreds of characters"):
        parse_caliper_csv((HEAD + "mouth,35," + "4" * 5000 + ",34.2\n").encode())


def test_thousands_of_faults_are_told_shortly() -> None:
    with pytest.raises(InputError) as caught:
        read(HEAD + "tray,35,44,x\n" * 3000)
    assert len(caught.value.faults) <= 21


def test_missing_file_is_told(tmp_path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        CaliperSheetFile(tmp_path / "none.csv").load()


@pytest.mark.parametrize("decimal_comma", [False, True])
def test_template_filled_in_is_read_back(decimal_comma) -> None:
    marks = ("37", "35 buccal", "43", "45")
    lines = caliper_template(marks, decimal_comma=decimal_comma).decode().splitlines()
    separator = ";" if decimal_comma else ","
    filled = [
        line.replace(separator * 3, f"{separator}3{k % 5}{',' if decimal_comma else '.'}5{separator}{separator}")
        if not line.startswith("#")
        else line
        for k, line in enumerate(lines)
    ]
    text = "\n".join(f for f in filled)
    with pytest.raises(InputError):  # every distance reads 3x.5 in turn: slips of the pen, told
        parse_caliper_csv(text.encode())
    same = [
        line.replace(separator * 3, f"{separator}34.5{separator}{separator}") if line[0] != "#" else line
        for line in lines
    ]
    readings, n_empty = parse_caliper_csv("\n".join(same).encode())
    assert n_empty == 0
    assert len(readings) == 6 * 3 * 2
    assert {r.pair for r in readings} == {tuple(sorted(p)) for p in combinations(marks, 2)}


def test_line_with_another_separator_is_not_lost_quietly() -> None:
    text = "epoch;from;to;reading_mm\nmouth;35;44;34.21\nmouth,35,45,30.10\n"
    assert faults_of(text)[0][0].startswith("r.csv: line 3")


def test_letters_that_look_the_same_are_one_mark() -> None:
    readings, _ = read(HEAD + "mouth,35 e\u0301,44,34.21\nmouth,35 \u00e9,44,34.22\n")
    assert len({r.pair for r in readings}) == 1


def test_endless_file_is_cut_off() -> None:
    zero = Path("/dev/zero")
    if not zero.exists():
        pytest.skip("no endless file here")
    with pytest.raises(InputError, match="larger than"):
        CaliperSheetFile(zero).load()
