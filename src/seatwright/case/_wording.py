"""Says in the trade's plain words what is wrong with a single field. Turns validation errors into faults."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from seatwright.case._faults import closest_hint
from seatwright.case._notation import ToothNotation, parse_tooth
from seatwright.errors import Fault, ValueOutOfRange

__all__ = ["describe_errors", "shown_path"]

_SHOWN_CHARS = 40  # judgement: enough to recognize a value by
_TEETH_HINT = "ISO 3950 numbers are 11 to 18, 21 to 28, 31 to 38 and 41 to 48"
_TIME_HINT = "write date, time and offset from UTC, such as 2026-03-10T09:05:00+01:00 or 2026-03-10T08:05:00Z"

Detail = Mapping[str, Any]

# error type -> (what, hint); {value} is the value given, other names come from the error's context
_WORDS: dict[str, tuple[str, str]] = {
    "missing": ("is missing", "add it; nothing is guessed"),
    "int_type": ("needs a whole number, not {value}", "write digits without quotes or decimals"),
    "float_type": ("needs a number, not {value}", "write it without quotes or unit, with a decimal point"),
    "bool_type": ("needs true or false, not {value}", "write true or false without quotes"),
    "string_type": ("needs text, not {value}", "write it in quotes"),
    "model_type": ("needs a table of fields, not {value}", "write it as a table"),
    "dict_type": ("needs a table of fields, not {value}", "write it as a table"),
    "tuple_type": ("needs a list, not {value}", "write a list in square brackets"),
    "too_short": ("has {actual_length} entries, but needs at least {min_length}", "add the missing ones"),
    "too_long": ("has {actual_length} entries, but takes at most {max_length}", "remove the surplus"),
    "finite_number": ("needs a finite number, not {value}", "leave the field out when the value is not known"),
    "greater_than": ("is {value}, but must be above {gt}", "check the value and its unit"),
    "greater_than_equal": ("is {value}, but must be at least {ge}", "check the value and its unit"),
    "less_than": ("is {value}, but must be below {lt}", "check the value and its unit"),
    "less_than_equal": ("is {value}, but must be at most {le}", "check the value and its unit"),
    "int_parsing_size": ("is far too large: {value}", "check the value"),
    "string_too_short": ("is empty", "write at least one character"),
    "string_too_long": ("is longer than {max_length} characters", "shorten it"),
    "timezone_aware": ("is {value}, a time without its offset from UTC", _TIME_HINT),
    "union_tag_not_found": ("does not say what happened", "add the field what, such as impression_out"),
}


def shown_path(loc: Sequence[str | int]) -> str:
    """Return a place as a person reads it.

    Examples
    --------
    >>> shown_path(("unit", 3, "margin", "facial"))
    'unit[3].margin.facial'
    """
    path = ""
    for part in loc:
        path += f"[{part}]" if isinstance(part, int) else f".{part}" if path else part
    return path


def describe_errors(
    error: ValidationError, model: type[BaseModel] | None, *, tags: frozenset[str] = frozenset()
) -> list[Fault]:
    """Turn every error of one document into a fault; `where` is the field's path alone.

    Parameters
    ----------
    error : ValidationError
    model : type or None
        Class of the document, to tell which name an unknown field is closest to.
    tags : frozenset of str
        Names of variants, which pydantic puts before a field's path and a reader does not know.
    """
    faults = []
    for detail in error.errors(include_url=False):
        loc = tuple(detail["loc"])
        inside = _without_tags(loc, tags)
        if str(detail["type"]).startswith("union_tag"):
            inside = (*inside, "what")
        what, hint = _describe(detail, inside, model)
        where = inside[:-1] if detail["type"] == "missing" and inside and isinstance(inside[-1], int) else inside
        faults.append(Fault(shown_path(where), what, hint))
    return faults


def _describe(detail: Detail, loc: tuple[str | int, ...], model: type[BaseModel] | None) -> tuple[str, str]:
    kind = str(detail["type"])
    special = _SPECIAL.get(kind)
    if special is not None:
        answer = special(detail, loc, model)
        if answer is not None:
            return answer
    what, hint = _WORDS.get(kind, ("is not legal: {msg}", "check the value"))
    context = {"value": _shown(detail["input"]), "msg": str(detail["msg"]).lower(), **detail.get("ctx", {})}
    return what.format(**context), hint


def _without_tags(loc: tuple[str | int, ...], tags: frozenset[str]) -> tuple[str | int, ...]:
    """Leave out the names of variants: at the beginning, and where an event stands inside another."""
    return tuple(part for i, part in enumerate(loc) if not (part in tags and (i == 0 or loc[i - 1] == "instead")))


def _missing(detail: Detail, loc: tuple[str | int, ...], _: object) -> tuple[str, str] | None:
    if loc and isinstance(loc[-1], int):
        return f"has {len(detail['input'])} numbers, but needs 3: x, y, z", "write all three"
    return None


def _unknown_field(_: Detail, loc: tuple[str | int, ...], model: type[BaseModel] | None) -> tuple[str, str]:
    owner = _model_at(model, loc[:-1])
    known = [] if owner is None else [field.alias or name for name, field in owner.model_fields.items()]
    return "is no field of this table", closest_hint(loc[-1], known, noun="field")


def _choice(detail: Detail, _: object, __: object) -> tuple[str, str]:
    context = detail["ctx"]
    known = re.findall(r"'([^']*)'", str(context.get("expected_tags") or context["expected"]))
    value = context.get("tag", detail["input"])
    hint = closest_hint(value, known, noun="choice")
    listed = "" if hint.startswith("known") else f" Known: {', '.join(known)}"
    return f"{_shown(value)} is none of the words for this field", hint + listed


def _own_message(detail: Detail, _: object, __: object) -> tuple[str, str]:
    message = str(detail["ctx"]["error"])
    if "tooth" not in message:
        return message, _TIME_HINT
    try:
        meant = parse_tooth(str(detail["input"]), ToothNotation.UNIVERSAL)
    except ValueOutOfRange:
        return message, _TEETH_HINT
    return message, f"{_TEETH_HINT}; Universal {detail['input']} would be {meant}"


def _whole_number(detail: Detail, _: object, __: object) -> tuple[str, str] | None:
    value = detail["input"]
    if not isinstance(value, str):
        return None
    for notation in (ToothNotation.ISO, ToothNotation.QUADRANT):
        try:
            return f"needs a whole number, not {_shown(value)}", f"write {parse_tooth(value, notation)} without quotes"
        except ValueOutOfRange:
            continue
    return None


def _pattern(detail: Detail, loc: tuple[str | int, ...], _: object) -> tuple[str, str]:
    what = f"is {_shown(detail['input'])}, which this field does not take"
    if loc == ("code",):
        return what, "use letters, digits, - and _ only, at most 32, beginning with a letter or digit"
    return what, "write it on one line, without spaces at its ends"


def _list(detail: Detail, loc: tuple[str | int, ...], _: object) -> tuple[str, str] | None:
    if isinstance(detail["input"], dict):
        return "needs a list, not one table", f"write [[{loc[-1]}]] with double brackets, once for each"
    return None


_SPECIAL: dict[str, Callable[[Detail, tuple[str | int, ...], type[BaseModel] | None], tuple[str, str] | None]] = {
    "missing": _missing,
    "extra_forbidden": _unknown_field,
    "enum": _choice,
    "literal_error": _choice,
    "union_tag_invalid": _choice,
    "value_error": _own_message,
    "int_type": _whole_number,
    "string_pattern_mismatch": _pattern,
    "tuple_type": _list,
}


def _model_at(model: type[BaseModel] | None, loc: Sequence[str | int]) -> type[BaseModel] | None:
    """Return the class of the table at a place, following field annotations."""
    for part in loc:
        if isinstance(part, str) and model is not None:
            field = next((f for name, f in model.model_fields.items() if part in (name, f.alias)), None)
            model = None if field is None else _model_in(field.annotation)
    return model


def _model_in(annotation: object) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _model_in(part)) is not None), None)


def _shown(value: object) -> str:
    text = repr(value) if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    return text if len(text) <= _SHOWN_CHARS else f"{text[:_SHOWN_CHARS]}..."
