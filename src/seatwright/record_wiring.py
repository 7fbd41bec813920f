"""Builds what the commands about the practice record need, lazily; stands beside `wiring`, which opens its cases."""

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from seatwright.errors import SeatwrightError
from seatwright.wiring import SystemClock, case_of_record, open_record

if TYPE_CHECKING:
    from seatwright.progress import Progress
    from seatwright.record import BackedUp, Damage, Record, Restored, Snapshot, Verified
    from seatwright.workflows.accounts import AccountStore, PasswordHasher
    from seatwright.workflows.ports import CaseFiles, CaseSource

__all__ = [
    "accounts_of_record",
    "back_up",
    "list_backups",
    "measure_ahead",
    "open_case_files",
    "open_record",
    "password_hasher",
    "read_photo",
    "restore",
    "upgrade_record",
    "verify_backups",
    "verify_record",
]


def open_case_files(folder: Path) -> "tuple[CaseFiles, CaseSource, tuple[str, str] | None]":
    """Return the raw files of a case folder, what they say, and the documents it was written with, if by this tool."""
    from seatwright.files import FilesCaseSource, FolderCaseFiles, read_manifest  # noqa: PLC0415

    files = FolderCaseFiles(folder)
    written = read_manifest(folder) or {}
    base = (written["case.toml"], written["bench.toml"]) if {"case.toml", "bench.toml"} <= written.keys() else None
    return files, FilesCaseSource(files), base


def accounts_of_record(record: "Record") -> "AccountStore":
    """Return the accounts of an open record."""
    from seatwright.record import Accounts  # noqa: PLC0415

    return Accounts(record.database)


def password_hasher() -> "PasswordHasher":
    """Return what makes and checks password hashes."""
    from seatwright.record import Passwords  # noqa: PLC0415

    return Passwords()


def verify_record(folder: Path, *, known_head: tuple[int, str] | None, progress: "Progress") -> "Verified":
    """Prove the practice record of a folder: chain, documents, scans and photos."""
    from seatwright.record import verify_record as verify  # noqa: PLC0415

    record = open_record(folder)
    return verify(record.database, record.store, known_head=known_head, progress=progress)


def verify_backups(folder: Path, *, progress: "Progress") -> "Sequence[tuple[Snapshot, Verified | Damage]]":
    """Prove every backup of a folder."""
    from seatwright.record import verify_backups as verify  # noqa: PLC0415

    return verify(folder, progress=progress)


def back_up(folder: Path, target: Path, *, keep: str | None, progress: "Progress") -> "BackedUp":
    """Make a backup of the practice record of a folder, and let old ones make room."""
    from seatwright.record import back_up as make_backup  # noqa: PLC0415
    from seatwright.record import read_keep  # noqa: PLC0415

    wish = read_keep(keep) if keep is not None else None
    return make_backup(open_record(folder), target, now=SystemClock().now(), keep=wish, progress=progress)


def list_backups(folder: Path) -> "Sequence[Snapshot]":
    """Return the backups of a folder, the oldest first."""
    from seatwright.record import BackupFolder  # noqa: PLC0415

    return BackupFolder(folder).list()


def restore(folder: Path, target: Path, *, name: str, database: str | None, progress: "Progress") -> "Restored":
    """Restore a backup into a folder."""
    from seatwright.record import restore as restore_backup  # noqa: PLC0415

    return restore_backup(folder, target, name=name, database=database, progress=progress)


def upgrade_record(folder: Path) -> tuple[str, ...]:
    """Bring the practice record of a folder to this version's schema."""
    from seatwright.record import upgrade_record as upgrade  # noqa: PLC0415

    return upgrade(folder)


def measure_ahead(record: "Record", code: str) -> None:
    """Measure on the scans of a case at the bench what its first page asks of them, so that it need not wait for it."""
    from seatwright.workflows.plan import measure_cast_volumes_ml  # noqa: PLC0415

    if code in {standing for standing, *_ in record.list_standing()}:
        source = case_of_record(record, code)
        with suppress(SeatwrightError):  # whoever looks at the case is told
            measure_cast_volumes_ml(source, source.load(now=None, clock=SystemClock()).case)


def read_photo(path: Path) -> tuple[bytes, str]:
    """Return a photo's bytes and kind of file, once it is sure that it is a picture."""
    from seatwright.files import read_photo as read  # noqa: PLC0415

    return read(path)
