"""The raw files of a case in the record, verified as they are read; implements `workflows.ports.CaseFiles`."""

import hashlib

from sqlalchemy import Connection, func, select

from seatwright.case import closest_hint
from seatwright.errors import InputError, RecordError, UnknownCase
from seatwright.record._blobs import FileStore
from seatwright.record._database import Database
from seatwright.record._tables import case_file, case_version, document, entry, stored_case, stored_file
from seatwright.record._told import told

__all__ = ["RecordCaseFiles"]

_DOCUMENTS = {"case.toml": case_version.c.case_sha256, "bench.toml": case_version.c.bench_sha256}
_LOG = "log.jsonl"


class RecordCaseFiles:
    """The newest documents, the whole log and the newest scans and photos of one case.

    Everything is looked up once, at one moment of the record, so that what is read belongs together.
    """

    def __init__(self, database: Database, store: FileStore, code: str) -> None:
        self._database = database
        self._store = store
        self._code = code
        self._documents: dict[str, bytes] | None = None
        self._files: dict[str, tuple[str, int]] = {}
        self.version = 0
        """Of the documents read; 0 when the record does not have the case."""
        self.n_events = 0

    @property
    def title(self) -> str:
        """The case's code."""
        return self._code

    @property
    def hashes(self) -> dict[str, str]:
        """SHA-256 of each scan and photo, by path."""
        self._look_up()
        return {name: sha256 for name, (sha256, _) in self._files.items()}

    def require(self) -> None:
        """Raise `CaseError` when the record does not have the case."""
        self._look_up()
        if self.version:
            return
        with self._database.reading() as connection:
            codes = connection.execute(select(stored_case.c.code).order_by(stored_case.c.code).limit(200)).scalars()
            hint = closest_hint(self._code, list(codes), noun="case")
        hint = (
            hint if hint.startswith("did you mean") else "look for it in the list of cases (`seatwright record list`)"
        )
        raise UnknownCase(f"the record has no case {self._code}", hint=hint, details={"code": self._code})

    def has(self, name: str) -> bool:
        """Return whether the case has a file of this name."""
        documents = self._look_up()
        return name in documents or name in self._files

    def check(self, name: str) -> tuple[str, str] | None:
        """Return what is wrong with a named file, and what mends it; its content is verified when it is read."""
        if self.has(name):
            return None
        hint = closest_hint(name, self._files, noun="file")
        return f"the file {name!r} is not in the record", hint

    def sha256_of(self, name: str) -> str | None:
        """Return the SHA-256 of a scan or photo, as the record has it."""
        return self.hashes.get(name)

    def read(self, name: str, *, max_bytes: int) -> bytes:
        """Return a file's verified bytes."""
        documents = self._look_up()
        if name in documents:
            return _limited(documents[name], max_bytes)
        if name not in self._files:
            raise InputError("is not in the record", hint=closest_hint(name, self._files, noun="file"))
        sha256, n_bytes = self._files[name]
        if n_bytes > max_bytes:
            raise InputError(
                f"is {n_bytes} bytes; at most {max_bytes} are read", hint="check that it is the right file"
            )
        with told("reading the record"):
            return self._store.read(sha256, n_bytes)

    def _look_up(self) -> dict[str, bytes]:
        if self._documents is None:
            with self._database.reading() as connection:
                self._documents = self._read_all(connection)
        return self._documents

    def _read_all(self, connection: Connection) -> dict[str, bytes]:
        row = connection.execute(
            select(stored_case.c.version, stored_case.c.n_events).where(stored_case.c.code == self._code)
        ).one_or_none()
        if row is None:
            return {}
        self.version, self.n_events = row.version, row.n_events
        documents = {name: _read_document(connection, self._code, row.version, name) for name in _DOCUMENTS}
        lines = list(
            connection.execute(
                select(entry.c.body)
                .where(entry.c.case_code == self._code, entry.c.case_seq.is_not(None))
                .order_by(entry.c.case_seq)
            ).scalars()
        )
        if lines:
            documents[_LOG] = _join_lines(lines)
        newest = (
            select(case_file.c.path, func.max(case_file.c.entry_seq).label("seq"))
            .where(case_file.c.case_code == self._code)
            .group_by(case_file.c.path)
            .subquery()
        )
        rows = connection.execute(
            select(case_file.c.path, stored_file.c.sha256, stored_file.c.n_bytes)
            .join(newest, (newest.c.path == case_file.c.path) & (newest.c.seq == case_file.c.entry_seq))
            .join(stored_file, stored_file.c.sha256 == case_file.c.sha256)
            .where(case_file.c.case_code == self._code)
            .order_by(case_file.c.path)
        )
        self._files = {row.path: (row.sha256, row.n_bytes) for row in rows}
        return documents


def _read_document(connection: Connection, code: str, version: int, name: str) -> bytes:
    row = connection.execute(
        select(document.c.sha256, document.c.content)
        .join(case_version, document.c.sha256 == _DOCUMENTS[name])
        .where(case_version.c.case_code == code, case_version.c.version == version)
    ).one_or_none()
    if row is None or hashlib.sha256(row.content).hexdigest() != row.sha256:
        wrong = "is missing" if row is None else "is damaged: its content is not what was recorded"
        raise RecordError(
            f"{name} of case {code} {wrong}",
            hint="run `seatwright record verify`, then restore a backup into another folder",
        )
    return bytes(row.content)


def _join_lines(lines: list[bytes]) -> bytes:
    """Return the log as it was written; a line that lacked its end gets it when another follows."""
    *before, last = map(bytes, lines)
    return b"".join(line if line.endswith(b"\n") else line + b"\n" for line in before) + last


def _limited(data: bytes, max_bytes: int) -> bytes:
    if len(data) > max_bytes:
        raise InputError(f"is {len(data)} bytes; at most {max_bytes} are read", hint="check that it is the right file")
    return data
