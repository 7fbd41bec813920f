"""Publish the JSON Schemas of the three documents of a case, generated from the models."""

import json

from seatwright.case import bench_json_schema, case_json_schema, event_json_schema


def pages() -> dict[str, str]:
    """Return each schema's file name and text."""
    schemas = {"case": case_json_schema(), "bench": bench_json_schema(), "event": event_json_schema()}
    return {f"{name}.schema.json": json.dumps(schema, indent=1) + "\n" for name, schema in schemas.items()}
