"""Connections to the record's database: SQLite or PostgreSQL, one writer at a time, durable when a write returns.

SQLite: write-ahead log, synchronous FULL, foreign keys on. PostgreSQL: synchronous commit on; one writer at a time by
a lock on the chain's head. Owns transactions; knows no table but the head.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import QueuePool

from seatwright.errors import RecordError
from seatwright.record._told import told

__all__ = ["Database"]

_WAIT_S = 15  # judgement: the longest transaction, an import, takes a second or two


class Database:
    """One database, by file or by URL.

    Parameters
    ----------
    address : Path or str
        File of a SQLite database, or a PostgreSQL URL.
    """

    def __init__(self, address: Path | str, *, create: bool = False, read_only: bool = False) -> None:
        with told("opening the record"):
            if isinstance(address, Path):
                self.engine = _sqlite_engine(address, create=create, read_only=read_only)
            else:
                self.engine = _postgresql_engine(address)

    @property
    def is_sqlite(self) -> bool:
        """Whether the database is a file of our own."""
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one moment of the record, whatever is written meanwhile."""
        with told("reading the record"), self._connected(writes=False) as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection that alone may write; all of it is on the disk when the block ends, or nothing."""
        with told("writing the record"), self._connected(writes=True) as connection:
            yield connection

    @contextmanager
    def _connected(self, *, writes: bool) -> Iterator[Connection]:
        with self.engine.connect() as connection:
            level = {} if self.is_sqlite else {"isolation_level": "READ COMMITTED" if writes else "REPEATABLE READ"}
            with connection.execution_options(writes=writes, **level).begin():
                yield connection

    def close(self) -> None:
        """Give every connection back."""
        self.engine.dispose()


def _sqlite_engine(path: Path, *, create: bool, read_only: bool) -> Engine:
    mode = "ro" if read_only else "rwc" if create else "rw"

    def connect() -> sqlite3.Connection:
        place = f"file:{quote(str(path.absolute()))}?mode={mode}"
        connection = sqlite3.connect(place, uri=True, timeout=_WAIT_S, isolation_level=None, check_same_thread=False)
        try:
            if not read_only:
                connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA fullfsync = ON")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA trusted_schema = OFF")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        is_write = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if is_write else "BEGIN")

    return engine


def _postgresql_engine(address: str) -> Engine:
    url = make_url(address)
    if url.get_backend_name() != "postgresql":
        raise ArgumentError(f"not a PostgreSQL address: {url.render_as_string(hide_password=True)}")
    try:
        engine = create_engine(
            url.set(drivername="postgresql+psycopg"),
            connect_args={"connect_timeout": _WAIT_S},
            pool_pre_ping=True,
        )
    except ModuleNotFoundError as error:
        raise RecordError(
            "PostgreSQL needs a driver that is not installed", hint="install seatwright with its extra: postgres"
        ) from error

    @event.listens_for(engine, "connect")
    def _settle(connection: Any, _record: object) -> None:
        with connection.cursor() as cursor:
            cursor.execute("SET synchronous_commit = on")
            cursor.execute(f"SET lock_timeout = '{_WAIT_S}s'")
        connection.commit()

    return engine
