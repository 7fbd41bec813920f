"""The files that drafts wait to name: none of them is unused."""

import json

from sqlalchemy import Connection, inspect, select

from seatwright.record._tables import draft as draft_table

__all__ = ["read_draft_files"]


def read_draft_files(connection: Connection) -> dict[str, int]:
    """Return size by SHA-256 of every file that a draft waits to name; none in a record older than drafts."""
    if not inspect(connection).has_table(draft_table.name):
        return {}
    bodies = connection.execute(select(draft_table.c.body)).scalars()
    return {file["sha256"]: file["n_bytes"] for body in bodies for file in json.loads(body).get("files", ())}
