"""The three documents of a case as bytes: TOML and JSON lines, read with their faults and written canonically.

Owns text and syntax. What the fields mean stands in `case`; where the files are stands in `case_folder`.
"""

import json
import re
import tomllib
from collections.abc import Sequence
from typing import Any

import tomli_w

from seatwright.case import Bench, Case, Event, parse_bench, parse_case, parse_event, write_event
from seatwright.errors import Fault

__all__ = [
    "MAX_DOCUMENT_BYTES",
    "MAX_LOG_BYTES",
    "bench_to_toml",
    "case_to_toml",
    "events_to_jsonl",
    "read_bench",
    "read_case",
    "read_log",
    "read_table",
]

MAX_DOCUMENT_BYTES = 256_000  # judgement: a full arch takes some 10 kB
MAX_LOG_BYTES = 16_000_000  # judgement: with MAX_LOG_LINES, some 3 kB a line
MAX_LOG_LINES = 5_000  # judgement: a case takes hundreds of lines; keeps every check quick
# judgement: the longest text has 2000; readers of TOML take quadratic time over longer keys
_MAX_LINE_CHARS = 5_000
_MAX_BAD_LINES = 20  # judgement: more of them is no log; the first ones say so
_PLACE = re.compile(r"\s*\(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)")


def read_case(data: bytes, *, file: str = "case.toml") -> tuple[Case | None, tuple[Fault, ...]]:
    """Return the case that TOML text holds, or None, and every fault found in it."""
    table, faults = read_table(data, file)
    return (None, faults) if table is None else parse_case(table, file=file)


def read_bench(data: bytes, *, file: str = "bench.toml") -> tuple[Bench | None, tuple[Fault, ...]]:
    """Return the bench that TOML text holds, or None, and every fault found in it."""
    table, faults = read_table(data, file)
    return (None, faults) if table is None else parse_bench(table, file=file)


def read_log(data: bytes, *, file: str = "log.jsonl") -> tuple[tuple[Event, ...], tuple[int, ...], tuple[Fault, ...]]:
    """Return the events that JSON lines hold, the line each stands on, and every fault found in single lines."""
    text, faults = _decode(data, file, limit=MAX_LOG_BYTES)
    if text is None:
        return (), (), faults
    lines = text.split("\n")
    is_cut_off = bool(lines[-1].strip())
    if not is_cut_off:
        lines.pop()
    if len(lines) > MAX_LOG_LINES:
        what = f"has {len(lines)} lines; at most {MAX_LOG_LINES} are read"
        return (), (), (Fault(file, what, "keep one case's events in it; check that it is a log"),)
    events: list[Event] = []
    places: list[int] = []
    bad: list[Fault] = []
    n_bad_lines = 0
    for number, line in enumerate(lines, start=1):
        event, found = _read_line(line.removesuffix("\r"), f"{file}: line {number}")
        if event is None and is_cut_off and number == len(lines):
            found = (_cut_off(found, f"{file}: line {number}"),)
        if event is not None:
            events.append(event)
            places.append(number)
            continue
        n_bad_lines += 1
        bad += found
        if n_bad_lines == _MAX_BAD_LINES:
            bad.append(Fault(file, f"reading stopped at line {number}", "mend the lines above first"))
            break
    return tuple(events), tuple(places), tuple(bad)


def case_to_toml(case: Case) -> bytes:
    """Write a case canonically: fields in the order of the schema, defaults included, absent values left out."""
    return _to_toml(case.model_dump(by_alias=True, exclude_none=True))


def bench_to_toml(bench: Bench) -> bytes:
    """Write a bench canonically; see `case_to_toml`."""
    return _to_toml(bench.model_dump(by_alias=True, exclude_none=True))


def events_to_jsonl(events: Sequence[Event]) -> bytes:
    """Write events as JSON lines, each ended by a line feed, times in UTC."""
    return "".join(f"{write_event(event)}\n" for event in events).encode()


def _to_toml(table: dict[str, Any]) -> bytes:
    return tomli_w.dumps(_plain(table)).encode()


