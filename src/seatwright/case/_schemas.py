"""Published JSON Schemas of the case document, the bench file and one log line; generated from the models."""

import ast
import inspect
import textwrap
from collections.abc import Iterator
from itertools import pairwise
from typing import Any, get_args

from pydantic import BaseModel

from seatwright.case._bench import BENCH_SCHEMA_VERSION, Bench
from seatwright.case._document import SCHEMA_VERSION, Case
from seatwright.case._events import Event, event_adapter

__all__ = ["bench_json_schema", "case_json_schema", "event_json_schema"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def case_json_schema() -> dict[str, Any]:
    """Return the JSON Schema of ``case.toml``, read as JSON with times as ISO 8601 text.

    Examples
    --------
    >>> case_json_schema()["$id"]
    'urn:seatwright:case:1'
    """
    return _publish(Case.model_json_schema(), f"case:{SCHEMA_VERSION}", "Seatwright case", Case)


def bench_json_schema() -> dict[str, Any]:
    """Return the JSON Schema of ``bench.toml``."""
    return _publish(Bench.model_json_schema(), f"bench:{BENCH_SCHEMA_VERSION}", "Seatwright bench", Bench)


def event_json_schema() -> dict[str, Any]:
    """Return the JSON Schema of one line of ``log.jsonl``."""
    return _publish(event_adapter.json_schema(), f"event:{SCHEMA_VERSION}", "Seatwright event", Event)


def _publish(schema: dict[str, Any], name: str, title: str, root: object) -> dict[str, Any]:
    """Put head and field descriptions to a generated schema; the models stay free of what only a reader needs."""
    tables = {**schema.get("$defs", {}), **({root.__name__: schema} if isinstance(root, type) else {})}
    for model in {*_models_in(root)}:
        for field, text in _field_descriptions(model).items():
            properties = tables[model.__name__]["properties"]
            if field in properties:
                properties[field]["description"] = text
    return {"$schema": _DIALECT, "$id": f"urn:seatwright:{name}", **schema, "title": title}


def _models_in(annotation: object) -> Iterator[type[BaseModel]]:
    """Yield every document class that an annotation reaches."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
        for field in annotation.model_fields.values():
            yield from _models_in(field.annotation)
    for part in get_args(annotation):
        yield from _models_in(part)


def _field_descriptions(model: type[BaseModel]) -> dict[str, str]:
    """Return the text written under each field, inherited ones included, on one line."""
    found: dict[str, str] = {}
    for kind in reversed(model.__mro__):
        if not issubclass(kind, BaseModel) or kind.__module__.startswith("pydantic"):
            continue
        body = ast.parse(textwrap.dedent(inspect.getsource(kind))).body[0]
        statements = body.body if isinstance(body, ast.ClassDef) else []
        for field, text in pairwise(statements):
            if (
                isinstance(field, ast.AnnAssign)
                and isinstance(field.target, ast.Name)
                and isinstance(text, ast.Expr)
                and isinstance(text.value, ast.Constant)
            ):
                found[field.target.id] = " ".join(str(text.value.value).split())
    return found
