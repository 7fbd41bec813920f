"""Published JSON Schemas of the case document, the bench file and one log line; generated from the models."""

from typing import Any

from seatwright.case._bench import BENCH_SCHEMA_VERSION, Bench
from seatwright.case._document import SCHEMA_VERSION, Case
from seatwright.case._events import event_adapter

__all__ = ["bench_json_schema", "case_json_schema", "event_json_schema"]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def case_json_schema() -> dict[str, Any]:
    """Return the JSON Schema of ``case.toml``, read as JSON with times as ISO 8601 text.

    Examples
    --------
    >>> case_json_schema()["$id"]
    'urn:seatwright:case:1'
    """
    return _headed(Case.model_json_schema(), f"case:{SCHEMA_VERSION}", "Seatwright case")


def bench_json_schema() -> dict[str, Any]:
    """Return the JSON Schema of ``bench.toml``."""
    return _headed(Bench.model_json_schema(), f"bench:{BENCH_SCHEMA_VERSION}", "Seatwright bench")


def event_json_schema() -> dict[str, Any]:
    """Return the JSON Schema of one line of ``log.jsonl``."""
    return _headed(event_adapter.json_schema(), f"event:{SCHEMA_VERSION}", "Seatwright event")


def _headed(schema: dict[str, Any], name: str, title: str) -> dict[str, Any]:
    return {"$schema": _DIALECT, "$id": f"urn:seatwright:{name}", **schema, "title": title}
