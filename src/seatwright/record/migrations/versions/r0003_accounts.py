"""Accounts, and the two kinds of entry that tell of them: what was done to one, and who came in with one."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_COUNT = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_KINDS = "kind IN ('opened', 'revised', 'filed', 'happened', 'account', 'access')"
_COLUMNS = "seq, recorded_at, by, case_code, kind, body, previous, hash, at, what, case_seq"


def upgrade() -> None:
    """Let entries be of the new kinds, then make the table of accounts."""
    if op.get_bind().dialect.name == "sqlite":
        _widen_sqlite()
    else:
        op.drop_constraint("kind_is_known", "entry", type_="check")
        op.create_check_constraint("kind_is_known", "entry", _KINDS)
    op.create_table(
        "account",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("name_folded", sa.Text, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("password_hash", sa.Text, nullable=False),
        sa.Column("is_disabled", sa.Integer, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("changed_at", sa.Text, nullable=False),
        sa.Column("entry_seq", _COUNT, sa.ForeignKey("entry.seq"), nullable=False),
        sa.UniqueConstraint("name_folded", name="one_account_a_name"),
        sa.CheckConstraint("role IN ('dentist', 'technician', 'reader')", name="role_is_known"),
        sqlite_strict=True,
    )


def _widen_sqlite() -> None:
    """Make the table of entries anew, since SQLite cannot change a check; its rows go over as they are.

    Rows of other tables name entries: their checks wait until the transaction ends, when every entry is back.
    """
    op.execute("PRAGMA defer_foreign_keys = ON")
    op.execute("CREATE TEMPORARY TABLE entry_moved AS SELECT * FROM entry")
    op.execute("DROP TABLE entry")
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
        sa.CheckConstraint(_KINDS, name="kind_is_known"),
        sqlite_strict=True,
    )
    op.create_index("entry_by_case_and_time", "entry", ["case_code", "at", "seq"])
    op.execute(f"INSERT INTO entry ({_COLUMNS}) SELECT {_COLUMNS} FROM entry_moved ORDER BY seq")  # noqa: S608 - constants
    op.execute("DROP TABLE entry_moved")
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER entry_no_{verb.lower()} BEFORE {verb} ON entry "
            "BEGIN SELECT RAISE(ABORT, 'entry is append-only'); END"
        )
    op.execute(
        "CREATE TRIGGER entry_follows BEFORE INSERT ON entry "
        "WHEN NEW.seq > 1 AND NOT EXISTS (SELECT 1 FROM entry WHERE seq = NEW.seq - 1 AND hash = NEW.previous) "
        "BEGIN SELECT RAISE(ABORT, 'entry does not follow the one before'); END"
    )
