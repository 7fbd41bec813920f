"""Foil readings of the index test from a CSV file, and the template to fill in."""

import hashlib
import re
from collections.abc import Sequence
from pathlib import Path

from seatwright.cast import FoilReading
from seatwright.errors import Fault, InputError
from seatwright.files._csv_table import CsvRow, CsvTable, parse_number, parse_table, read_csv_bytes
from seatwright.workflows.caliper import IndexSheet
from seatwright.workflows.ports import InputFile

__all__ = ["INDEX_COLUMNS", "IndexSheetFile", "index_template", "parse_index_csv"]

INDEX_COLUMNS = ("fixed", "at", "passes_um", "stops_um", "x_mm", "y_mm")
_THICKEST_UM = 2_000.0  # judgement: thicker gaps are not read by foil
_WIDEST_MM = 100.0  # judgement: no arch is larger
_SAME_MM = 1.0  # judgement: one seat's place, measured twice with a ruler
_NAME = re.compile(r"^[^\x00-\x1f\x7f\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]{1,24}$")


class IndexSheetFile:
    """Foil readings in a CSV file; implements `workflows.caliper.IndexSource`."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def load(self) -> IndexSheet:
        """Read all gaps; InputError with every fault found."""
        data = read_csv_bytes(self._path)
        readings, places, n_empty = parse_index_csv(data, file=self._path.name)
        file = InputFile("--index", hashlib.sha256(data).hexdigest(), len(data))
        return IndexSheet(readings, places, n_empty, file)


def parse_index_csv(
    data: bytes, *, file: str = "index.csv"
) -> tuple[tuple[FoilReading, ...], dict[str, tuple[float, float]], int]:
    """Parse an index sheet: gaps, plan places of seats where stated, and how many lines have no reading yet.

    Raises
    ------
    InputError
        With every fault found, each with its line, field and remedy.
    """
    table = parse_table(data, file=file, columns=INDEX_COLUMNS, required=("fixed", "at", "passes_um", "stops_um"))
    faults: list[Fault] = []
    readings: list[FoilReading] = []
    places: dict[str, tuple[float, float]] = {}
    n_empty = 0
    for row in table.rows:
        names = tuple(" ".join(row.get(field).split()) for field in ("fixed", "at"))
        for field, name in zip(("fixed", "at"), names, strict=True):
            if not _NAME.match(name):
                faults.append(row.fault(field, "is no short printable name", "name the seat, such as 35"))
        _parse_place(row, names[1], places, faults)
        if not row.get("passes_um") and not row.get("stops_um"):
            n_empty += 1
            continue
        reading = _parse_reading(row, (names[0], names[1]), faults)
        if reading is not None:
            readings.append(reading)
    table.refuse(faults or _check_doubles(readings, table))
    if not readings:
        raise InputError(f"{file}: no gap is filled in", hint="write the foil that enters and the next that does not")
    return tuple(readings), places, n_empty


def _parse_reading(row: CsvRow, names: tuple[str, str], faults: list[Fault]) -> FoilReading | None:
    n_before = len(faults)
    limits = (0.0, _THICKEST_UM)
    passes = parse_number(row, "passes_um", limits, faults, unit="µm") if row.get("passes_um") else 0.0
    stops = parse_number(row, "stops_um", limits, faults, unit="µm") if row.get("stops_um") else None
    if len(faults) > n_before or passes is None:
        return None
    if stops is not None and stops <= passes:
        what = f"{stops:g} µm does not enter although {passes:g} µm does"
        faults.append(row.fault("stops_um", what, "the foil that stops is the thicker one"))
        return None
    return FoilReading(names[0], names[1], passes, stops, row.line)


def _parse_place(row: CsvRow, seat: str, places: dict[str, tuple[float, float]], faults: list[Fault]) -> None:
    stated = [field for field in ("x_mm", "y_mm") if row.get(field)]
    if not stated:
        return
    if len(stated) == 1:
        faults.append(row.fault(stated[0], "stands without the other coordinate", "give both x_mm and y_mm"))
        return
    limits = (-_WIDEST_MM, _WIDEST_MM)
    x, y = (parse_number(row, field, limits, faults, unit="mm") for field in ("x_mm", "y_mm"))
    if x is None or y is None:
        return
    known = places.setdefault(seat, (x, y))
    if max(abs(known[0] - x), abs(known[1] - y)) > _SAME_MM:
        what = f"seat {seat} stands at {known[0]:g}, {known[1]:g} mm elsewhere"
        faults.append(row.fault("x_mm", what, "give each seat one place: that of the seat under 'at'"))


def _check_doubles(readings: Sequence[FoilReading], table: CsvTable) -> list[Fault]:
    seen: dict[tuple[str, str], int] = {}
    faults = []
    for reading in readings:
        key = (reading.fixed, reading.at)
        if key in seen:
            what = f"{reading.fixed} fixed, {reading.at} read stands on line {seen[key]} already"
            faults.append(Fault(table.place(reading.line), what, "keep the reading you trust"))
        seen.setdefault(key, reading.line)
    return faults


_HEAD = """\
# Index test. Fix the rigid index at one seat, read the gap at every other by foil; then fix the next seat.
# passes_um: thickest foil that enters (0: none). stops_um: next thicker one that does not (empty: all entered).
# A line with the same seat twice says whether the index sits there at all when fixed: 0 and the thinnest foil.
# x_mm, y_mm: plan place of the seat under 'at', to a millimeter; may stay empty for tooth numbers of one arch.
# Foils dry and unwrinkled; do not force the index down; the fixed seat at its stated torque or finger pressure only.
"""


def index_template(seats: Sequence[str], *, decimal_comma: bool = False) -> bytes:
    """Return an index sheet with every gap to fill in, seat by seat."""
    separator = ";" if decimal_comma else ","
    lines = [separator.join(INDEX_COLUMNS)]
    lines += [separator.join((fixed, at, "", "", "", "")) for fixed in seats for at in seats]
    return (_HEAD + "\n".join(lines) + "\n").encode("utf-8")
