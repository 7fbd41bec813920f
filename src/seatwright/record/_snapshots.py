"""A folder of backups: one pool of files for all of them, and one small folder for each.

::

    backups/
        backup.json              which record it belongs to
        files/                   scans and photos by content, shared by all backups
        20260309T200000Z/
            record.sqlite        the whole database, whatever the record itself runs on
            snapshot.json        when, the chain's head, hash of the database

A backup is there once its folder has its name: it is made under another one, flushed, then renamed.
"""

import fcntl
import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

from seatwright.errors import ConflictError, RecordError
from seatwright.record._blobs import FileStore
from seatwright.record._durable import sync_folder, write_durably

__all__ = ["BackupFolder", "Snapshot"]

_SCHEMA = "seatwright/backup/1"
_OWNER = "backup.json"
_SNAPSHOT = "snapshot.json"
_DATABASE = "record.sqlite"
_NAME = re.compile(r"\d{8}T\d{6}Z(-\d+)?")


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What ``snapshot.json`` says of one backup."""

    name: str
    record_id: str
    created_at: str
    head_seq: int
    head_hash: str
    database_sha256: str
    n_files: int
    n_bytes: int

    @property
    def moment(self) -> datetime:
        """When it was made."""
        return datetime.fromisoformat(self.created_at)


class BackupFolder:
    """One folder of backups of one record."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.store = FileStore(folder / "files")

    def prepare(self, record_id: str) -> None:
        """Make the folder, or make sure that it belongs to this record."""
        owner = self.folder / _OWNER
        if not owner.exists():
            if self.folder.is_dir() and any(p.name not in ("files", ".lock") for p in self.folder.iterdir()):
                raise ConflictError(f"{self.folder} holds something else", hint="choose a new or empty folder")
            self.folder.mkdir(parents=True, exist_ok=True)
            self.store.create()
            write_durably(owner, json.dumps({"schema": _SCHEMA, "record": record_id}).encode())
        elif _read_json(owner).get("record") != record_id:
            raise ConflictError(
                f"{self.folder} holds backups of another record", hint="choose another folder for this record's"
            )

    @contextmanager
    def locked(self, *, only_reads: bool = False) -> Iterator[None]:
        """Hold the folder alone; ConflictError when another backup runs.

        A folder that nobody can write to, as on a disk kept apart, needs no lock for reading.
        """
        try:
            descriptor = os.open(self.folder / ".lock", os.O_RDWR | os.O_CREAT, 0o644)
        except OSError:
            if not only_reads:
                raise
            yield
            return
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            yield
        except BlockingIOError as error:
            raise ConflictError(f"another backup into {self.folder} is running", hint="wait until it ends") from error
        finally:
            os.close(descriptor)

    def list(self) -> tuple[Snapshot, ...]:
        """Return every backup, the oldest first.

        Raises
        ------
        RecordError
            There is no folder of backups here, or one of them cannot be read.
        """
        if not (self.folder / _OWNER).is_file():
            raise RecordError(f"there are no backups in {self.folder}", hint="give the folder that backups go to")
        found = [_read_snapshot(path) for path in self.folder.iterdir() if _NAME.fullmatch(path.name)]
        return tuple(sorted(found, key=lambda snapshot: (snapshot.created_at, snapshot.name)))

    def choose(self, name: str) -> Snapshot:
        """Return the backup of this name, or the newest when it is empty."""
        known = self.list()
        chosen = [snapshot for snapshot in known if name in ("", snapshot.name)]
        if not chosen:
            names = ", ".join(snapshot.name for snapshot in known[-5:])
            raise RecordError(f"there is no backup {name or 'yet'}", hint=f"known: {names}" if names else "make one")
        return chosen[-1]

    def database_of(self, snapshot: Snapshot) -> Path:
        """Return the database of a backup; RecordError when it is not the one that was written."""
        path = self.folder / snapshot.name / _DATABASE
        try:
            with path.open("rb") as handle:
                found = hashlib.file_digest(handle, "sha256").hexdigest()
        except OSError as error:
            raise RecordError(f"{path} cannot be read ({error.strerror})", hint="use another backup") from error
        if found != snapshot.database_sha256:
            raise RecordError(f"{path} is damaged: its content changed", hint="use another backup")
        return path

    @contextmanager
    def partial(self, now: datetime) -> Iterator[tuple[str, Path]]:
        """Give the name of a new backup and the folder to make it in; the folder is gone afterwards."""
        for left in self.folder.glob(".*.partial"):
            shutil.rmtree(left)
        stem = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
        names = (stem, *(f"{stem}-{n}" for n in range(2, 1000)))
        name = next(name for name in names if not (self.folder / name).exists())
        folder = self.folder / f".{name}.partial"
        folder.mkdir()
        try:
            yield name, folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    def finish(self, snapshot: Snapshot, folder: Path) -> None:
        """Give a made backup its name, once all of it is on the disk."""
        with (folder / _DATABASE).open("rb") as handle:
            os.fsync(handle.fileno())
        write_durably(folder / _SNAPSHOT, json.dumps(asdict(snapshot), indent=1).encode())
        folder.rename(self.folder / snapshot.name)
        sync_folder(self.folder)

    def remove(self, snapshot: Snapshot) -> None:
        """Take a backup away; its files stay until `drop_files`."""
        gone = self.folder / f".{snapshot.name}.partial"
        (self.folder / snapshot.name).rename(gone)
        sync_folder(self.folder)
        shutil.rmtree(gone)

    def drop_files(self, used: set[str]) -> int:
        """Remove every pooled file that no backup names; return how many."""
        unused = [name for name in self.store.names() if name not in used]
        for name in unused:
            self.store.path_of(name).unlink()
        return len(unused)


def _read_snapshot(folder: Path) -> Snapshot:
    known = _read_json(folder / _SNAPSHOT)
    wanted = {field.name: str if field.type in (str, "str") else int for field in fields(Snapshot)}
    if known.keys() != wanted.keys() or any(not isinstance(known[name], kind) for name, kind in wanted.items()):
        raise RecordError(f"{folder / _SNAPSHOT} is damaged", hint="use another backup, and move this one away")
    return Snapshot(**{**cast("dict[str, Any]", known), "name": folder.name})


def _read_json(path: Path) -> dict[str, object]:
    try:
        data = json.loads(path.read_bytes())
    except (OSError, ValueError) as error:
        raise RecordError(f"{path} cannot be read", hint="use another backup") from error
    if not isinstance(data, dict):
        raise RecordError(f"{path} is damaged", hint="use another backup")
    return data
