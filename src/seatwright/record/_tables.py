"""The record's tables, as the newest migration leaves them.

`entry` is the chain and the truth, with `document` and `stored_file` for what is too large to stand in it: these three
are append-only, which triggers hold. `draft` holds plans that are not kept yet. The other tables are an index to the
chain, kept in the same transaction.
Times are UTC text in ISO 8601 with microseconds and ``Z``, so that both databases keep and sort them alike.
"""

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = [
    "APPEND_ONLY",
    "account",
    "case_file",
    "case_version",
    "document",
    "draft",
    "entry",
    "head",
    "impression_standing",
    "lot_use",
    "metadata",
    "stored_case",
    "stored_file",
]

metadata = MetaData()
_Count = BigInteger().with_variant(Integer(), "sqlite")

entry = Table(
    "entry",
    metadata,
    Column("seq", _Count, primary_key=True, autoincrement=False),
    Column("recorded_at", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("case_code", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("body", LargeBinary, nullable=False),
    Column("previous", Text, nullable=False),
    Column("hash", Text, nullable=False),
    Column("at", Text, nullable=False),  # when it happened; recorded_at where that says it
    Column("what", Text, nullable=False),  # kind of event; empty for other entries
    Column("case_seq", Integer),  # number of the event in its case's log
    UniqueConstraint("case_code", "case_seq", name="one_event_a_number"),
    UniqueConstraint("hash", name="one_entry_a_hash"),
    CheckConstraint("kind IN ('opened', 'revised', 'filed', 'happened', 'account', 'access')", name="kind_is_known"),
    Index("entry_by_case_and_time", "case_code", "at", "seq"),
    sqlite_strict=True,
)
head = Table(
    "head",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("seq", _Count, nullable=False),
    Column("hash", Text, nullable=False),
    Column("recorded_at", Text, nullable=False),
    Column("record_id", Text, nullable=False),
    CheckConstraint("id = 1", name="one_head"),
    sqlite_strict=True,
)
document = Table(
    "document",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("content", LargeBinary, nullable=False),
    sqlite_strict=True,
)
stored_file = Table(
    "stored_file",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("n_bytes", _Count, nullable=False),
    sqlite_strict=True,
)
stored_case = Table(
    "stored_case",
    metadata,
    Column("code", Text, primary_key=True),
    Column("code_folded", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("arch", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("n_events", Integer, nullable=False),
    Column("stage", Text, nullable=False),
    Column("changed_at", Text, nullable=False),
    Index("case_by_stage", "stage", "code"),
    sqlite_strict=True,
)
case_version = Table(
    "case_version",
    metadata,
    Column("case_code", Text, ForeignKey("stored_case.code"), primary_key=True),
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("case_sha256", Text, ForeignKey("document.sha256"), nullable=False),
    Column("bench_sha256", Text, ForeignKey("document.sha256"), nullable=False),
    Column("entry_seq", _Count, ForeignKey("entry.seq"), nullable=False),
    sqlite_strict=True,
)
case_file = Table(
    "case_file",
    metadata,
    Column("case_code", Text, ForeignKey("stored_case.code"), primary_key=True),
    Column("path", Text, primary_key=True),
    Column("entry_seq", _Count, ForeignKey("entry.seq"), primary_key=True, autoincrement=False),
    Column("sha256", Text, ForeignKey("stored_file.sha256"), nullable=False),
    Index("case_file_by_content", "sha256"),
    sqlite_strict=True,
)
impression_standing = Table(
    "impression_standing",
    metadata,
    Column("case_code", Text, ForeignKey("stored_case.code"), primary_key=True),
    Column("impression", Text, primary_key=True),
    Column("phase", Text, nullable=False),
    Column("material", Text, nullable=False),
    Column("storage", Text, nullable=False),  # empty while in the mouth
    Column("out_at", Text, nullable=False),  # empty where it has not happened
    Column("poured_at", Text, nullable=False),
    Column("separated_at", Text, nullable=False),
    Index("impression_by_phase", "phase", "out_at", "case_code", "impression"),
    sqlite_strict=True,
)
lot_use = Table(
    "lot_use",
    metadata,
    Column("case_code", Text, ForeignKey("stored_case.code"), primary_key=True),
    Column("case_seq", Integer, primary_key=True, autoincrement=False),
    Column("lot", Text, nullable=False),
    Column("material", Text, nullable=False),
    Column("used_for", Text, nullable=False),
    Column("impression", Text, nullable=False),
    Column("units", Text, nullable=False),  # tooth numbers, joined by commas
    Column("at", Text, nullable=False),
    Column("by", Text, nullable=False),
    Index("lot_use_by_lot", "lot", "at", "case_code", "case_seq"),
    sqlite_strict=True,
)
account = Table(
    "account",
    metadata,
    Column("name", Text, primary_key=True),
    Column("name_folded", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("password_hash", Text, nullable=False),
    Column("is_disabled", Integer, nullable=False),
    Column("created_at", Text, nullable=False),
    Column("changed_at", Text, nullable=False),
    Column("entry_seq", _Count, ForeignKey("entry.seq"), nullable=False),  # that changed it last
    UniqueConstraint("name_folded", name="one_account_a_name"),
    CheckConstraint("role IN ('dentist', 'technician', 'reader')", name="role_is_known"),
    sqlite_strict=True,
)
draft = Table(
    "draft",
    metadata,
    Column("case_code", Text, primary_key=True),
    Column("revision", Integer, nullable=False),
    Column("base_version", Integer, nullable=False),
    Column("body", Text, nullable=False),  # JSON: the plan, what can be undone, the unit entered last
    Column("by", Text, nullable=False),
    Column("changed_at", Text, nullable=False),
    sqlite_strict=True,
)

APPEND_ONLY = ("entry", "document", "stored_file", "case_version", "case_file")
"""Tables of which triggers refuse every change and removal of a row."""
