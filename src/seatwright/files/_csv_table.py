"""A small, strict table from CSV text: comma, semicolon or tab, notes after #, decimal comma, faults by line."""

import csv
import difflib
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from seatwright.errors import Fault, InputError

__all__ = ["MAX_CSV_BYTES", "CsvRow", "CsvTable", "parse_length", "parse_number", "parse_table", "read_csv_bytes"]

MAX_CSV_BYTES = 1_000_000  # judgement: a thousand readings take some 30 kB
_MAX_ROWS = 5_000  # judgement: nobody reads more distances by hand
_MAX_FAULTS = 20  # judgement: more of them is another kind of file; the first ones say so
_MAX_FIELD = 200  # judgement: longer fields are no names or numbers
_NUMBER = re.compile(r"^(?P<whole>[0-9]{1,6})(?:[.,](?P<part>[0-9]{1,6}))?\s*(?P<unit>mm)?$", re.IGNORECASE)
_SIGNED = re.compile(r"^-?[0-9]{1,6}(?:[.,][0-9]{1,6})?$")
_OTHER_UNIT = re.compile(r"^[0-9.,]+\s*(um|µm|μm|cm|m|in|inch|\")$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class CsvRow:
    """One row of fields by column name, with its line in the file."""

    file: str
    line: int
    fields: Mapping[str, str]

    def get(self, name: str) -> str:
        """Return a field without blanks around it; empty when it is absent."""
        return self.fields.get(name, "")

    def fault(self, field: str, what: str, hint: str) -> Fault:
        """Return a fault of one field of this row."""
        return Fault(f"{self.file}: line {self.line}, {field}", what, hint)


@dataclass(frozen=True, slots=True)
class CsvTable:
    """Rows of a table."""

    file: str
    rows: tuple[CsvRow, ...]

    def place(self, line: int, field: str = "") -> str:
        """Return where something stands, as a fault tells it."""
        return f"{self.file}: line {line}{f', {field}' if field else ''}"

    def refuse(self, faults: Sequence[Fault]) -> None:
        """Raise `InputError` with all faults, if there are any."""
        _refuse(self.file, faults)


def _refuse(file: str, faults: Sequence[Fault]) -> None:
    if not faults:
        return
    shown = list(faults[:_MAX_FAULTS])
    if len(faults) > _MAX_FAULTS:
        shown.append(Fault(file, f"{len(faults) - _MAX_FAULTS} more faults", "mend the ones above first"))
    more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
    raise InputError(f"{faults[0].where}: {faults[0].what}{more}", hint=faults[0].hint, faults=shown)


def read_csv_bytes(path: Path) -> bytes:
    """Return a CSV file's bytes; InputError when it cannot be read or is too large, of which no more is read."""
    try:
        with path.open("rb") as stream:
            data = stream.read(MAX_CSV_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path.name}: cannot be read ({error.strerror or error})", hint="check the path") from error
    _require_size(data, path.name)
    return data


def _require_size(data: bytes, file: str) -> None:
    if len(data) > MAX_CSV_BYTES:
        raise InputError(f"{file}: is larger than {MAX_CSV_BYTES // 1000} kB", hint="check that it is the right file")


def parse_table(data: bytes, *, file: str, columns: Sequence[str], required: Sequence[str]) -> CsvTable:
    """Parse CSV bytes whose first line that is no note names the columns.

    Raises
    ------
    InputError
        For text that is not UTF-8, an empty table, unknown or missing columns, rows of another width, or too much.
    """
    text = _decode(data, file)
    lines = [
        (n, line) for n, line in enumerate(re.split(r"\r\n|\r|\n", text), 1) if line.strip() and not _is_note(line)
    ]
    if lines and re.fullmatch(r"sep=.", lines[0][1].strip(), re.IGNORECASE):
        lines = lines[1:]
    if not lines:
        raise InputError(f"{file}: holds no table", hint=f"name the columns in the first line: {', '.join(columns)}")
    if len(lines) > _MAX_ROWS:
        raise InputError(
            f"{file}: has {len(lines)} rows; at most {_MAX_ROWS} are read", hint="check that it is the right file"
        )
    separator = max(";\t,", key=lambda mark: (lines[0][1].count(mark), mark != ","))
    names = [name.strip().lower() for name in _split(lines[0], separator, file)]
    _require_columns(names, file, lines[0][0], (columns, required))
    rows, faults = [], []
    for line in lines[1:]:
        fields = [field.strip() for field in _split(line, separator, file)]
        while len(fields) > len(names) and not fields[-1]:
            fields.pop()
        if len(fields) > len(names):
            faults.append(_too_wide(file, line[0], len(fields), len(names), separator))
            continue
        if any(len(field) > _MAX_FIELD for field in fields):
            faults.append(Fault(f"{file}: line {line[0]}", "holds a field of hundreds of characters", "shorten it"))
            continue
        if any(fields):
            rows.append(CsvRow(file, line[0], dict(zip(names, fields, strict=False))))
    _refuse(file, faults)
    return CsvTable(file, tuple(rows))


def _is_note(line: str) -> bool:
    return line.lstrip().lstrip('"').startswith("#")


def _decode(data: bytes, file: str) -> str:
    _require_size(data, file)
    for mark, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            try:
                return data.decode(encoding)
            except UnicodeDecodeError:
                break
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{file}: is not UTF-8 text", hint="save it as CSV, UTF-8") from error
    if "\x00" in text:
        raise InputError(f"{file}: holds zero bytes, so it is no text", hint="save it as CSV, UTF-8")
    return text


def _split(line: tuple[int, str], separator: str, file: str) -> list[str]:
    try:
        return next(csv.reader(io.StringIO(line[1]), delimiter=separator, strict=True))
    except (csv.Error, StopIteration) as error:
        raise InputError(
            f"{file}: line {line[0]}: quotation marks do not close", hint="remove the quotation marks"
        ) from error


def _require_columns(names: list[str], file: str, line: int, wanted: tuple[Sequence[str], Sequence[str]]) -> None:
    columns, required = wanted
    where = f"{file}: line {line}"
    faults = [
        Fault(where, f"column '{n}' stands twice", "remove one") for n in dict.fromkeys(names) if names.count(n) > 1
    ]
    for name in names:
        if name in columns:
            continue
        near = difflib.get_close_matches(name, columns, 1, 0.6)
        hint = f"did you mean {near[0]}?" if near else f"known: {', '.join(columns)}"
        if name.startswith("reading") and near:
            hint = f"readings are in mm: name the column {near[0]} and write millimeters"
        faults.append(Fault(where, f"unknown column '{name[:40]}'", hint))
    faults += [Fault(where, f"column '{n}' is missing", f"the first line names the columns: {', '.join(columns)}")
               for n in required if n not in names]  # fmt: skip
    _refuse(file, faults)


def _too_wide(file: str, line: int, n_fields: int, n_columns: int, separator: str) -> Fault:
    hint = "remove what is too much"
    if separator == ",":
        hint = "with a decimal comma, separate fields by semicolons; or write a point"
    return Fault(f"{file}: line {line}", f"has {n_fields} fields, but there are {n_columns} columns", hint)


def parse_number(
    row: CsvRow, field: str, limits: tuple[float, float], faults: list[Fault], *, unit: str
) -> float | None:
    """Return a number in the column's own unit between limits, with point or comma; else None and a fault."""
    text = row.get(field)
    found = _SIGNED.match(text)
    if found is None:
        faults.append(row.fault(field, f"'{text[:40]}' is not a number", f"write a plain number in {unit}"))
        return None
    value = float(text.replace(",", "."))
    if not limits[0] <= value <= limits[1]:
        hint = f"{limits[0]:g} to {limits[1]:g} {unit} are expected"
        faults.append(row.fault(field, f"{value:g} {unit} is out of range", hint))
        return None
    return value


def parse_length(row: CsvRow, field: str, limits: tuple[float, float], faults: list[Fault]) -> float | None:
    """Return a length in mm between limits, with point or comma; else None, with a fault added."""
    text = row.get(field)
    found = _NUMBER.match(text)
    if found is None:
        other = _OTHER_UNIT.match(text)
        what = f"'{text[:40]}' is not in millimeters" if other else f"'{text[:40]}' is not a number"
        hint = "write millimeters" if other else "write a plain number in mm, such as 34.21"
        faults.append(row.fault(field, what, hint))
        return None
    value = float(f"{found['whole']}.{found['part'] or '0'}")
    low, high = limits
    if not low <= value <= high:
        hint = f"lengths from {low:g} to {high:g} mm are expected"
        if value > high:
            hint += "; is it in micrometers, or is the point missing?"
        elif value * 10 >= 0.1 and value > 0:
            hint += "; is it in centimeters or inches?"
        faults.append(row.fault(field, f"{value:g} mm is out of range", hint))
        return None
    return value
