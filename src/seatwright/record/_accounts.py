"""Accounts of the record: a row for each, and an entry in the chain for all that is done to or with one.

The entry holds the account as it became, and the SHA-256 of its password's hash: so that `verify` sees every change of
a row that did not come through here.
"""

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection, Row, insert, select, update

from seatwright.errors import ConflictError
from seatwright.record._append import Appender, Draft
from seatwright.record._commit import encode_body
from seatwright.record._database import Database
from seatwright.record._moments import read_moment, write_moment
from seatwright.record._tables import account as table
from seatwright.record._tables import entry
from seatwright.workflows.accounts import Access, AccessRow, Account, Deed
from seatwright.workflows.rights import Role

__all__ = ["Accounts", "account_faults"]

_Rows = Row[tuple[object, ...]]


class Accounts:
    """Implements `workflows.accounts.AccountStore`."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def find(self, name: str) -> Account | None:
        """Return an account by its name, in whatever case it is written."""
        with self._database.reading() as connection:
            row = connection.execute(select(table).where(table.c.name_folded == name.casefold())).one_or_none()
        return None if row is None else _read(row)

    def list_accounts(self) -> tuple[Account, ...]:
        """Return every account, by name."""
        with self._database.reading() as connection:
            return _list(connection)

    def password_hash(self, name: str) -> str | None:
        """Return an account's hash."""
        with self._database.reading() as connection:
            return connection.execute(select(table.c.password_hash).where(table.c.name == name)).scalar_one_or_none()

    def add(self, name: str, role: Role, password_hash: str, *, by: str, now: datetime) -> Account:
        """Add an account."""
        with self._database.writing() as connection:
            taken = connection.execute(select(table.c.name).where(table.c.name_folded == name.casefold()))
            if taken.one_or_none() is not None:
                raise ConflictError(f"there is an account {name} already", hint="choose another name")
            new = Account(name, role, False, now, now, 0)
            new = _append(connection, new, Deed.ADDED, password_hash, by=by, now=now)
            values = {"name": name, "name_folded": name.casefold(), "created_at": write_moment(now)}
            connection.execute(insert(table).values(**values, **_values(new), password_hash=password_hash))
        return new

    def change(
        self,
        account: Account,
        deed: Deed,
        *,
        by: str,
        now: datetime,
        password_hash: str | None = None,
        require: Callable[[Sequence[Account]], None] | None = None,
    ) -> Account:
        """Put a changed account in the place of the one with its name."""
        with self._database.writing() as connection:
            row = connection.execute(select(table).where(table.c.name == account.name)).one_or_none()
            if row is None or row.entry_seq != account.entry:
                raise ConflictError(f"account {account.name} was changed by somebody else", hint="try again")
            if require is not None:
                require([account if one.name == account.name else one for one in _list(connection)])
            hashed = password_hash or row.password_hash
            changed = _append(connection, account, deed, hashed, by=by, now=now)
            meant = update(table).where(table.c.name == account.name)
            connection.execute(meant.values(**_values(changed), password_hash=hashed))
        return changed

    def tell(self, what: Access, *, account: str, address: str, now: datetime) -> None:
        """Write down that somebody signed in or out, or tried to."""
        body = encode_body({"what": what.value, "account": account, "address": address})
        by = account if account and what is not Access.REFUSED else "page"
        with self._database.writing() as connection:
            appender = Appender(connection, now=now)
            appender.add(Draft(by, "", "access", body))
            appender.finish()

    def history(self, *, limit: int) -> tuple[AccessRow, ...]:
        """Return the latest entries about accounts, the newest first."""
        wanted = select(entry).where(entry.c.case_code == "", entry.c.kind.in_(("account", "access")))
        with self._database.reading() as connection:
            rows = connection.execute(wanted.order_by(entry.c.seq.desc()).limit(limit)).all()
        return tuple(_history_row(row) for row in rows)


def _read(row: _Rows) -> Account:
    return Account(
        row.name,
        Role(row.role),
        bool(row.is_disabled),
        read_moment(row.created_at),
        read_moment(row.changed_at),
        row.entry_seq,
    )


def _list(connection: Connection) -> tuple[Account, ...]:
    return tuple(_read(row) for row in connection.execute(select(table).order_by(table.c.name_folded)))


def _values(account: Account) -> dict[str, object]:
    return {
        "role": account.role.value,
        "is_disabled": int(account.is_disabled),
        "changed_at": write_moment(account.changed_at),
        "entry_seq": account.entry,
    }


def _append(
    connection: Connection, account: Account, deed: Deed, password_hash: str, *, by: str, now: datetime
) -> Account:
    appender = Appender(connection, now=now)
    body = {"what": deed.value, **_told(account.name, account.role.value, account.is_disabled, password_hash)}
    seq = appender.add(Draft(by, "", "account", encode_body(body)))
    appender.finish()
    return replace(account, changed_at=now, entry=seq)


def _told(name: str, role: str, is_disabled: bool, password_hash: str) -> dict[str, object]:
    """Return an account as its entry in the chain tells it."""
    digest = hashlib.sha256(password_hash.encode()).hexdigest()
    return {"account": name, "role": role, "disabled": bool(is_disabled), "password_sha256": digest}


def _history_row(row: _Rows) -> AccessRow:
    body = json.loads(row.body)
    said = body.get("address", "") if row.kind == "access" else f"{body['role']}{', disabled' * body['disabled']}"
    return AccessRow(row.seq, read_moment(row.recorded_at), row.by, body["what"], body["account"], said)


def account_faults(connection: Connection) -> Iterator[tuple[str, str]]:
    """Yield name and fault of every account that is not as the chain's last entry about it tells."""
    told: dict[str, tuple[int, dict[str, object]]] = {}
    wanted = select(entry.c.seq, entry.c.body).where(entry.c.kind == "account").order_by(entry.c.seq)
    for seq, raw in connection.execute(wanted):
        try:
            body = json.loads(raw)
            told[body["account"]] = (seq, {key: value for key, value in body.items() if key != "what"})
        except (ValueError, KeyError, TypeError):
            continue  # its hash tells that it was changed
    for row in connection.execute(select(table)):
        found = (row.entry_seq, _told(row.name, row.role, bool(row.is_disabled), row.password_hash))
        if told.pop(row.name, None) != found:
            yield row.name, "is not as the chain tells: it was changed past the record"
    for name in told:
        yield name, "is in the chain, but missing among the accounts"
