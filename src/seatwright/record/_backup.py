"""Backups while the record is in use: one moment of the database, then every file that it names, proven as it goes.

The database of a backup is always one SQLite file: of a SQLite record a copy of its pages made by SQLite's own backup,
of a PostgreSQL record the rows seen by one snapshot transaction. So a backup is read without any server, and a record
can move from one database to the other.
"""

import hashlib
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import select

from seatwright.errors import InputError, RecordError
from seatwright.progress import SILENT, Progress
from seatwright.record._copy_rows import copy_rows
from seatwright.record._database import Database
from seatwright.record._draft_files import read_draft_files
from seatwright.record._migrate import upgrade_schema
from seatwright.record._moments import write_moment
from seatwright.record._record import Record
from seatwright.record._rotation import choose_kept
from seatwright.record._snapshots import BackupFolder, Snapshot
from seatwright.record._tables import head, stored_file
from seatwright.record._told import told
from seatwright.record._verify import verify_database

__all__ = ["BackedUp", "back_up", "read_stored_files"]


@dataclass(frozen=True, slots=True)
class BackedUp:
    """What a backup holds, and what made room for it."""

    snapshot: Snapshot
    n_files_copied: int
    """Those that no earlier backup had."""
    removed: tuple[str, ...]
    """Names of older backups that rotation took away."""


def back_up(
    record: Record,
    folder: Path,
    *,
    now: datetime,
    keep: Mapping[str, int] | None = None,
    progress: Progress = SILENT,
) -> BackedUp:
    """Make a backup of an open record; others may write to it meanwhile.

    Parameters
    ----------
    record : Record
    folder : Path
        Where the backups of this record go.
    now : datetime
    keep : mapping, optional
        How many daily, weekly ... backups stay; all of them when None.
    progress : Progress

    Raises
    ------
    ConflictError
        The folder belongs to something else, or another backup runs.
    RecordError
        The record is damaged, or the disk is full. No backup is there by half.
    """
    if folder.resolve().is_relative_to(record.place.folder.resolve()):
        raise InputError("a backup inside the record's own folder saves nothing", hint="choose another disk")
    backups = BackupFolder(folder)
    with told("making the backup"):
        folder.mkdir(parents=True, exist_ok=True)
    with told("making the backup"), backups.locked():
        backups.prepare(record.place.record_id)
        backups.store.clear_partial()
        with backups.partial(now) as (name, partial):
            database = partial / "record.sqlite"
            progress.report(0.0, "copying the database")
            _copy_database(record.database, database)
            snapshot, n_copied = _fill(record, backups, database, name=name, now=now, progress=progress)
            backups.finish(snapshot, partial)
        removed = _rotate(backups, keep) if keep else ()
    return BackedUp(snapshot, n_copied, removed)


def read_stored_files(database: Path) -> dict[str, int]:
    """Return size by SHA-256 of every file that a backup's database names, its drafts included."""
    opened = Database(database, read_only=True)
    try:
        with opened.reading() as connection:
            named = {row.sha256: row.n_bytes for row in connection.execute(select(stored_file))}
            return read_draft_files(connection) | named
    finally:
        opened.close()


def _fill(
    record: Record, backups: BackupFolder, database: Path, *, name: str, now: datetime, progress: Progress
) -> tuple[Snapshot, int]:
    """Prove the copied database, bring every file that it names into the pool, and describe the backup."""
    opened = Database(database, read_only=True)
    try:
        with opened.reading() as connection:
            verified = verify_database(connection, is_sqlite=True)
            last = connection.execute(select(head)).one()
    finally:
        opened.close()
    if verified:
        raise RecordError(
            f"the record is damaged ({verified[0].where} {verified[0].what}); no backup was made of it",
            hint="run `seatwright record verify`; the earlier backups are untouched",
        )
    files = read_stored_files(database)
    n_copied, done, total = 0, 0, max(sum(files.values()), 1)
    for sha256, n_bytes in files.items():
        if not _is_pooled(backups, sha256, n_bytes):
            backups.store.keep(record.store.read(sha256, n_bytes))
            n_copied += 1
        done += n_bytes
        progress.report(0.1 + 0.9 * done / total, "copying the scans")
    with database.open("rb") as handle:
        digest = hashlib.file_digest(handle, "sha256").hexdigest()
    snapshot = Snapshot(
        name, last.record_id, write_moment(now), last.seq, last.hash, digest, len(files), sum(files.values())
    )
    return snapshot, n_copied


def _is_pooled(backups: BackupFolder, sha256: str, n_bytes: int) -> bool:
    """Return whether the pool has a file, by its size; `verify` proves its content."""
    path = backups.store.path_of(sha256)
    return path.is_file() and path.stat().st_size == n_bytes


def _copy_database(source: Database, path: Path) -> None:
    if source.is_sqlite:
        with source.reading() as connection, closing(sqlite3.connect(path)) as target:
            live = connection.connection.driver_connection
            if not isinstance(live, sqlite3.Connection):
                raise TypeError("a SQLite record is read by sqlite3")
            live.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")  # one file, readable where nothing can be written
        return
    target_database = Database(path, create=True)
    try:
        with source.reading() as rows, target_database.writing() as connection:
            upgrade_schema(connection)
            copy_rows(rows, connection, after=0)
    finally:
        target_database.close()
    with closing(sqlite3.connect(path)) as target:
        target.execute("PRAGMA journal_mode = DELETE")


def _rotate(backups: BackupFolder, keep: Mapping[str, int]) -> tuple[str, ...]:
    """Take away what rotation does not keep, then the files that no backup names any more."""
    known = backups.list()
    kept = choose_kept([snapshot.moment for snapshot in known], keep)
    old = [snapshot for snapshot in known if snapshot.moment not in kept]
    if not old:
        return ()
    used: set[str] = set()
    for snapshot in known:
        if snapshot not in old:
            used |= read_stored_files(backups.database_of(snapshot)).keys()
    for snapshot in old:
        backups.remove(snapshot)
    backups.drop_files(used)
    return tuple(snapshot.name for snapshot in old)
