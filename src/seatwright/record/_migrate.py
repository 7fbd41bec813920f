"""The record's schema: made new, told apart from older and newer ones, and upgraded step by step.

The steps are Alembic scripts in ``migrations/versions``, run inside the caller's one transaction: whole or not at all.
"""

from importlib import resources
from pathlib import Path

from sqlalchemy import Connection, inspect, select

from seatwright.errors import RecordError
from seatwright.record._tables import alembic_version

__all__ = ["SCHEMAS", "newest_schema", "require_newest_schema", "schema_of", "upgrade_schema"]

SCHEMAS = ("0001", "0002")
"""Every schema that there has been, the newest last; a test holds it against the scripts."""


def newest_schema() -> str:
    """Return the name of the schema that this code reads and writes."""
    return SCHEMAS[-1]


def schema_of(connection: Connection) -> str | None:
    """Return the name of the schema that a database has; None when it is empty."""
    if not inspect(connection).has_table(alembic_version.name):
        return None
    return connection.execute(select(alembic_version.c.version_num)).scalar_one_or_none()


def require_newest_schema(connection: Connection) -> None:
    """Raise `RecordError` when a database is older or newer than this code, or no record."""
    found = schema_of(connection)
    if found is None:
        raise RecordError("the database holds no record", hint="make one with `seatwright record init`")
    if found == newest_schema():
        return
    details = {"schema": found, "newest": newest_schema()}
    if found in SCHEMAS:
        raise RecordError(
            f"the record has the older schema {found}; this version reads {newest_schema()}",
            hint="make a backup with the version that wrote it, then run `seatwright record upgrade`",
            details=details,
        )
    raise RecordError(
        f"the record has schema {found}, written by a newer version; this one reads up to {newest_schema()}",
        hint="install the newer version; nothing was changed",
        details=details,
    )


def upgrade_schema(connection: Connection) -> tuple[str, ...]:
    """Bring a database to the newest schema; return the steps taken. The caller's transaction holds it together."""
    from alembic.operations import Operations  # noqa: PLC0415 - slow to import, and seldom needed
    from alembic.runtime.migration import MigrationContext  # noqa: PLC0415
    from alembic.script import ScriptDirectory  # noqa: PLC0415

    found = schema_of(connection)
    if found is not None and found not in SCHEMAS:
        require_newest_schema(connection)
    scripts = ScriptDirectory(str(Path(str(resources.files("seatwright.record"))) / "migrations"))
    context = MigrationContext.configure(connection)
    steps = SCHEMAS[SCHEMAS.index(found) + 1 :] if found is not None else SCHEMAS
    with Operations.context(context):
        for step in steps:
            scripts.get_revision(step).module.upgrade()
            context.stamp(scripts, step)
    return steps
