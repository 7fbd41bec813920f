"""The log of a case folder: whole lines added at its end, nothing ever changed.

Owns that a line is written completely or not at all, and that two writers never mix. What events mean stands in `case`.
"""

import fcntl
import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from seatwright.case import Event
from seatwright.errors import ConflictError, RecordError
from seatwright.files.documents import events_to_jsonl

__all__ = ["FolderEventLog"]


class FolderEventLog:
    """Adds to ``log.jsonl`` of one case folder; implements `workflows.ports.EventLog`.

    Parameters
    ----------
    folder : Path
    sha256 : str or None
        Hash of the log that the caller has read; None when there was none. Anything else found in its place is a
        conflict.
    """

    def __init__(self, folder: Path, *, sha256: str | None) -> None:
        self._path = folder / "log.jsonl"
        self._known = sha256

    def append(self, *events: Event) -> None:
        """Add events as whole lines and wait until they are on the disk.

        A log whose last line lacks its end is given it first.

        Raises
        ------
        ConflictError
            The file is not the one that was read.
        RecordError
            It cannot be written; what was half written is taken back.
        """
        if not events:
            return
        data = events_to_jsonl(events)
        data = data if data.endswith(b"\n") else data + b"\n"
        try:
            with self._locked() as handle:
                before = _read_all(handle)
                self._require_known(before)
                if before and not before.endswith(b"\n"):
                    data = b"\n" + data
                _write_all(handle, data, undo_to=len(before))
                self._known = hashlib.sha256(before + data).hexdigest()
            _sync_folder(self._path.parent)
        except OSError as error:
            raise RecordError(
                f"{self._path.name} cannot be written ({error.strerror})",
                hint="check space and rights of the case folder",
            ) from error

    def _require_known(self, before: bytes) -> None:
        found = hashlib.sha256(before).hexdigest()
        if self._known is None and not before:
            return
        if found != self._known:
            raise ConflictError(
                f"{self._path.name} was changed by somebody else", hint="read the case again; nothing was written"
            )

    @contextmanager
    def _locked(self) -> Iterator[int]:
        handle = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield handle
        finally:
            os.close(handle)


def _read_all(handle: int) -> bytes:
    size = os.fstat(handle).st_size
    data = b""
    while len(data) < size:
        part = os.pread(handle, size - len(data), len(data))
        if not part:
            break
        data += part
    return data


def _write_all(handle: int, data: bytes, *, undo_to: int) -> None:
    written = 0
    try:
        while written < len(data):
            written += os.write(handle, data[written:])
        os.fsync(handle)
    except OSError:
        os.ftruncate(handle, undo_to)
        raise


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
