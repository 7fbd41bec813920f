"""The one JSON envelope and the one serializer. Every command's answer goes through here."""

import dataclasses
import json
import math
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from datetime import UTC, datetime
from enum import Enum

import numpy as np
from pydantic import BaseModel

from seatwright import __version__, mesh
from seatwright.findings import Finding
from seatwright.quantities import Measured
from seatwright.workflows.ports import InputFile

__all__ = ["RESULT_SCHEMA", "encode_json", "make_envelope", "to_jsonable"]

RESULT_SCHEMA = "seatwright/result/1"


def make_envelope(
    kind: str, *, inputs: Sequence[InputFile], result: object, findings: Sequence[Finding]
) -> dict[str, object]:
    """Wrap a result: schema with the kind of answer, version, inputs with hashes, result, findings."""
    return {
        "schema": f"{RESULT_SCHEMA}/{kind}",
        "seatwright": __version__,
        "inputs": to_jsonable(tuple(inputs)),
        "result": to_jsonable(result),
        "findings": to_jsonable(tuple(findings)),
    }


def encode_json(document: Mapping[str, object], *, indent: int | None = None) -> str:
    """Return JSON text; non-finite numbers are a bug, never written."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=indent)


def to_jsonable(value: object) -> object:  # noqa: PLR0911 - one flat dispatch over types
    """Turn frozen results into JSON types.

    Times become UTC ISO 8601 with ``Z``; sets become sorted lists; a measured value loses `dof` when it is infinite.

    Raises
    ------
    TypeError
        For a surface (it belongs in a file) or an unknown type.
    """
    if value is None or isinstance(value, str | bool):
        return value.value if isinstance(value, Enum) else value
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return _finite(float(value))
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    if isinstance(value, Measured):
        known: dict[str, object] = {"value": value.value, "u": value.u, "unit": value.unit}
        return known if math.isinf(value.dof) else {**known, "dof": value.dof}
    if isinstance(value, mesh.Surface):
        raise TypeError("a surface belongs in a file, not in JSON")
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json", by_alias=True)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_jsonable(getattr(value, field.name)) for field in dataclasses.fields(value)}
    return _collection(value)


def _collection(value: object) -> object:
    if isinstance(value, np.ndarray):
        return to_jsonable(value.tolist())
    if isinstance(value, Mapping):
        return {str(to_jsonable(key)): to_jsonable(item) for key, item in value.items()}
    if isinstance(value, AbstractSet):
        return [to_jsonable(item) for item in sorted(value, key=str)]
    if isinstance(value, Sequence):
        return [to_jsonable(item) for item in value]
    raise TypeError(f"no JSON form for {type(value).__name__}")


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise TypeError("a number that is not finite has no place in a result")
    return number
