"""Whether the record is what was written: every entry, document and file, in pieces, so that memory stays flat.

Reads at one moment of the database. What is found is a list, never an exception: a damaged record is told in full.
"""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field

from sqlalchemy import Connection, Row, Table, func, select, text

from seatwright.progress import SILENT, Progress
from seatwright.record._accounts import account_faults
from seatwright.record._blobs import FileStore
from seatwright.record._chain import GENESIS, Entry, hash_entry
from seatwright.record._database import Database
from seatwright.record._moments import read_moment, write_moment
from seatwright.record._tables import case_file, case_version, document, entry, head, stored_case, stored_file
from seatwright.record._told import told

__all__ = ["Damage", "Verified", "verify_database", "verify_record"]

_PAGE = 1000
_MAX_DAMAGES = 1000  # judgement: beyond that a backup is restored, not read through


@dataclass(frozen=True, slots=True)
class Damage:
    """One thing that is not as it was written."""

    where: str
    what: str
    do: str

    @property
    def damages(self) -> "tuple[Damage, ...]":
        """Itself, where a proof could not even begin."""
        return (self,)


@dataclass(frozen=True, slots=True)
class Verified:
    """What was proven, and every damage found."""

    n_entries: int
    n_cases: int
    n_documents: int
    n_files: int
    n_bytes: int
    n_files_unused: int
    """Kept, but named by no entry: what an interrupted import left; harmless."""
    head_seq: int
    head_hash: str
    """Note it elsewhere: a record that was cut off at its end shows only against it."""
    damages: tuple[Damage, ...] = field(default=())

    @property
    def is_sound(self) -> bool:
        """Whether nothing was found."""
        return not self.damages


_RESTORE = "keep the folder; restore the newest sound backup into another folder and compare"
_FILE = "restore the file from a backup, or import the case with it again"


def verify_record(
    database: Database,
    store: FileStore,
    *,
    known_head: tuple[int, str] | None = None,
    progress: Progress = SILENT,
) -> Verified:
    """Prove a record.

    Parameters
    ----------
    database : Database
    store : FileStore
    known_head : (int, str), optional
        Number and hash of an entry noted earlier, which must still stand.
    progress : Progress
    """
    with database.reading() as connection:
        damages, last = _check_rows(connection, database.is_sqlite, known_head, progress)
        n_documents = _count(connection, document)
        n_cases = _count(connection, stored_case)
        n_files, n_bytes, n_unused, found = _check_files(connection, store, progress)
        damages += found
    seq, digest = last
    return Verified(seq, n_cases, n_documents, n_files, n_bytes, n_unused, seq, digest, tuple(damages[:_MAX_DAMAGES]))


def verify_database(connection: Connection, *, is_sqlite: bool) -> tuple[Damage, ...]:
    """Return what is wrong with chain, documents and index, the files aside."""
    return tuple(_check_rows(connection, is_sqlite, None, SILENT)[0])


def _check_rows(
    connection: Connection, is_sqlite: bool, known_head: tuple[int, str] | None, progress: Progress
) -> tuple[list[Damage], tuple[int, str]]:
    damages = list(_check_database(connection, is_sqlite=is_sqlite))
    n_entries, last_hash, found = _check_chain(connection, progress)
    damages += found
    damages += _check_head(connection, n_entries, last_hash, known_head)
    damages += _check_documents(connection)
    damages += _check_cases(connection)
    damages += [Damage(f"account {name}", what, _RESTORE) for name, what in account_faults(connection)]
    return damages, (n_entries, last_hash)


def _count(connection: Connection, table: Table) -> int:
    return int(connection.execute(select(func.count()).select_from(table)).scalar_one())


def _check_database(connection: Connection, *, is_sqlite: bool) -> Iterator[Damage]:
    if not is_sqlite:
        return
    for row in connection.execute(text("PRAGMA integrity_check(20)")):
        if row[0] != "ok":
            yield Damage("database", str(row[0]), _RESTORE)
    for row in connection.execute(text("PRAGMA foreign_key_check")):
        yield Damage("database", f"a row of {row[0]} names a row of {row[2]} that is not there", _RESTORE)


def _pages(connection: Connection) -> Iterator[Row[tuple[object, ...]]]:
    last = 0
    while rows := connection.execute(select(entry).where(entry.c.seq > last).order_by(entry.c.seq).limit(_PAGE)).all():
        yield from rows
        last = rows[-1].seq


def _check_chain(connection: Connection, progress: Progress) -> tuple[int, str, list[Damage]]:
    damages: list[Damage] = []
    total = connection.execute(select(func.max(entry.c.seq))).scalar_one() or 1
    expected, previous = 1, GENESIS
    for row in _pages(connection):
        where = f"entry {row.seq}"
        if row.seq != expected:
            damages.append(Damage(f"entries {expected} to {row.seq - 1}", "are missing from the chain", _RESTORE))
        elif row.previous != previous:
            damages.append(Damage(where, "does not follow the entry before it", _RESTORE))
        link = Entry(row.seq, row.recorded_at, row.by, row.case_code, row.kind, bytes(row.body))
        if hash_entry(link, previous=row.previous) != row.hash:
            damages.append(Damage(where, "was changed: its hash does not fit its content", _RESTORE))
        elif wrong := _index_fault(row):
            damages.append(Damage(where, wrong, _RESTORE))
        expected, previous = row.seq + 1, row.hash
        if row.seq % _PAGE == 0:
            progress.report(0.4 * row.seq / total, "proving the chain")
    return expected - 1, previous, damages


