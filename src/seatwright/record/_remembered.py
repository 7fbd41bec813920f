"""What was measured on the record's scans, kept by their content beside the record: no part of it, and no loss.

A file a key, written whole. What cannot be read or written is measured again: that costs time and changes no number.
"""

import json
import math
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from seatwright.record._durable import write_durably

__all__ = ["ScanMemory"]

_MAX_BYTES = 10_000  # judgement: a few numbers


class ScanMemory:
    """Numbers under keys in one folder; implements `workflows.ports.Remembered`.

    Parameters
    ----------
    folder : Path
        Made when the first number is kept.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def recall(self, key: str) -> Mapping[str, float | None] | None:
        """Return the numbers kept under a key; None when there are none, or no finite ones."""
        path = self._path(key)
        try:
            if path.stat().st_size > _MAX_BYTES:
                return None
            found = json.loads(path.read_bytes())
        except (OSError, ValueError):
            return None
        if not isinstance(found, dict) or not all(map(_is_number, found.values())):
            return None
        return {str(name): None if value is None else float(value) for name, value in found.items()}

    def keep(self, key: str, numbers: Mapping[str, float | None]) -> None:
        """Keep numbers; a disk that refuses them leaves them to be measured again."""
        with suppress(OSError):
            self._folder.mkdir(exist_ok=True)
            write_durably(self._path(key), json.dumps(dict(numbers)).encode())

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.json"


def _is_number(value: object) -> bool:
    if value is None:
        return True
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
