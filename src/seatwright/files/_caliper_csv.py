"""Caliper readings from a CSV file, and the template to fill in; every fault is collected before anything is said."""

import hashlib
import re
import unicodedata
from collections.abc import Sequence
from itertools import combinations
from pathlib import Path
from statistics import median

from seatwright.cast import CaliperReading, Epoch
from seatwright.errors import Fault, InputError
from seatwright.files._csv_table import CsvRow, CsvTable, parse_length, parse_table, read_csv_bytes
from seatwright.workflows.caliper import CaliperSheet
from seatwright.workflows.ports import InputFile

__all__ = ["CALIPER_COLUMNS", "CaliperSheetFile", "caliper_template", "parse_caliper_csv"]

CALIPER_COLUMNS = ("epoch", "from", "to", "reading_mm", "operator", "repeat")
_REQUIRED = ("epoch", "from", "to", "reading_mm")
_SHORTEST_MM = 1.0  # judgement: marks nearer than this are not read with jaws
_LONGEST_MM = 130.0  # judgement: no arch is wider; a slip of the unit or of the point
_WIDEST_MM = 2.0  # judgement: repeats that differ by more are a slip of the pen, not scatter
_LONGEST_NAME = 24  # judgement: fits a column
_NAME = re.compile(r"^[^\x00-\x1f\x7f\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]+$")


