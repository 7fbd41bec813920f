"""The record's schema: made new, told apart from older and newer ones, and upgraded step by step.

The steps are Alembic scripts in ``migrations/versions``, run inside the caller's one transaction: whole or not at all.
"""

from importlib import resources
from pathlib import Path

from sqlalchemy import Connection, inspect, text

from seatwright.errors import RecordError

__all__ = ["SCHEMAS", "newest_schema", "require_newest_schema", "schema_of", "upgrade_schema"]

SCHEMAS = ("0001", "0002", "0003")
"""Every schema that there was, the newest last: the chain of the scripts, told without reading them."""


def newest_schema() -> str:
    """Return the name of the schema that this code reads and writes."""
    return SCHEMAS[-1]


def schema_of(connection: Connection) -> str | None:
    """Return the name of the schema that a database has; None when it is empty."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    name: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one_or_none()
    return name


def require_newest_schema(connection: Connection) -> None:
    """Raise `RecordError` when a database is older or newer than this code, or no record."""
    found, newest = schema_of(connection), newest_schema()
    if found is None:
        raise RecordError("the database holds no record", hint="make one with `seatwright record init`")
    if found == newest:
        return
    if found in SCHEMAS:
        raise RecordError(
            f"the record has the older schema {found}; this version reads {newest}",
            hint="make a backup with the version that wrote it, then run `seatwright record upgrade`",
            details={"schema": found, "newest": newest},
        )
    raise RecordError(
        f"the record has schema {found}, written by a newer version; this one reads up to {newest}",
        hint="install the newer version; nothing was changed",
        details={"schema": found, "newest": newest},
    )


def upgrade_schema(connection: Connection) -> tuple[str, ...]:
    """Bring a database to the newest schema; return the steps taken. The caller's transaction holds it together."""
    # read only where a schema is made or changed: the record that is opened every morning has the newest one
    from alembic.operations import Operations  # noqa: PLC0415
    from alembic.runtime.migration import MigrationContext  # noqa: PLC0415
    from alembic.script import ScriptDirectory  # noqa: PLC0415

    found, newest = schema_of(connection), newest_schema()
    if found is not None and found not in SCHEMAS:
        require_newest_schema(connection)
    scripts = ScriptDirectory(str(Path(str(resources.files("seatwright.record"))) / "migrations"))
    context = MigrationContext.configure(connection)
    steps = [] if found == newest else list(scripts.iterate_revisions(newest, found or "base"))
    steps = [step for step in steps if step.revision != found]
    with Operations.context(context):
        for step in reversed(steps):
            step.module.upgrade()
            context.stamp(scripts, step.revision)
    return tuple(step.revision for step in reversed(steps))
