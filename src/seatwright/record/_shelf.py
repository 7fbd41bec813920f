"""Where a server keeps what it computed: on the disk beside the record, gone with the server.

Owns the folder ``computed/``: below it one folder a server, and beside each a file that its server holds a lock on, so
that what a killed server left can be told and cleared safely. Nothing of it is part of the record.
"""

import fcntl
import os
import secrets
import shutil
import threading
from pathlib import Path

from seatwright.record._left_behind import take_left_behind

__all__ = ["Shelf"]

_FOLDER = "computed"


class Shelf:
    """One server's folder of results; made when something is first put there.

    Parameters
    ----------
    record : Path
        Folder of the practice record.
    """

    def __init__(self, record: Path) -> None:
        self._root = record / _FOLDER
        self._folder: Path | None = None
        self._held = -1
        self._making = threading.Lock()

    def make_place(self) -> Path:
        """Return a new folder for the results of one beginning; what dead servers left is cleared before the first."""
        with self._making:
            if self._folder is None:
                self._root.mkdir(exist_ok=True)
                self.clear_left()
                self._folder = self._claim()
        place = self._folder / secrets.token_hex(6)
        place.mkdir()
        return place

    def drop(self, place: Path) -> None:
        """Take a folder away; one that is gone already is no error."""
        shutil.rmtree(place, ignore_errors=True)

    def close(self) -> None:
        """Take everything away that this server put there."""
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)
            self._folder.with_suffix(".lock").unlink(missing_ok=True)
            os.close(self._held)
            self._folder = None

    def clear_left(self) -> int:
        """Remove what killed servers left; return of how many. A running server's folder is let alone."""
        n_cleared = 0
        for lock in take_left_behind(self._root.glob("*.lock")):
            shutil.rmtree(lock.with_suffix(""), ignore_errors=True)
            lock.unlink(missing_ok=True)
            n_cleared += 1
        return n_cleared

    def _claim(self) -> Path:
        while True:
            folder = self._root / secrets.token_hex(6)
            lock = folder.with_suffix(".lock")
            self._held = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
            fcntl.flock(self._held, fcntl.LOCK_EX)
            if lock.exists():  # else somebody cleared it between the two calls
                folder.mkdir(mode=0o700)
                return folder
            os.close(self._held)
