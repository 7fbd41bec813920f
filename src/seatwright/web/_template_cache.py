"""Templates that were compiled before, kept with this machine's user: half of what the first page itself takes."""

import os

from jinja2 import FileSystemBytecodeCache

from seatwright import wiring

__all__ = ["template_cache"]


def template_cache() -> FileSystemBytecodeCache | None:
    """Return the user's cache, which goes by what a template says; None where none can be kept."""
    folder = wiring.user_cache() / "templates"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        is_own = folder.stat().st_uid == os.getuid() and os.access(folder, os.W_OK)
    except OSError:
        return None
    return FileSystemBytecodeCache(str(folder)) if is_own else None  # compiled code is taken from nobody else
