"""The first schema: chain, documents, files, and the index to them; append-only held by triggers."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_APPEND_ONLY = ("entry", "document", "stored_file", "case_version", "case_file")
_COUNT = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make every table, then the triggers."""
    _create_truth()
    _create_index_of_cases()
    _create_index_of_happenings()
    if op.get_bind().dialect.name == "sqlite":
        _guard_sqlite()
    else:
        _guard_postgresql()


def _create_truth() -> None:
    op.create_table(
        "entry",
        sa.Column("seq", _COUNT, primary_key=True, autoincrement=False),
        sa.Column("recorded_at", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("case_code", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.Column("previous", sa.Text, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("case_seq", sa.Integer),
        sa.UniqueConstraint("case_code", "case_seq", name="one_event_a_number"),
        sa.UniqueConstraint("hash", name="one_entry_a_hash"),
        sa.CheckConstraint("kind IN ('opened', 'revised', 'filed', 'happened')", name="kind_is_known"),
        sqlite_strict=True,
    )
    op.create_index("entry_by_case_and_time", "entry", ["case_code", "at", "seq"])
    op.create_table(
        "head",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("seq", _COUNT, nullable=False),
        sa.Column("hash", sa.Text, nullable=False),
        sa.Column("recorded_at", sa.Text, nullable=False),
        sa.Column("record_id", sa.Text, nullable=False),
        sa.CheckConstraint("id = 1", name="one_head"),
        sqlite_strict=True,
    )
    op.create_table(
        "document",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sqlite_strict=True,
    )
    op.create_table(
        "stored_file",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("n_bytes", _COUNT, nullable=False),
        sqlite_strict=True,
    )


def _create_index_of_cases() -> None:
    op.create_table(
        "stored_case",
        sa.Column("code", sa.Text, primary_key=True),
        sa.Column("code_folded", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("arch", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("n_events", sa.Integer, nullable=False),
        sa.Column("stage", sa.Text, nullable=False),
        sa.Column("changed_at", sa.Text, nullable=False),
        sqlite_strict=True,
    )
    op.create_index("case_by_stage", "stored_case", ["stage", "code"])
    op.create_table(
        "case_version",
        sa.Column("case_code", sa.Text, sa.ForeignKey("stored_case.code"), primary_key=True),
        sa.Column("version", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("case_sha256", sa.Text, sa.ForeignKey("document.sha256"), nullable=False),
        sa.Column("bench_sha256", sa.Text, sa.ForeignKey("document.sha256"), nullable=False),
        sa.Column("entry_seq", _COUNT, sa.ForeignKey("entry.seq"), nullable=False),
        sqlite_strict=True,
    )
    op.create_table(
        "case_file",
        sa.Column("case_code", sa.Text, sa.ForeignKey("stored_case.code"), primary_key=True),
        sa.Column("path", sa.Text, primary_key=True),
        sa.Column("entry_seq", _COUNT, sa.ForeignKey("entry.seq"), primary_key=True, autoincrement=False),
        sa.Column("sha256", sa.Text, sa.ForeignKey("stored_file.sha256"), nullable=False),
        sqlite_strict=True,
    )
    op.create_index("case_file_by_content", "case_file", ["sha256"])


def _create_index_of_happenings() -> None:
    op.create_table(
        "impression_standing",
        sa.Column("case_code", sa.Text, sa.ForeignKey("stored_case.code"), primary_key=True),
        sa.Column("impression", sa.Text, primary_key=True),
        sa.Column("phase", sa.Text, nullable=False),
        sa.Column("material", sa.Text, nullable=False),
        sa.Column("storage", sa.Text, nullable=False),
        sa.Column("out_at", sa.Text, nullable=False),
        sa.Column("poured_at", sa.Text, nullable=False),
        sa.Column("separated_at", sa.Text, nullable=False),
        sqlite_strict=True,
    )
    op.create_index("impression_by_phase", "impression_standing", ["phase", "out_at", "case_code", "impression"])
    op.create_table(
        "lot_use",
        sa.Column("case_code", sa.Text, sa.ForeignKey("stored_case.code"), primary_key=True),
        sa.Column("case_seq", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("lot", sa.Text, nullable=False),
        sa.Column("material", sa.Text, nullable=False),
        sa.Column("used_for", sa.Text, nullable=False),
        sa.Column("impression", sa.Text, nullable=False),
        sa.Column("units", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sqlite_strict=True,
    )
    op.create_index("lot_use_by_lot", "lot_use", ["lot", "at", "case_code", "case_seq"])


def _guard_sqlite() -> None:
    for table in _APPEND_ONLY:
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
            )
    op.execute(
        "CREATE TRIGGER entry_follows BEFORE INSERT ON entry "
        "WHEN NEW.seq > 1 AND NOT EXISTS (SELECT 1 FROM entry WHERE seq = NEW.seq - 1 AND hash = NEW.previous) "
        "BEGIN SELECT RAISE(ABORT, 'entry does not follow the one before'); END"
    )


def _guard_postgresql() -> None:
    op.execute(
        "CREATE FUNCTION seatwright_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ "
        "BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME; END $$"
    )
    for table in _APPEND_ONLY:
        op.execute(
            f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION seatwright_refuse()"
        )
    op.execute(
        "CREATE FUNCTION seatwright_follows() RETURNS trigger LANGUAGE plpgsql AS $$ "
        "BEGIN IF NEW.seq > 1 AND NOT EXISTS (SELECT 1 FROM entry WHERE seq = NEW.seq - 1 AND hash = NEW.previous) "
        "THEN RAISE EXCEPTION 'entry does not follow the one before'; END IF; RETURN NEW; END $$"
    )
    op.execute("CREATE TRIGGER entry_follows BEFORE INSERT ON entry FOR EACH ROW EXECUTE FUNCTION seatwright_follows()")
