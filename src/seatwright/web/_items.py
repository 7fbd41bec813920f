"""What hangs on the units and goes to the bench, entered as small forms, drawn from what an item may state."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from seatwright.case import ToothNotation, parse_tooth
from seatwright.case.entry import ITEM_MODELS, PutItem
from seatwright.errors import InputError
from seatwright.web._texts import catalogue

__all__ = ["ITEM_WORDS", "describe_item", "form_fields", "read_item"]

ITEM_WORDS = catalogue()["items"]
"""What each table of items is called, in the order in which they are offered."""
_BESIDE = ("id", "tooth")
_UNITS = {"mm": "mm", "um": "µm", "deg": "degrees", "min": "min", "h": "h", "g": "g", "ml": "ml", "percent": "%"}


def form_fields(table: str, item: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the fields of an item's form, filled in; nested ones are named ``pour.stone``."""
    return _fields(ITEM_MODELS[table], item, "")


def read_item(table: str, form: Mapping[str, list[str]]) -> PutItem:
    """Return the gesture that a filled-in form asks for; empty fields are left out.

    Raises
    ------
    InputError
        A number is none, or the item has no name.
    """
    item: dict[str, Any] = {}
    for field in _fields(ITEM_MODELS[table], {}, ""):
        value = _read(field, [text.strip() for text in form.get(field["name"], []) if text.strip()])
        if value is None:
            continue
        *parents, last = field["name"].split(".")
        place = item
        for parent in parents:
            place = place.setdefault(parent, {})
        place[last] = value
    if ITEM_MODELS[table].model_fields.get("pour") is not None:
        item.setdefault("pour", {})
    return PutItem(table=table, item=item)


def describe_item(table: str, item: Mapping[str, Any]) -> str:
    """Return what an item says, in one line; its name and its tooth stand beside it."""
    if table == "region" and item.get("mesh"):
        return f"set by the surface of the unit alone, {item['mesh']}"
    keys = [key for key in ITEM_MODELS[table].model_fields if key in item and key not in _BESIDE]
    said = [_say(key, item[key]) for key in keys if not isinstance(item[key], dict)]
    return ", ".join(filter(None, said))


def _say(key: str, value: object) -> str:
    """Return one field with its name and unit; a choice speaks for itself."""
    word, unit = _label(key)
    if isinstance(value, bool):
        return f"{word}: {'yes' if value else 'no'}"
    if isinstance(value, int | float):
        return " ".join(filter(None, (word, f"{value:g}", unit)))
    if isinstance(value, list | tuple):
        return _say_list(word, unit, value)
    text = str(value)
    return f"{word} {text}" if text.isdigit() else _word(text)


def _say_list(word: str, unit: str, value: Sequence[object]) -> str:
    """Return a place with its axes, or several teeth."""
    if value and all(isinstance(part, list | tuple) for part in value):
        return f"{len(value)} {'places' if len(value) > 1 else 'place'} on the scan"
    if len(value) == 3 and all(isinstance(part, float) for part in value):
        decimals = 2 if unit else 3
        axes = " ".join(f"{axis} {part:.{decimals}f}" for axis, part in zip("xyz", value, strict=True))
        return f"{word} {axes} {unit}".rstrip().replace("-", "\N{MINUS SIGN}")
    return f"{word} {' '.join(str(part) for part in value)}" if value else ""


def _fields(model: type[BaseModel], item: Mapping[str, Any], prefix: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for name, info in model.model_fields.items():
        inner = _inner_model(info.annotation)
        value = item.get(name)
        if inner is not None:
            found += _fields(inner, value or {}, f"{prefix}{name}.")
        else:
            found.append(_field(f"{prefix}{name}", name, info, value))
    return found


def _field(path: str, name: str, info: FieldInfo, value: Any) -> dict[str, Any]:
    kind, choices = _kind(name, info)
    word, unit = _label(name)
    shown = value if value is not None else (None if info.is_required() else info.default)
    if isinstance(shown, StrEnum):
        shown = shown.value
    if isinstance(shown, bool):
        shown = "yes" if shown else "no"
    if kind == "teeth":
        shown = " ".join(str(tooth) for tooth in shown or ())
    if kind == "places":
        shown = [" ".join(f"{part:g}" for part in place) for place in shown or ()]
    return {
        "name": path,
        "word": word,
        "unit": unit,
        "kind": kind,
        "choices": [(choice, _word(choice)) for choice in choices],
        "value": shown,
        "required": info.is_required(),
    }


def _kind(name: str, info: FieldInfo) -> tuple[str, list[str]]:
    """Return how a field is entered: choice, tooth, teeth, yes, number, place, places, text; and its choices."""
    annotation = _bare(info.annotation)
    if isinstance(annotation, type) and issubclass(annotation, StrEnum):
        return "choice", [member.value for member in annotation]
    if get_origin(annotation) is Literal:
        return "choice", [str(choice) for choice in get_args(annotation)]
    if annotation is bool:
        return "yes", ["yes", "no"]
    if annotation in (int, float):
        return ("tooth" if name.endswith("tooth") else "number"), []
    if get_origin(annotation) is tuple:
        first, *_, last = get_args(annotation)
        several = "places" if get_origin(_bare(first)) is tuple else "teeth"
        return (several if last is Ellipsis else "place"), []
    return "text", []


def _bare(annotation: Any) -> Any:
    """Return a type without ``None`` and without what annotates it."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in (Union, UnionType):
        return _bare(next(part for part in get_args(annotation) if part is not type(None)))
    return annotation


def _inner_model(annotation: Any) -> type[BaseModel] | None:
    bare = _bare(annotation)
    return bare if isinstance(bare, type) and issubclass(bare, BaseModel) else None


def _label(name: str) -> tuple[str, str]:
    *words, last = name.split("_")
    if words and last in _UNITS:
        return " ".join(words), _UNITS[last]
    return name.replace("_", " "), ""


def _word(value: str) -> str:
    return value.replace("_", " ")


def _read(field: Mapping[str, Any], texts: list[str]) -> Any:
    kind = field["kind"]
    if not texts:
        return None
    if kind == "yes":
        return texts[0] == "yes"
    if kind == "teeth":
        return [_tooth(text) for text in " ".join(texts).replace(",", " ").split()]
    if kind == "place":
        if len(texts) != 3:
            raise InputError(f"{field['word']} needs x, y and z", hint="give three numbers, mm")
        return [_number(field, text) for text in texts]
    if kind == "places":
        return [_place(field, line) for line in "\n".join(texts).splitlines() if line.strip()]
    if kind == "tooth":
        return _tooth(texts[0])
    return _number(field, texts[0]) if kind == "number" else texts[0]


def _place(field: Mapping[str, Any], line: str) -> list[float]:
    """Read a place: x, y and z apart by blanks or semicolons."""
    parts = line.replace(";", " ").split()
    if len(parts) != 3:
        raise InputError(
            f"{field['word']}: {line[:40]!r} is not x, y and z", hint="one place a line, three numbers, mm"
        )
    return [_number(field, part) for part in parts]


def _tooth(text: str) -> int:
    """Read a tooth: ISO 3950, or another notation where its own mark says which it is."""
    plain = text.strip()
    if plain.startswith("#"):
        return parse_tooth(plain[1:], ToothNotation.UNIVERSAL)
    return parse_tooth(plain, ToothNotation.QUADRANT if plain[:1].isalpha() else ToothNotation.ISO)


def _number(field: Mapping[str, Any], text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError as error:
        raise InputError(f"{field['word']}: {text[:40]!r} is no number", hint="write it like 0.25 or 0,25") from error
