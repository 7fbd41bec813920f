"""From plain data, as TOML or JSON give it, to a case, a bench or an event, with every fault found on the way.

Strict: nothing is converted from another type, so that "36", 36.0 and true are no tooth numbers. Knows no files.
"""

import json
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any, TypeVar, get_args
from unicodedata import category

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from seatwright.case._bench import BENCH_SCHEMA_VERSION, Bench
from seatwright.case._document import SCHEMA_VERSION, Case
from seatwright.case._events import Event, event_adapter
from seatwright.case._faults import located
from seatwright.case._set_aside import set_aside
from seatwright.case._upgrade import BENCH_UPGRADES, CASE_UPGRADES, upgrade_document
from seatwright.case._validate import find_contradictions, validate_bench, validate_case
from seatwright.case._wording import describe_errors, shown_path
from seatwright.errors import Fault

__all__ = ["parse_bench", "parse_case", "parse_event"]

_MAX_DEPTH = 12  # judgement: the deepest legal place is unit[i].margin.facial.kind, five
_MAX_ENTRIES = 100  # judgement: an arch has sixteen teeth; keeps every check quick
_MAX_CHARS = 2000  # judgement: the longest note that anybody reads
_DIRECTION_MARKS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""They make a line read otherwise than it is."""
_TAGS = frozenset(get_args(member.model_fields["what"].annotation)[0] for member in get_args(get_args(Event)[0]))

_Document = TypeVar("_Document", bound=BaseModel)


def parse_case(data: Mapping[str, Any], *, file: str = "case.toml") -> tuple[Case | None, tuple[Fault, ...]]:
    """Return a case, or None, and every fault found in it.

    Parameters
    ----------
    data : mapping
        The document as tomllib or json read it.
    file : str
        Name that each fault's place begins with.

    Returns
    -------
    case : Case or None
        None when a single field is wrong. A case with contradictions between its parts is returned along with them,
        so that its log can still be checked.
    faults : tuple of Fault
        Wrong single fields, and the contradictions between the parts that can be read.
    """
    upgraded, faults = _prepare(data, current=SCHEMA_VERSION, upgrades=CASE_UPGRADES, file=file)
    if upgraded is None:
        return None, faults
    case, single, unknown = _validate(upgraded, Case)
    if case is None:
        return None, located([*single, *_mutual_of_the_rest(upgraded)], file)
    mutual = [f for f in validate_case(case, file=file) if f.where not in {f"{file}: {path}" for path in unknown}]
    return (None if single else case), (*located(single, file), *mutual)


def _mutual_of_the_rest(data: dict[str, Any]) -> list[Fault]:
    """Return the contradictions that hold whatever the wrong fields should have been."""
    plain = json.loads(_as_json(data))
    rest = set_aside(plain, [detail["loc"] for detail in _errors(plain)])
    if rest is None or _errors(rest.data):
        return []
    case = Case.model_validate_json(json.dumps(rest.data), strict=True)
    return rest.certain(find_contradictions(case))


def _errors(plain: dict[str, Any]) -> list[ErrorDetails]:
    try:
        Case.model_validate_json(json.dumps(plain), strict=True)
    except ValidationError as error:
        return error.errors(include_url=False)
    return []


def parse_bench(data: Mapping[str, Any], *, file: str = "bench.toml") -> tuple[Bench | None, tuple[Fault, ...]]:
    """Return a bench, or None, and every fault found in it; see `parse_case`."""
    upgraded, faults = _prepare(data, current=BENCH_SCHEMA_VERSION, upgrades=BENCH_UPGRADES, file=file)
    if upgraded is None:
        return None, faults
    bench, single, _ = _validate(upgraded, Bench)
    if bench is None:
        return None, located(single, file)
    return (None if single else bench), (*located(single, file), *validate_bench(bench, file=file))


def parse_event(data: object, *, file: str = "log.jsonl: line 1") -> tuple[Event | None, tuple[Fault, ...]]:
    """Return one event, or None, and every fault found in it."""
    if not isinstance(data, Mapping):
        return None, (Fault(file, "is no JSON object", 'each line is one event: {"seq": ..., "at": ..., "by": ...}'),)
    if faults := _check_shape(data):
        return None, located(faults, file)
    try:
        return event_adapter.validate_json(_as_json(data), strict=True), ()
    except ValidationError as error:
        kinds = {get_args(m.model_fields["what"].annotation)[0]: m for m in get_args(get_args(Event)[0])}
        what = data.get("what")
        return None, located(
            describe_errors(error, kinds.get(what) if isinstance(what, str) else None, tags=_TAGS), file
        )


def _prepare(
    data: Mapping[str, Any], *, current: int, upgrades: Mapping[int, Any], file: str
) -> tuple[dict[str, Any] | None, tuple[Fault, ...]]:
    if faults := _check_shape(data):
        return None, located(faults, file)
    return upgrade_document(data, current=current, upgrades=upgrades, file=file)


def _validate(data: dict[str, Any], model: type[_Document]) -> tuple[_Document | None, list[Fault], set[str]]:
    """Return the document, its faults, and the paths that an unknown field may have been meant for.

    Unknown fields alone do not hide what else is wrong: they are reported, set aside, and the rest is read.
    """
    try:
        return model.model_validate_json(_as_json(data), strict=True), [], set()
    except ValidationError as error:
        faults = describe_errors(error, model)
        details = error.errors(include_url=False)
    if any(d["type"] != "extra_forbidden" for d in details):
        return None, faults, set()
    rest = json.loads(_as_json(data))
    meant = set()
    for detail, fault in zip(details, faults, strict=True):
        *parents, name = detail["loc"]
        table = rest
        for part in parents:
            table = table[part]
        del table[name]
        if fault.hint.startswith("did you mean "):
            right = fault.hint.removeprefix("did you mean ").removesuffix("?")
            meant.add(shown_path((*parents, right)))
    try:
        return model.model_validate_json(json.dumps(rest), strict=True), faults, meant
    except ValidationError as error:  # a document-wide rule may still object
        return None, [*faults, *describe_errors(error, model)], set()


def _as_json(data: Mapping[str, Any]) -> str:
    return json.dumps(data, default=_written)


def _written(value: object) -> str:
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    raise TypeError(f"a document holds no {type(value).__name__}")


def _check_shape(data: Mapping[str, Any]) -> list[Fault]:
    """Return what makes plain data unfit before any field is looked at: depth, length, control characters."""
    faults: list[Fault] = []
    open_places: list[tuple[tuple[str | int, ...], object]] = [((), data)]
    while open_places:
        loc, value = open_places.pop()
        if isinstance(value, str):
            faults += _check_text(loc, value)
        elif isinstance(value, Mapping | list):
            if len(loc) >= _MAX_DEPTH:
                faults.append(Fault(shown_path(loc), "is nested too deep", "no field needs it; remove it"))
                continue
            if len(value) > _MAX_ENTRIES:
                faults.append(
                    Fault(
                        shown_path(loc),
                        f"has {len(value)} entries; at most {_MAX_ENTRIES} are read",
                        "remove the surplus",
                    )
                )
                continue
            items = value.items() if isinstance(value, Mapping) else enumerate(value)
            for key, inner in items:
                if isinstance(key, str):
                    faults += _check_text((*loc, "field name"), key)
                open_places.append(((*loc, key), inner))
    return sorted(faults, key=lambda fault: fault.where)


def _check_text(loc: tuple[str | int, ...], text: str) -> list[Fault]:
    where = shown_path(loc)
    if len(text) > _MAX_CHARS:
        return [Fault(where, f"has {len(text)} characters; at most {_MAX_CHARS} are read", "shorten it")]
    bad = next((c for c in text if c in _DIRECTION_MARKS or (category(c) in ("Cc", "Cs") and c not in "\n\t")), None)
    if bad is None:
        return []
    return [Fault(where, f"holds the invisible character U+{ord(bad):04X}", "remove it; type the text anew")]
