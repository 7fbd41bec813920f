"""Reading a plain file whose size is known before anything is allocated."""

from pathlib import Path

from seatwright.errors import InputError

__all__ = ["LARGEST_BYTES", "read_limited"]

LARGEST_BYTES = 2 * 1024**3  # judgement: some 40 million triangles, far beyond any scan of an arch


def read_limited(path: Path, limit: int) -> bytes:
    """Read a plain file of at most so many bytes; its size is known before anything is allocated."""
    if not path.exists():
        raise InputError("is missing", hint="put it there; the example written by `seatwright demo` shows one")
    if not path.is_file():
        raise InputError("is no plain file", hint="put the file itself there")
    try:
        size = path.stat().st_size
        if size > limit:
            raise InputError(f"is {size} bytes; at most {limit} are read", hint="check that it is the right file")
        with path.open("rb") as handle:
            data = handle.read(limit + 1)
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", hint="check that the file may be read") from error
    if len(data) > limit:
        raise InputError(f"grew beyond {limit} bytes while it was read", hint="check that it is the right file")
    return data
