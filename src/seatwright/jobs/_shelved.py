"""Results that a worker puts on the disk, so that the server holds where they are and no more.

A value that the next worker takes up again is believed only while its bytes are those that were put there.
"""

import hashlib
import pickle
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from seatwright import wiring
from seatwright.errors import RecordError

__all__ = ["Shelved", "shelve_files", "shelve_value", "take_value"]

_VALUE = "value"


@dataclass(frozen=True, slots=True)
class Shelved:
    """A value on the disk: its file, and the SHA-256 of its bytes."""

    path: Path
    sha256: str


def shelve_files(place: Path, name: str, files: Mapping[str, bytes]) -> Path:
    """Write files into a new folder below `place`, all or none, and return the folder."""
    return Path(wiring.folder_store(place).write_whole(f"{name}-{secrets.token_hex(6)}", files))


def shelve_value(place: Path, name: str, value: object) -> Shelved:
    """Put a value into a new folder below `place`."""
    data = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    return Shelved(shelve_files(place, name, {_VALUE: data}) / _VALUE, hashlib.sha256(data).hexdigest())


def take_value(shelved: Shelved) -> Any:
    """Return a value that was put on the disk.

    Raises
    ------
    RecordError
        It is gone, or is not what was put there.
    """
    try:
        data = shelved.path.read_bytes()
    except FileNotFoundError as error:
        raise RecordError("what was computed before is gone from the disk", hint="compute it again") from error
    if hashlib.sha256(data).hexdigest() != shelved.sha256:
        raise RecordError("what was computed before was changed on the disk", hint="compute it again")
    return pickle.loads(data)  # noqa: S301 - the very bytes that a worker of this server wrote, by their hash
