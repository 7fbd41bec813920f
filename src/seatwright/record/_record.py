"""The practice record: made once in a folder, opened from there, changed one transaction at a time.

Implements `workflows.record_ports.PracticeRecord`. Files go to the disk first, then the rows that name them: what the
database names is always there.
"""

import secrets
import shutil
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import Connection, insert, select, true

from seatwright.case import CaseStanding
from seatwright.errors import ConflictError, RecordError
from seatwright.record._append import Appender, Draft
from seatwright.record._blobs import Arriving, FileStore
from seatwright.record._case_files import RecordCaseFiles
from seatwright.record._chain import GENESIS
from seatwright.record._commit import encode_body, write_change
from seatwright.record._database import Database
from seatwright.record._draft_files import read_draft_files
from seatwright.record._lists import Lists, read_stored_case
from seatwright.record._migrate import require_newest_schema, schema_of, upgrade_schema
from seatwright.record._moments import read_moment, write_moment
from seatwright.record._place import DATABASE_NAME, PLACE_NAME, Place, read_place, write_place
from seatwright.record._remembered import ScanMemory
from seatwright.record._standing import read_standing, write_standing
from seatwright.record._tables import case_version, document, entry, head, stored_case, stored_file
from seatwright.record._told import told
from seatwright.workflows.record_ports import Change, EarlierBench, KeptFile, Receipt, StoredCase

__all__ = ["Record", "create_record", "free_bytes", "open_record", "upgrade_record"]

_UNUSED_FOR = timedelta(days=1)  # judgement: no import takes that long


class Record(Lists):
    """An open practice record."""

    def __init__(self, place: Place, database: Database) -> None:
        super().__init__(database)
        self.place = place
        self.database = database
        self.store = FileStore(place.files)
        self.remembered = ScanMemory(place.folder / "measured")
        self._is_cleared = False

    def find(self, code: str) -> StoredCase | None:
        """Return a case by its exact code; None when the record does not have it."""
        with self.database.reading() as connection:
            row = connection.execute(select(stored_case).where(stored_case.c.code == code)).one_or_none()
        return None if row is None else read_stored_case(row)

    def files(self, code: str) -> RecordCaseFiles:
        """Return the raw files of a case, as they are at the moment of the first read."""
        return RecordCaseFiles(self.database, self.store, code)

    def file_hashes(self, code: str) -> Mapping[str, str]:
        """Return the SHA-256 of each of a case's scans and photos, by path."""
        return self.files(code).hashes

    def version_of(self, code: str, *, case_sha256: str, bench_sha256: str | None) -> int | None:
        """Return the newest version with these documents (any bench when None); None when there is none."""
        same_bench = true() if bench_sha256 is None else case_version.c.bench_sha256 == bench_sha256
        with self.database.reading() as connection:
            return connection.execute(
                select(case_version.c.version)
                .where(case_version.c.case_code == code, case_version.c.case_sha256 == case_sha256, same_bench)
                .order_by(case_version.c.version.desc())
                .limit(1)
            ).scalar_one_or_none()

    def benches_of(self, code: str) -> tuple[EarlierBench, ...]:
        """Return every bench that a case had, each once, the one of its newest version first."""
        with self.database.reading() as connection:
            rows = connection.execute(
                select(case_version.c.version, entry.c.recorded_at, entry.c.by, document.c.sha256, document.c.content)
                .join(entry, entry.c.seq == case_version.c.entry_seq)
                .join(document, document.c.sha256 == case_version.c.bench_sha256)
                .where(case_version.c.case_code == code)
                .order_by(case_version.c.version.desc())
            ).all()
        found: dict[str, EarlierBench] = {}
        for row in rows:
            newest = found.get(row.sha256)
            version = newest.version if newest else row.version
            found[row.sha256] = EarlierBench(version, read_moment(row.recorded_at), row.by, row.content)
        return tuple(found.values())

    def keep(self, path: str, data: bytes) -> KeptFile:
        """Put a file on the disk."""
        with told(f"keeping {path}"):
            self._clear_once()
            return KeptFile(path, self.store.keep(data), len(data))

    def receive(self) -> Arriving:
        """Begin a file whose bytes come in later, piece by piece."""
        with told("receiving a file"):
            self._clear_once()
            return self.store.receive()

    def keep_arrived(self, arriving: Arriving, *, suffix: str) -> KeptFile:
        """Keep a file that has come in whole, under a path that its content names: ``scans/abc....suffix``."""
        with told("keeping a file"):
            sha256 = self.store.keep_arrived(arriving)
            return KeptFile(f"scans/{sha256[:16]}.{suffix}", sha256, arriving.n_bytes)

    def commit(self, change: Change, *, now: datetime) -> Receipt:
        """Record a change in one transaction; it is on the disk when this returns."""
        with self.database.writing() as connection:
            for kept in change.files:
                if not self.store.path_of(kept.sha256).is_file():
                    raise RecordError(f"{kept.path} was taken away before it was recorded", hint="try again")
            return write_change(connection, change, Appender(connection, now=now))

    def tidy(self, *, now: datetime) -> tuple[int, int]:
        """Remove files that no case and no draft names and that were last kept over a day ago; how many, and bytes.

        Interrupted imports leave such files. Nobody can record a file meanwhile: this holds the one right to write.
        """
        with self.database.writing() as connection:
            self.store.clear_partial()
            used = set(connection.execute(select(stored_file.c.sha256)).scalars()) | set(read_draft_files(connection))
            return self.store.drop_unused(used, before=now - _UNUSED_FOR)

    def standing_of(self, code: str) -> CaseStanding:
        """Return what the lists show of a case."""
        with self.database.reading() as connection:
            return read_standing(connection, code)

    def renew_standing(self, stored: StoredCase, standing: CaseStanding) -> None:
        """Put a case's place in the lists right; ConflictError when the case is no longer `stored`."""
        table = stored_case.c
        same = (table.code == stored.code) & (table.version == stored.version) & (table.n_events == stored.n_events)
        with self.database.writing() as connection:
            told_stage = stored_case.update().where(same).values(stage=standing.stage.value)
            if connection.execute(told_stage).rowcount != 1:
                raise ConflictError(f"case {stored.code} was changed by somebody else", hint="try again")
            write_standing(connection, stored.code, standing)

    def _clear_once(self) -> None:
        if not self._is_cleared:
            self.store.clear_partial()  # what a writer left that was interrupted
            self._is_cleared = True

    def close(self) -> None:
        """Give the database back."""
        self.database.close()