def _plain(value: Any) -> Any:
    """Turn what a model holds into what TOML holds: text for words, lists for tuples."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, str):
        return str(value)
    return value


def _decode(data: bytes, file: str, *, limit: int) -> tuple[str | None, tuple[Fault, ...]]:
    if len(data) > limit:
        return None, (
            Fault(file, f"is {len(data)} bytes; at most {limit} are read", "check that it is the right file"),
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return None, (Fault(file, "is written in UTF-16", "save it as UTF-8"),)
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return None, (Fault(f"{file}: line {line}", "holds a byte that is not UTF-8", "save the file as UTF-8"),)


def read_table(data: bytes, file: str) -> tuple[dict[str, Any] | None, tuple[Fault, ...]]:
    """Return the table that TOML text holds, or None, and what is wrong with the text."""
    text, faults = _decode(data, file, limit=MAX_DOCUMENT_BYTES)
    if text is None:
        return None, faults
    long = next((i for i, line in enumerate(text.split("\n"), start=1) if len(line) > _MAX_LINE_CHARS), None)
    if long is not None:
        what = f"is longer than {_MAX_LINE_CHARS} characters"
        return None, (Fault(f"{file}: line {long}", what, "break the list over several lines, or shorten the text"),)
    try:
        return tomllib.loads(text), ()
    except RecursionError:
        return None, (Fault(file, "is nested too deep", "no field needs it; check that it is the right file"),)
    except ValueError as error:  # TOMLDecodeError, and plain ValueError for a number of thousands of digits
        return None, (_syntax_fault(str(error), text, file),)


def _syntax_fault(message: str, text: str, file: str) -> Fault:
    place = _PLACE.search(message)
    if place is None:
        return Fault(file, "holds a number with thousands of digits", "check the numbers")
    last_line = text.count("\n") + 1
    line = int(place["line"] or last_line)
    column = f", column {place['column']}" if place["column"] else ""
    what = _PLACE.sub("", message)
    hint = (
        "every field stands once, text in quotes, lists in square brackets, "
        "tables as [name], lists of tables as [[name]]"
    )
    if "overwrite" in what or "twice" in what:
        hint = "a field or table stands twice; remove one of the two"
    return Fault(f"{file}: line {line}{column}", f"is not TOML: {what[:1].lower()}{what[1:]}", hint)


def _read_line(line: str, where: str) -> tuple[Event | None, tuple[Fault, ...]]:
    if not line.strip():
        return None, (Fault(where, "is empty", "remove the empty line"),)
    try:
        data = json.loads(line, object_pairs_hook=_refuse_repeated, parse_constant=_refuse_constant)
    except RecursionError:
        return None, (Fault(where, "is nested too deep", "no event needs it; restore the line"),)
    except json.JSONDecodeError as error:
        what = f"is not JSON: {error.msg[:1].lower()}{error.msg[1:]}, column {error.colno}"
        return None, (Fault(where, what, "each line is one event, written as one JSON object"),)
    except ValueError as error:
        return None, (Fault(where, _short(error), "each line is one event; every field stands once"),)
    return parse_event(data, file=where)


def _cut_off(found: tuple[Fault, ...], where: str) -> Fault:
    """Say that the last line was interrupted, when it is no whole JSON; else what is wrong with it."""
    if found and not found[0].what.startswith("is not JSON"):
        return found[0]
    return Fault(where, "is cut off: writing was interrupted", "delete this last line and log the event again")


def _refuse_repeated(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) < len(pairs):
        names = [name for name, _ in pairs]
        repeated = next(name for i, name in enumerate(names) if name in names[:i])
        raise ValueError(f"field {repeated!r} stands twice")
    return table


def _refuse_constant(name: str) -> float:
    raise ValueError(f"holds {name}, which is no number")


def _short(error: ValueError) -> str:
    text = str(error)
    return "holds a number with thousands of digits" if text.startswith("Exceeds the limit") else text[:120]
