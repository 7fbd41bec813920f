"""What the workflows need from the practice record, as values and one protocol; `record` and tests implement it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from seatwright.case import Case, CaseStanding, Event
from seatwright.workflows.ports import CaseFiles

__all__ = [
    "Change",
    "EarlierBench",
    "KeptFile",
    "LoggedLine",
    "PracticeRecord",
    "Receipt",
    "Revision",
    "StoredCase",
]


@dataclass(frozen=True, slots=True)
class StoredCase:
    """A case as the record has it."""

    code: str
    version: int
    """Of its documents, from 1."""
    n_events: int
    title: str
    arch: str
    stage: str
    changed_at: datetime


@dataclass(frozen=True, slots=True)
class EarlierBench:
    """A bench that a case had."""

    version: int
    """The newest version of the case that had it."""
    at: datetime
    """When the first version with it was written."""
    by: str
    toml: bytes


@dataclass(frozen=True, slots=True)
class KeptFile:
    """A scan or photo that is on the disk already."""

    path: str
    """Inside the case."""
    sha256: str
    n_bytes: int


@dataclass(frozen=True, slots=True)
class LoggedLine:
    """An event and the bytes that it stands in, its line's end included where it has one."""

    event: Event
    raw: bytes


@dataclass(frozen=True, slots=True)
class Revision:
    """A new version of a case's documents, byte for byte."""

    case_toml: bytes
    bench_toml: bytes
    reason: str


@dataclass(frozen=True, slots=True)
class Change:
    """What one action of a person changes in one case; all of it is recorded, or nothing.

    Attributes
    ----------
    case : Case
        The case as it is planned after the change.
    standing : CaseStanding or None
        How far it has come after the change; None when that is as it was.
    by : str
        Who does it, by role or bench code.
    after_version, after_events : int
        What the change was made from; 0 and 0 for a case that is new to the record.
    revision : Revision or None
    files : sequence of KeptFile
    lines : sequence of LoggedLine
        Numbered on from `after_events`.
    """

    case: Case
    standing: CaseStanding | None
    by: str
    after_version: int
    after_events: int
    revision: Revision | None = None
    files: Sequence[KeptFile] = ()
    lines: Sequence[LoggedLine] = ()


@dataclass(frozen=True, slots=True)
class Receipt:
    """What is on the disk once a change was recorded, and the head of the chain that holds it."""

    code: str
    version: int
    n_events: int
    n_files: int
    head_seq: int
    head_hash: str


class PracticeRecord(Protocol):
    """Keeps cases, what happened to them, and their files."""

    def find(self, code: str) -> StoredCase | None:
        """Return a case by its exact code; None when the record does not have it."""
        ...

    def files(self, code: str) -> CaseFiles:
        """Return the raw files of a case."""
        ...

    def file_hashes(self, code: str) -> Mapping[str, str]:
        """Return the SHA-256 of each of a case's scans and photos, by path."""
        ...

    def version_of(self, code: str, *, case_sha256: str, bench_sha256: str | None) -> int | None:
        """Return the newest version with these documents (any bench when None); None when there is none."""
        ...

    def keep(self, path: str, data: bytes) -> KeptFile:
        """Put a file on the disk; it belongs to no case before a change with it is recorded."""
        ...

    def commit(self, change: Change, *, now: datetime) -> Receipt:
        """Record a change in one transaction; it is on the disk when this returns.

        Raises
        ------
        ConflictError
            The case was changed by somebody else since `after_version` and `after_events`.
        RecordError
            The record cannot be written, or the clock was set back.
        """
        ...

    def standing_of(self, code: str) -> CaseStanding:
        """Return what the lists show of a case."""
        ...

    def renew_standing(self, stored: StoredCase, standing: CaseStanding) -> None:
        """Put a case's place in the lists right; ConflictError when the case is no longer `stored`."""
        ...
