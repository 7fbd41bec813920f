"""A backup back into a folder: a new record, an older one brought up, or the damaged files of the same one put right.

A record that has an entry which the backup lacks is newer: it is never overwritten.
"""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from seatwright.errors import ConflictError, RecordError
from seatwright.progress import SILENT, Progress
from seatwright.record._backup import read_stored_files
from seatwright.record._blobs import FileStore
from seatwright.record._copy_rows import copy_rows
from seatwright.record._database import Database
from seatwright.record._migrate import newest_schema, require_newest_schema, schema_of, upgrade_schema
from seatwright.record._place import DATABASE_NAME, PLACE_NAME, Place, read_place, write_place
from seatwright.record._snapshots import BackupFolder, Snapshot
from seatwright.record._tables import entry, head
from seatwright.record._told import told
from seatwright.record._verify import Damage, Verified, verify_record

__all__ = ["Restored", "restore", "verify_backups"]


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did, and the proof of the record that came of it."""

    snapshot: Snapshot
    n_entries_added: int
    n_files_added: int
    verified: Verified


def restore(
    backups_folder: Path, folder: Path, *, name: str = "", database: str | None = None, progress: Progress = SILENT
) -> Restored:
    """Restore a backup into a folder and prove the result.

    Parameters
    ----------
    backups_folder : Path
    folder : Path
        New or empty; or the folder of the same record, when it has nothing that the backup lacks.
    name : str
        Which backup; the newest when empty.
    database : str, optional
        PostgreSQL address for a new folder; a SQLite file in it otherwise.
    progress : Progress

    Raises
    ------
    ConflictError
        The folder holds another record, or a newer one, or something else.
    RecordError
        The backup is damaged.
    """
    backups = BackupFolder(backups_folder)
    with told("restoring"), backups.locked(only_reads=True):
        snapshot = backups.choose(name)
        with open_snapshot(backups, snapshot) as (source, path):
            place = _place_for(folder, snapshot, database)
            opened = Database(place.address, create=True)
            with opened.writing() as target, source.reading() as rows:
                after = _require_older(target, rows, snapshot, folder)
                store = FileStore(place.files)
                store.create()
                n_files = _restore_files(backups, store, read_stored_files(path), progress)
                if after < snapshot.head_seq:
                    copy_rows(rows, target, after=after)
            if not (folder / PLACE_NAME).exists():
                write_place(place)
    verified = verify_record(opened, store, known_head=(snapshot.head_seq, snapshot.head_hash), progress=progress)
    opened.close()
    return Restored(snapshot, snapshot.head_seq - after, n_files, verified)


@contextmanager
def open_snapshot(backups: BackupFolder, snapshot: Snapshot) -> Iterator[tuple[Database, Path]]:
    """Give a backup's database, whole and unchanged, at the schema of this version."""
    path = backups.database_of(snapshot)
    opened = Database(path, read_only=True)
    with opened.reading() as connection:
        is_newest = schema_of(connection) == newest_schema()
    if is_newest:
        try:
            yield opened, path
        finally:
            opened.close()
        return
    opened.close()
    with tempfile.TemporaryDirectory() as place:  # the backup itself stays as it was written
        copy = Path(place) / DATABASE_NAME
        shutil.copyfile(path, copy)
        opened = Database(copy)
        try:
            with opened.writing() as connection:
                upgrade_schema(connection)
            yield opened, copy
        finally:
            opened.close()


def _place_for(folder: Path, snapshot: Snapshot, database: str | None) -> Place:
    if (folder / PLACE_NAME).exists():
        place = read_place(folder)
        if place.record_id != snapshot.record_id:
            raise ConflictError(f"{folder} holds another record", hint="restore into a new folder")
        if database not in (None, place.database):
            raise ConflictError(f"{folder} uses another database", hint="leave --database out")
        return place
    folder.mkdir(parents=True, exist_ok=True)
    if foreign := [p.name for p in folder.iterdir() if p.name != "files" and not p.name.startswith(DATABASE_NAME)]:
        raise ConflictError(f"{folder} holds {min(foreign)}", hint="restore into a new or empty folder")
    return Place(folder, snapshot.record_id, database or DATABASE_NAME)


def _require_older(target: Connection, rows: Connection, snapshot: Snapshot, folder: Path) -> int:
    """Return the number of entries that the target has already, all of them the backup's; 0 for a new one."""
    if schema_of(target) is None:
        upgrade_schema(target)
        return 0
    require_newest_schema(target)
    last = target.execute(select(head)).one_or_none()
    if last is None:
        return 0
    if last.record_id != snapshot.record_id:
        raise ConflictError("the database holds another record", hint="restore into a new folder or database")
    if last.seq > snapshot.head_seq:
        raise ConflictError(
            f"the record in {folder} is newer: it has {last.seq} entries, the backup has {snapshot.head_seq}",
            hint="restore into a new folder; nothing was changed",
            details={"n_entries": int(last.seq), "n_entries_of_backup": snapshot.head_seq},
        )
    same = rows.execute(select(entry.c.hash).where(entry.c.seq == last.seq)).scalar_one_or_none()
    if same != last.hash:
        raise ConflictError(
            f"the record in {folder} and the backup have gone different ways", hint="restore into a new folder"
        )
    return int(last.seq)


def _restore_files(backups: BackupFolder, store: FileStore, files: dict[str, int], progress: Progress) -> int:
    n_files, done, total = 0, 0, max(sum(files.values()), 1)
    for sha256, n_bytes in files.items():
        if store.damage_of(sha256, n_bytes) is not None:
            store.keep(backups.store.read(sha256, n_bytes))
            n_files += 1
        done += n_bytes
        progress.report(0.9 * done / total, "restoring the scans")
    return n_files


class _SeenOnce(FileStore):
    """Reads every pooled file once, however many backups name it."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._seen: dict[str, str | None] = {}

    def damage_of(self, sha256: str, n_bytes: int) -> str | None:
        if sha256 not in self._seen:
            self._seen[sha256] = super().damage_of(sha256, n_bytes)
        return self._seen[sha256]


def verify_backups(folder: Path, *, progress: Progress = SILENT) -> tuple[tuple[Snapshot, Verified | Damage], ...]:
    """Prove every backup of a folder; a backup whose database cannot be read is told as a damage."""
    backups = BackupFolder(folder)
    store = _SeenOnce(folder / "files")
    found: list[tuple[Snapshot, Verified | Damage]] = []
    with backups.locked(only_reads=True):
        known = backups.list()
        for index, snapshot in enumerate(known):
            part = progress.part(index / len(known), (index + 1) / len(known))
            try:
                with open_snapshot(backups, snapshot) as (database, _):
                    expected = (snapshot.head_seq, snapshot.head_hash)
                    found.append((snapshot, verify_record(database, store, known_head=expected, progress=part)))
            except RecordError as error:
                found.append((snapshot, Damage(snapshot.name, error.message, error.hint)))
    return tuple(found)
