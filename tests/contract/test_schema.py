"""The migrations make the schema that the code works with; other schemas are told apart."""

from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text
from tests.contract.conftest import Practice

import seatwright.record
from seatwright.errors import RecordError
from seatwright.record._migrate import SCHEMAS
from seatwright.record._tables import metadata


def test_migrations_make_the_tables_that_the_code_names(practice: Practice) -> None:
    with practice.record.database.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_record_from_a_newer_version_is_refused(practice: Practice) -> None:
    with practice.record.database.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(RecordError, match="written by a newer version"):
        practice.reopen()


def test_list_of_schemas_is_that_of_the_scripts() -> None:
    scripts = ScriptDirectory(str(Path(seatwright.record.__file__).parent / "migrations"))
    assert tuple(script.revision for script in scripts.walk_revisions())[::-1] == SCHEMAS
