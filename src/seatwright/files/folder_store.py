"""Writes a folder whole or not at all, and replaces only what this tool wrote before. Knows nothing of its content.

The files go into a hidden sibling first, are flushed to the disk, and take the folder's name by a rename. What a
manifest with hashes does not vouch for is somebody else's work and is never replaced.
"""

import hashlib
import json
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from seatwright.case import path_fault
from seatwright.errors import ConflictError, InputError, RecordError

__all__ = ["MANIFEST_NAME", "FolderFiles", "read_manifest"]

MANIFEST_NAME = ".seatwright-manifest.json"
_SCHEMA = "seatwright/folder/1"
_LEFT_BY_DESKTOPS = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})  # common practice: shown folders gather them
_TOKEN_BYTES = 6  # judgement: two runs never draw the same
_MAX_MANIFEST_BYTES = 4_000_000  # judgement: some 100 bytes a file


class FolderFiles:
    """Folders under one root; implements `workflows.ports.FolderStore`."""

    def __init__(self, root: Path) -> None:
        self._root = root

    def require_free(self, name: str) -> None:
        """Raise `ConflictError` when the folder `name` holds what this tool did not write; see `write_whole`."""
        _check_names(name, {})
        target = self._root / name
        with _told(target):
            _refuse_foreign(target)

    def write_whole(self, name: str, files: Mapping[str, bytes]) -> str:
        """Write all files under the folder `name`, replacing what this tool wrote there before; return its path.

        Parameters
        ----------
        name : str
            Folder below the root, with forward slashes.
        files : mapping from str to bytes
            Paths below the folder, with forward slashes, and their content.

        Raises
        ------
        ConflictError
            If the folder holds anything that this tool did not write, or that was changed since.
        InputError
            If a name leaves the folder, or the place cannot be written to.
        RecordError
            If the disk fails or is full. Nothing is left half-written.
        """
        _check_names(name, files)
        target = self._root / name
        with _told(target):
            target.parent.mkdir(parents=True, exist_ok=True)
            with _locked(target.parent):
                _recover(target)
                _refuse_foreign(target)
                _replace(target, {**files, MANIFEST_NAME: _manifest(files)})
        return str(target)


@contextmanager
def _told(target: Path) -> Iterator[None]:
    """Turn what the system refuses into an error that a person can act on."""
    try:
        yield
    except (PermissionError, NotADirectoryError, FileExistsError) as error:
        raise InputError(
            f"cannot write {target}: {error.strerror}", hint="choose a folder that you may write to"
        ) from error
    except OSError as error:
        raise RecordError(
            f"writing {target} failed: {error.strerror}",
            hint="free some space or check the disk; nothing was changed",
        ) from error


def _check_names(name: str, files: Mapping[str, bytes]) -> None:
    for path in (name, *files):
        if wrong := path_fault(path):
            raise InputError(f"path {path!r} {wrong}", hint="name a place inside the folder")
    folded = [path.casefold() for path in files]
    if len(set(folded)) < len(folded) or MANIFEST_NAME in folded:
        raise InputError("two files would share one name", hint="names that differ by case alone are one on some disks")
    folders = {parent.as_posix().casefold() for path in files for parent in PurePosixPath(path).parents}
    if folders & {*folded, MANIFEST_NAME}:
        raise InputError("a file and a folder would share one name", hint="name them apart")


def _manifest(files: Mapping[str, bytes]) -> bytes:
    hashes = {path: hashlib.sha256(data).hexdigest() for path, data in sorted(files.items())}
    return (json.dumps({"schema": _SCHEMA, "files": hashes}, indent=1) + "\n").encode()


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold the folder for one writer at a time, where the system offers it."""
    try:
        import fcntl  # noqa: PLC0415 - absent on some systems
    except ImportError:
        yield
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def _leftovers(target: Path, kind: str) -> list[Path]:
    """Return what interrupted runs left beside a folder, the newest first."""
    name = re.compile(rf"\.{re.escape(target.name)}\.[0-9a-f]{{{2 * _TOKEN_BYTES}}}\.{kind}")
    found = [p for p in target.parent.iterdir() if name.fullmatch(p.name) and p.is_dir() and not p.is_symlink()]
    return sorted(found, key=lambda p: p.stat().st_mtime, reverse=True)


def _recover(target: Path) -> None:
    """Clear what an interrupted run left; put the earlier folder back if it was interrupted between two renames."""
    for earlier in _leftovers(target, "earlier"):
        if not target.exists():
            earlier.rename(target)
        else:
            shutil.rmtree(earlier)
    for partial in _leftovers(target, "partial"):
        shutil.rmtree(partial)


def _refuse_foreign(target: Path) -> None:
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise ConflictError(f"{target} exists and is no folder", hint="choose another place, or move it away")
    if not target.exists() or not any(target.iterdir()):
        return
    foreign = _foreign_file(target)
    if foreign is not None:
        raise ConflictError(
            f"{target} holds {foreign}, which is not as this tool wrote it",
            hint="choose another folder, or move that one away; nothing was changed",
            details={"folder": str(target), "file": foreign},
        )


def _foreign_file(folder: Path) -> str | None:
    """Return a file that the folder's manifest does not vouch for; None when it vouches for all."""
    vouched = read_manifest(folder)
    if vouched is None:
        return next(iter(sorted(p.name for p in folder.iterdir() if p.name not in _LEFT_BY_DESKTOPS)), None)
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            return name
        if path.is_dir() or path.name in _LEFT_BY_DESKTOPS or name == MANIFEST_NAME:
            continue
        if name not in vouched or not path.is_file() or _hash(path) != vouched[name]:
            return name
    return None


def _hash(path: Path) -> str:
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def read_manifest(folder: Path) -> dict[str, str] | None:
    """Return the hashes that the folder was written with; None when this tool did not write it."""
    path = folder / MANIFEST_NAME
    if not path.is_file() or path.is_symlink() or path.stat().st_size > _MAX_MANIFEST_BYTES:
        return None
    try:
        data = json.loads(path.read_bytes())
    except (ValueError, RecursionError):
        return None
    files = data.get("files") if isinstance(data, dict) and data.get("schema") == _SCHEMA else None
    return {str(k): str(v) for k, v in files.items()} if isinstance(files, dict) else None


def _replace(target: Path, files: Mapping[str, bytes]) -> None:
    token = secrets.token_hex(_TOKEN_BYTES)
    partial = target.with_name(f".{target.name}.{token}.partial")
    earlier = target.with_name(f".{target.name}.{token}.earlier")
    try:
        _write_all(partial, files)
        if target.exists():
            target.rename(earlier)
        try:
            partial.rename(target)
        except BaseException:
            if earlier.exists():
                earlier.rename(target)
            raise
    finally:
        if partial.exists():
            shutil.rmtree(partial)
    _sync(target.parent)
    shutil.rmtree(earlier, ignore_errors=True)  # the new folder is in place; the next run clears a rest


def _write_all(folder: Path, files: Mapping[str, bytes]) -> None:
    folder.mkdir()
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
    for inner in (folder, *(p for p in folder.rglob("*") if p.is_dir())):
        _sync(inner)


def _sync(folder: Path) -> None:
    """Flush a folder's entries to the disk; a system that cannot open folders does so by itself."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except PermissionError:  # pragma: no cover - only where folders cannot be opened
        return
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
