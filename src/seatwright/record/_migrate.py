"""The record's schema: made new, told apart from older and newer ones, and upgraded step by step.

The steps are Alembic scripts in ``migrations/versions``, run inside the caller's one transaction: whole or not at all.
"""

from importlib import resources
from pathlib import Path

from alembic.operations import Operations
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from seatwright.errors import RecordError

__all__ = ["newest_schema", "require_newest_schema", "schema_of", "upgrade_schema"]


def _scripts() -> ScriptDirectory:
    return ScriptDirectory(str(Path(str(resources.files("seatwright.record"))) / "migrations"))


def newest_schema() -> str:
    """Return the name of the schema that this code reads and writes."""
    return _scripts().get_current_head() or ""


def schema_of(connection: Connection) -> str | None:
    """Return the name of the schema that a database has; None when it is empty."""
    return MigrationContext.configure(connection).get_current_revision()


def require_newest_schema(connection: Connection) -> None:
    """Raise `RecordError` when a database is older or newer than this code, or no record."""
    found = schema_of(connection)
    if found is None:
        raise RecordError("the database holds no record", hint="make one with `seatwright record init`")
    known = [script.revision for script in _scripts().walk_revisions()]
    if found == known[0]:
        return
    if found in known:
        raise RecordError(
            f"the record has the older schema {found}; this version reads {known[0]}",
            hint="make a backup with the version that wrote it, then run `seatwright record upgrade`",
            details={"schema": found, "newest": known[0]},
        )
    raise RecordError(
        f"the record has schema {found}, written by a newer version; this one reads up to {known[0]}",
        hint="install the newer version; nothing was changed",
        details={"schema": found, "newest": known[0]},
    )


def upgrade_schema(connection: Connection) -> tuple[str, ...]:
    """Bring a database to the newest schema; return the steps taken. The caller's transaction holds it together."""
    scripts = _scripts()
    context = MigrationContext.configure(connection)
    found = context.get_current_revision()
    known = [script.revision for script in scripts.walk_revisions()]
    if found is not None and found not in known:
        require_newest_schema(connection)
    steps = [] if found == known[0] else list(scripts.iterate_revisions(known[0], found or "base"))
    steps = [step for step in steps if step.revision != found]
    with Operations.context(context):
        for step in reversed(steps):
            step.module.upgrade()
            context.stamp(scripts, step.revision)
    return tuple(step.revision for step in reversed(steps))