def create_record(folder: Path, *, now: datetime, by: str, database: str | None = None) -> Record:
    """Make an empty record in a new or empty folder; with `database`, in an empty PostgreSQL database.

    Raises
    ------
    ConflictError
        There is a record already, or the folder holds something else.
    """
    with told("making the record"):
        folder.mkdir(parents=True, exist_ok=True)
        if (folder / PLACE_NAME).exists():
            raise ConflictError(f"{folder} holds a record already", hint="choose another folder")
        if foreign := [p.name for p in folder.iterdir() if p.name != "files" and not p.name.startswith(DATABASE_NAME)]:
            raise ConflictError(f"{folder} holds {min(foreign)}", hint="choose a new or empty folder")
        name = database or DATABASE_NAME
        FileStore(folder / "files").create()
        opened = Database(Place(folder, "", name).address, create=True)
        with opened.writing() as connection:
            record_id = _adopt_interrupted(connection) if opened.is_sqlite else None
            if record_id is None:
                record_id = secrets.token_hex(16)
                _write_opening(connection, record_id, now=now, by=by)
        place = Place(folder, record_id, name)
        write_place(place)
    return Record(place, opened)


def _adopt_interrupted(connection: Connection) -> str | None:
    """Return the id of a record whose making was interrupted before its folder was named; None when there is none."""
    if schema_of(connection) is None:
        return None
    row = connection.execute(select(head.c.seq, head.c.record_id)).one_or_none()
    if row is None or row.seq > 1:
        raise ConflictError(
            "the folder holds the database of a record, but not its record.toml", hint="restore that file"
        )
    return str(row.record_id)


def _write_opening(connection: Connection, record_id: str, *, now: datetime, by: str) -> None:
    if schema_of(connection) is not None:
        raise ConflictError("the database holds a record already", hint="choose another database")
    upgrade_schema(connection)
    connection.execute(
        insert(head).values(id=1, seq=0, hash=GENESIS, recorded_at=write_moment(now), record_id=record_id)
    )
    appender = Appender(connection, now=now)
    appender.add(Draft(by, "", "opened", encode_body({"record": record_id})))
    appender.finish()


def open_record(folder: Path) -> Record:
    """Open the record of a folder.

    Raises
    ------
    RecordError
        There is none, its database cannot be used, is of another version, or belongs to another folder.
    """
    place = read_place(folder)
    opened = Database(place.address)
    with opened.reading() as connection:
        require_newest_schema(connection)
        found = connection.execute(select(head.c.record_id)).scalar_one_or_none()
    if found != place.record_id:
        raise RecordError(
            f"the database belongs to another record than the folder {folder}",
            hint=f"mend {PLACE_NAME}: database and folder carry the same record id",
        )
    if not place.files.is_dir():
        raise RecordError(
            f"the folder of scans and photos is missing: {place.files}",
            hint="connect the disk that holds it, or restore a backup",
        )
    return Record(place, opened)


def upgrade_record(folder: Path) -> tuple[str, ...]:
    """Bring the record of a folder to the schema of this version, in one transaction; return the steps taken.

    Raises
    ------
    RecordError
        It was written by a newer version, or cannot be written.
    """
    opened = Database(read_place(folder).address)
    try:
        with opened.writing() as connection:
            return upgrade_schema(connection)
    finally:
        opened.close()


def free_bytes(record: Record) -> int:
    """Return how many bytes the disk of a record's files has left."""
    with told("looking at the disk"):
        return shutil.disk_usage(record.place.files).free
