"""Scans and photos as files named by their SHA-256: whole or absent, kept once, verified whenever they are read.

Owns the folder ``files/``: ``ab/abcdef...`` for what is kept, ``.partial/`` for what is being written. Each writer
holds a lock on its partial file, so that what an interrupted writer left can be told and cleared safely.
"""

import fcntl
import hashlib
import os
import secrets
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from seatwright.errors import RecordError
from seatwright.record._durable import sync_folder
from seatwright.record._left_behind import take_left_behind

__all__ = ["Arriving", "FileStore"]

_HINT = "restore it from a backup: `seatwright record verify` names every file concerned"


class Arriving:
    """A file that comes in piece by piece; it is kept whole, or taken away. What a dead process left is cleared."""

    def __init__(self, path: Path, descriptor: int) -> None:
        self.path = path
        self.n_bytes = 0
        self._descriptor = descriptor
        self._digest = hashlib.sha256()

    @property
    def sha256(self) -> str:
        """Of what came in so far."""
        return self._digest.hexdigest()

    def write(self, piece: bytes) -> None:
        """Add a piece."""
        view = memoryview(piece)
        while view:
            view = view[os.write(self._descriptor, view) :]
        self.n_bytes += len(piece)
        self._digest.update(piece)

    def discard(self) -> None:
        """Take it away; a file that was kept meanwhile stays kept."""
        if self._descriptor >= 0:
            self.path.unlink(missing_ok=True)
            os.close(self._descriptor)
            self._descriptor = -1

    def settle(self) -> None:
        """Make sure that all of it is on the disk."""
        os.fsync(self._descriptor)


class FileStore:
    """Content-addressed files below one folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._partial = folder / ".partial"

    def create(self) -> None:
        """Make the folders."""
        self._partial.mkdir(parents=True, exist_ok=True)
        sync_folder(self._folder)
        sync_folder(self._folder.parent)

    def path_of(self, sha256: str) -> Path:
        """Return where a file is kept."""
        return self._folder / sha256[:2] / sha256

    def keep(self, data: bytes) -> str:
        """Put bytes on the disk and return their SHA-256; once this returns they are there to stay.

        What is kept already is not written again, unless it was damaged: then the sound bytes replace it.
        """
        sha256 = hashlib.sha256(data).hexdigest()
        target = self.path_of(sha256)
        if target.is_file() and self.damage_of(sha256, len(data)) is None:
            self._settle(target)
            return sha256
        with self._partial_file() as arriving:
            arriving.write(data)
            self._move_in(arriving, target)
        return sha256

    def receive(self) -> Arriving:
        """Begin a file whose bytes come later; its holder keeps or discards it."""
        self._partial.mkdir(exist_ok=True)
        while True:
            path = self._partial / secrets.token_hex(12)
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o644)
            fcntl.flock(descriptor, fcntl.LOCK_EX)
            if path.exists():  # else somebody cleared it between the two calls
                return Arriving(path, descriptor)
            os.close(descriptor)

    def keep_arrived(self, arriving: Arriving) -> str:
        """Keep a file that has come in whole, as it stands on the disk, and return its SHA-256."""
        arriving.settle()
        with arriving.path.open("rb") as handle:
            sha256 = hashlib.file_digest(handle, "sha256").hexdigest()
        if sha256 != arriving.sha256:
            raise RecordError("a file changed on the disk while it came in", hint="bring it again")
        target = self.path_of(sha256)
        if target.is_file() and self.damage_of(sha256, arriving.n_bytes) is None:
            self._settle(target)
        else:
            self._move_in(arriving, target)
        arriving.discard()
        return sha256

    def read(self, sha256: str, n_bytes: int | None = None) -> bytes:
        """Return a kept file's bytes, verified by their SHA-256.

        Raises
        ------
        RecordError
            It is not there, or is not what was kept.
        """
        path = self.path_of(sha256)
        try:
            data = path.read_bytes()
        except FileNotFoundError as error:
            raise RecordError(f"file {sha256[:12]} is missing from the record", hint=_HINT) from error
        if n_bytes not in (None, len(data)) or hashlib.sha256(data).hexdigest() != sha256:
            raise RecordError(
                f"file {sha256[:12]} is damaged: its content is not what was kept",
                hint=_HINT,
                details={"sha256": sha256, "n_bytes": n_bytes, "n_bytes_found": len(data)},
            )
        return data

    def damage_of(self, sha256: str, n_bytes: int) -> str | None:
        """Return what is wrong with a kept file, read in pieces; None when it is sound."""
        path = self.path_of(sha256)
        try:
            with path.open("rb") as handle:
                size = os.fstat(handle.fileno()).st_size
                if size != n_bytes:
                    return f"has {size} bytes instead of {n_bytes}"
                found = hashlib.file_digest(handle, "sha256").hexdigest()
        except FileNotFoundError:
            return "is missing"
        except OSError as error:
            return f"cannot be read ({error.strerror})"
        return None if found == sha256 else "is not what was kept: its content changed"

    def names(self) -> Iterator[str]:
        """Yield the SHA-256 of every kept file, in order."""
        for folder in sorted(p for p in self._folder.iterdir() if p.is_dir() and len(p.name) == 2):
            yield from sorted(p.name for p in folder.iterdir() if p.is_file())

    def drop_unused(self, used: Collection[str], *, before: datetime) -> tuple[int, int]:
        """Remove kept files that are not `used` and were last kept before a moment; return how many, and bytes.

        The caller makes sure that nobody comes to use them meanwhile.
        """
        n_dropped, n_bytes = 0, 0
        for name in list(self.names()):
            path = self.path_of(name)
            known = path.stat()
            if name not in used and known.st_mtime < before.timestamp():
                path.unlink()
                n_dropped, n_bytes = n_dropped + 1, n_bytes + known.st_size
        return n_dropped, n_bytes

    def clear_partial(self) -> int:
        """Remove what interrupted writers left; return how many. A file that is being written is let alone."""
        n_cleared = 0
        for path in take_left_behind(self._partial.glob("*")):
            path.unlink(missing_ok=True)
            n_cleared += 1
        return n_cleared

    def _settle(self, target: Path) -> None:
        """Make sure that a file which is there already is on the disk, and seen as new, before it is relied on."""
        os.utime(target)
        with target.open("rb") as handle:
            os.fsync(handle.fileno())
        sync_folder(target.parent)
        sync_folder(self._folder)

    def _move_in(self, arriving: Arriving, target: Path) -> None:
        target.parent.mkdir(exist_ok=True)
        arriving.settle()
        arriving.path.replace(target)
        sync_folder(target.parent)
        sync_folder(self._folder)

    @contextmanager
    def _partial_file(self) -> Iterator[Arriving]:
        arriving = self.receive()
        try:
            yield arriving
        finally:
            arriving.discard()
