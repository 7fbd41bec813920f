"""The migrations make the schema that the code works with; other schemas are told apart."""

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import text
from tests.contract.conftest import Practice

from seatwright.errors import RecordError
from seatwright.record._tables import metadata


def test_migrations_make_the_tables_that_the_code_names(practice: Practice) -> None:
    with practice.record.database.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_record_from_a_newer_version_is_refused(practice: Practice) -> None:
    with practice.record.database.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(RecordError, match="written by a newer version"):
        practice.reopen()