class CaliperSheetFile:
    """Caliper readings in a CSV file; implements `workflows.caliper.SheetSource`."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def load(self) -> CaliperSheet:
        """Read all readings.

        Raises
        ------
        InputError
            With every fault found, each with its line, field and remedy.
        """
        data = read_csv_bytes(self._path)
        readings, n_empty = parse_caliper_csv(data, file=self._path.name)
        digest = hashlib.sha256(data).hexdigest()
        return CaliperSheet(readings, n_empty, InputFile("--readings", digest, len(data)))


def parse_caliper_csv(data: bytes, *, file: str = "readings.csv") -> tuple[tuple[CaliperReading, ...], int]:
    """Parse the bytes of a readings file; return the readings and how many lines have no reading yet.

    Raises
    ------
    InputError
        With every fault found, each with its line, field and remedy.
    """
    table = parse_table(data, file=file, columns=CALIPER_COLUMNS, required=_REQUIRED)
    faults: list[Fault] = []
    rows: list[tuple[CaliperReading, str]] = []
    n_empty = 0
    for row in table.rows:
        n_before = len(faults)
        place = _parse_place(row, faults)
        if not row.get("reading_mm"):
            n_empty += len(faults) == n_before
            continue
        reading = _parse_reading(row, place, faults)
        if reading is not None and len(faults) == n_before:
            rows.append((reading, row.get("repeat")))
    readings = tuple(reading for reading, _ in rows)
    if not faults:
        faults = [*_check_names(readings, table), *_check_repeats(rows, table), *_check_slips(readings, table)]
    if not faults and {Epoch.MOUTH, Epoch.INDEX} <= {r.epoch for r in readings}:
        faults.append(Fault(file, "holds readings of both mouth and index", "compare the cast with one of them"))
    table.refuse(faults)
    if not readings:
        raise InputError(f"{file}: no reading is filled in", hint="write each reading in mm under reading_mm")
    return readings, n_empty


def _parse_place(row: CsvRow, faults: list[Fault]) -> tuple[str, str, str]:
    """Return epoch and both marks; a line without a reading must name them too, so that none is lost quietly."""
    epoch = row.get("epoch").lower()
    if epoch not in {e.value for e in Epoch}:
        what = f"'{row.get('epoch')[:40]}' is none of mouth, index, cast"
        faults.append(row.fault("epoch", what, "write where it was read"))
    first, second = (_parse_name(row, field, faults) for field in ("from", "to"))
    if first and first == second:
        faults.append(row.fault("to", f"is the same mark as from: '{first}'", "name two marks"))
    return epoch, first, second


def _parse_reading(row: CsvRow, place: tuple[str, str, str], faults: list[Fault]) -> CaliperReading | None:
    length = parse_length(row, "reading_mm", (_SHORTEST_MM, _LONGEST_MM), faults)
    repeat = row.get("repeat")
    if repeat and not re.fullmatch(r"[0-9]{1,4}", repeat):
        faults.append(row.fault("repeat", f"'{repeat[:40]}' is no whole number", "number the repeats 1, 2, 3"))
    if len(row.get("operator")) > _LONGEST_NAME:
        faults.append(row.fault("operator", f"is longer than {_LONGEST_NAME} characters", "use initials"))
    if length is None or place[0] not in {e.value for e in Epoch}:
        return None
    return CaliperReading(Epoch(place[0]), place[1], place[2], length, row.get("operator"), row.line)


def _parse_name(row: CsvRow, field: str, faults: list[Fault]) -> str:
    name = unicodedata.normalize("NFC", " ".join(row.get(field).split()))
    if not name:
        faults.append(row.fault(field, "is empty", "name the mark, such as 35"))
    elif len(name) > _LONGEST_NAME or not _NAME.match(name):
        faults.append(
            row.fault(field, "is no short printable name", "use a tooth number and a word, such as 35 buccal")
        )
    return name


def _check_names(readings: Sequence[CaliperReading], table: CsvTable) -> list[Fault]:
    seen: dict[str, tuple[str, int]] = {}
    faults = []
    for reading in readings:
        for name in (reading.first, reading.second):
            key = name.casefold().replace(" ", "")
            known = seen.setdefault(key, (name, reading.line))
            if known[0] != name:
                what = f"'{name}' and '{known[0]}' (line {known[1]}) look like one mark written in two ways"
                faults.append(Fault(table.place(reading.line), what, "write a mark's name the same way everywhere"))
                seen[key] = (name, reading.line)
    return faults


def _check_repeats(rows: Sequence[tuple[CaliperReading, str]], table: CsvTable) -> list[Fault]:
    seen: dict[tuple[object, ...], int] = {}
    faults = []
    for reading, repeat in rows:
        if not repeat:
            continue
        key = (reading.epoch, reading.pair, reading.operator, int(repeat))
        if key in seen:
            what = f"{reading.first} to {reading.second} {reading.epoch.value}, repeat {int(repeat)} stands on line "
            faults.append(
                Fault(table.place(reading.line, "repeat"), f"{what}{seen[key]} already", "number repeats 1, 2, 3")
            )
        seen.setdefault(key, reading.line)
    return faults


def _check_slips(readings: Sequence[CaliperReading], table: CsvTable) -> list[Fault]:
    cells: dict[tuple[Epoch, tuple[str, str]], list[CaliperReading]] = {}
    for reading in readings:
        cells.setdefault((reading.epoch, reading.pair), []).append(reading)
    faults = []
    for cell in cells.values():
        middle = median(r.length_mm for r in cell)
        for reading in cell:
            if abs(reading.length_mm - middle) <= _WIDEST_MM:
                continue
            others = ", ".join(f"{r.length_mm:g}" for r in cell if r is not reading)
            what = f"{reading.length_mm:g} mm, but {reading.first} to {reading.second} also reads {others} mm"
            hint = "one of them is a slip of the pen or belongs to another distance: mend it or empty the field"
            faults.append(Fault(table.place(reading.line, "reading_mm"), what, hint))
    return faults


_TEMPLATE_HEAD = """\
# Distances between marks, in mm, to 0.01. Lines that begin with # are notes and are not read.
# epoch: mouth (or index: the verification index made in the mouth) and cast, with the same caliper.
# Marks: small sharp pits or crossed lines; jaws always on the same spot, pressed no more than they close by themselves.
# Read all distances once, then all a second time, then a third: never the same one twice in a row; lift the jaws.
# Do not look at the earlier reading. Read mouth and cast at one temperature, the cast dry.
"""


def caliper_template(marks: Sequence[str], *, n_repeats: int = 3, decimal_comma: bool = False) -> bytes:
    """Return a readings file with every distance between the marks to fill in, round by round, mouth first."""
    separator = ";" if decimal_comma else ","
    lines = [separator.join(CALIPER_COLUMNS)]
    for epoch in (Epoch.MOUTH, Epoch.CAST):
        for repeat in range(1, n_repeats + 1):
            lines += [
                separator.join((epoch.value, first, second, "", "", str(repeat)))
                for first, second in combinations(marks, 2)
            ]
    return (_TEMPLATE_HEAD + "\n".join(lines) + "\n").encode("utf-8")
