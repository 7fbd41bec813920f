"""Drafts of plans that are being entered; they may change, and are no part of the chain."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table of drafts."""
    op.create_table(
        "draft",
        sa.Column("case_code", sa.Text, primary_key=True),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("base_version", sa.Integer, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("changed_at", sa.Text, nullable=False),
        sqlite_strict=True,
    )
