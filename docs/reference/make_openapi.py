"""Publish what the bench page answers at each address, as the server itself does at /openapi.json."""

import json
from pathlib import Path

from seatwright.web import ServeSettings
from seatwright.web.app import create_app


def pages() -> dict[str, str]:
    """Return the document's file name and text."""
    return {"openapi.json": json.dumps(create_app(ServeSettings(Path("practice"))).openapi(), indent=1) + "\n"}