def _index_fault(row: Row[tuple[object, ...]]) -> str:
    """Return what the columns beside an entry's body say otherwise than the body."""
    if row.kind != "happened":
        return "" if row.at == row.recorded_at and row.case_seq is None else "its time or number is not its body's"
    body = json.loads(row.body.decode("utf-8-sig"))
    at = write_moment(read_moment(body["at"].strip()))
    if (row.at, row.what, row.case_seq, row.by) != (at, body["what"], body["seq"], body["by"]):
        return "its time, kind, number or person is not its body's"
    return ""


def _check_head(
    connection: Connection, n_entries: int, last_hash: str, known: tuple[int, str] | None
) -> Iterator[Damage]:
    row = connection.execute(select(head)).one_or_none()
    if row is None or (row.seq, row.hash) != (n_entries, last_hash):
        said = "is missing" if row is None else f"names entry {row.seq}, but the chain ends with entry {n_entries}"
        yield Damage("head of the chain", said, _RESTORE)
    if known is not None:
        seq, expected = known
        found = connection.execute(select(entry.c.hash).where(entry.c.seq == seq)).scalar_one_or_none()
        if found != expected:
            what = "is not in the chain" if found is None else "has another hash than the one noted"
            yield Damage(f"entry {seq}", what, _RESTORE)


def _check_documents(connection: Connection) -> Iterator[Damage]:
    last = ""
    while True:
        rows = connection.execute(
            select(document).where(document.c.sha256 > last).order_by(document.c.sha256).limit(_PAGE // 10)
        ).all()
        if not rows:
            return
        for row in rows:
            if hashlib.sha256(row.content).hexdigest() != row.sha256:
                yield Damage(f"document {row.sha256[:12]}", "is not what was recorded", _RESTORE)
        last = rows[-1].sha256


def _check_cases(connection: Connection) -> Iterator[Damage]:
    """Yield what the index of cases says otherwise than the chain."""
    versions = {
        row[0]: (row[1], row[2])
        for row in connection.execute(
            select(case_version.c.case_code, func.count(), func.max(case_version.c.version)).group_by(
                case_version.c.case_code
            )
        )
    }
    events = {
        row[0]: (row[1], row[2])
        for row in connection.execute(
            select(entry.c.case_code, func.count(entry.c.case_seq), func.max(entry.c.case_seq)).group_by(
                entry.c.case_code
            )
        )
    }
    for row in connection.execute(select(stored_case.c.code, stored_case.c.version, stored_case.c.n_events)):
        if versions.get(row.code) != (row.version, row.version):
            yield Damage(f"case {row.code}", "its versions are not complete", _RESTORE)
        n_events, last = events.get(row.code, (0, 0))
        if (n_events, last or 0) != (row.n_events, row.n_events):
            yield Damage(f"case {row.code}", "its log is not complete", _RESTORE)
    told_by_chain = _told_by_chain(connection)
    for kind, table, columns in (
        ("revised", case_version, ("version", "case_sha256", "bench_sha256")),
        ("filed", case_file, ("path", "sha256")),
    ):
        shown = connection.execute(select(table.c.entry_seq, *(table.c[name] for name in columns)))
        indexed = {row[0]: tuple(row[1:]) for row in shown}
        for seq in sorted(told_by_chain[kind].keys() | indexed.keys()):
            if told_by_chain[kind].get(seq) != indexed.get(seq):
                yield Damage(f"entry {seq}", "the index of versions and files says otherwise than it", _RESTORE)


def _told_by_chain(connection: Connection) -> dict[str, dict[int, tuple[object, ...]]]:
    fields = {"revised": ("version", "case", "bench"), "filed": ("path", "sha256")}
    found: dict[str, dict[int, tuple[object, ...]]] = {kind: {} for kind in fields}
    rows = connection.execute(select(entry.c.seq, entry.c.kind, entry.c.body).where(entry.c.kind.in_(fields)))
    for row in rows:
        try:
            body = json.loads(row.body)
            content = tuple(body[name] for name in fields[row.kind])
        except (ValueError, KeyError, TypeError):
            content = ("unreadable",)  # its hash tells that it was changed; here it fits nothing
        found[row.kind][row.seq] = content
    return found


def _check_files(connection: Connection, store: FileStore, progress: Progress) -> tuple[int, int, int, list[Damage]]:
    damages: list[Damage] = []
    n_files, n_bytes = 0, 0
    total = connection.execute(select(func.sum(stored_file.c.n_bytes))).scalar_one() or 1
    known = set()
    for sha256, size in connection.execute(select(stored_file.c.sha256, stored_file.c.n_bytes)).all():
        known.add(sha256)
        n_files += 1
        if wrong := store.damage_of(sha256, size):
            cases = connection.execute(
                select(case_file.c.case_code, case_file.c.path).where(case_file.c.sha256 == sha256).limit(5)
            )
            used = ", ".join(f"{row.case_code} {row.path}" for row in cases)
            damages.append(Damage(f"file {sha256[:12]} ({used})", wrong, _FILE))
        n_bytes += size
        progress.report(0.4 + 0.6 * n_bytes / int(total), "proving the scans")
    with told("reading the record"):
        n_unused = sum(1 for name in store.names() if name not in known)
    return n_files, n_bytes, n_unused, damages
