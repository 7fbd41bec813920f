"""Bytes that are on the disk once a call returns: flushed, then renamed into place, then the folder flushed."""

import os
import secrets
from pathlib import Path

__all__ = ["sync_folder", "write_durably"]


def write_durably(path: Path, data: bytes) -> None:
    """Write a file whole or not at all; an existing one is replaced at once."""
    partial = path.with_name(f".{path.name}.{secrets.token_hex(6)}.partial")
    try:
        with partial.open("xb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        partial.replace(path)
    finally:
        partial.unlink(missing_ok=True)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Flush a folder's entries to the disk."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
