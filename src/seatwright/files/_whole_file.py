"""One file written whole or not at all."""

import os
import tempfile
from pathlib import Path

from seatwright.errors import ConflictError, InputError

__all__ = ["write_file_whole"]


def write_file_whole(path: Path, data: bytes, *, may_replace: bool) -> None:
    """Write a file through a temporary one beside it.

    Raises
    ------
    ConflictError
        If it is there already and may not be replaced.
    InputError
        If the place cannot be written to.
    """
    if path.exists() and not may_replace:
        raise ConflictError(f"{path.name} is there already", hint="choose another name, or remove it first")
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            Path(temporary).chmod(0o644)
            Path(temporary).replace(path)
        except OSError:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise InputError(
            f"{path} cannot be written ({error.strerror or error})", hint="check folder and name"
        ) from error
