"""Rows from one record's database into another's that holds the beginning of the same chain, or nothing.

Both may be SQLite or PostgreSQL. All values are text, numbers and bytes, so that a copy is exact.
"""

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Column, Connection, Table, delete, insert, select

from seatwright.record._tables import (
    account,
    case_file,
    case_version,
    document,
    draft,
    entry,
    head,
    impression_standing,
    lot_use,
    stored_case,
    stored_file,
)

__all__ = ["copy_rows"]

_PAGE = 500


def copy_rows(source: Connection, target: Connection, *, after: int) -> None:
    """Copy every row that the target lacks; its chain ends with entry `after`.

    What the entries say is copied as it stands; the index tables that follow from all of it are written anew. Drafts
    are no part of the chain: a new record gets them, one that is brought up keeps its own.
    """
    for table in (document, stored_file):
        known = set(target.execute(select(table.c.sha256)).scalars())
        _insert(target, table, (row for row in _rows(source, table, table.c.sha256, "") if row["sha256"] not in known))
    _insert(target, entry, _rows(source, entry, entry.c.seq, after))
    codes = set(target.execute(select(stored_case.c.code)).scalars())
    for row in _rows(source, stored_case, stored_case.c.code, ""):
        if row["code"] in codes:
            target.execute(stored_case.update().where(stored_case.c.code == row["code"]).values(row))
        else:
            target.execute(insert(stored_case).values(row))
    for table in (case_version, case_file):
        _insert(target, table, _rows(source, table, table.c.entry_seq, after))
    for table, key in ((impression_standing, "impression"), (lot_use, "case_seq")):
        target.execute(delete(table))
        for code in source.execute(select(stored_case.c.code)).scalars().all():
            rows = source.execute(select(table).where(table.c.case_code == code).order_by(table.c[key])).mappings()
            _insert(target, table, (dict(row) for row in rows))
    target.execute(delete(account))
    _insert(target, account, _rows(source, account, account.c.name, ""))
    if after == 0:
        _insert(target, draft, _rows(source, draft, draft.c.case_code, ""))
    target.execute(delete(head))
    target.execute(insert(head).values(dict(source.execute(select(head)).mappings().one())))


def _rows(source: Connection, table: Table, key: Column[Any], after: object) -> Iterator[dict[str, Any]]:
    """Yield rows by a unique key, from the one after `after` on, in pages."""
    last = after
    while rows := source.execute(select(table).where(key > last).order_by(key).limit(_PAGE)).mappings().all():
        yield from (dict(row) for row in rows)
        last = rows[-1][key.name]


def _insert(target: Connection, table: Table, rows: Iterator[dict[str, Any]]) -> None:
    page: list[dict[str, Any]] = []
    for row in rows:
        page.append(row)
        if len(page) == _PAGE:
            target.execute(insert(table), page)
            page = []
    if page:
        target.execute(insert(table), page)
