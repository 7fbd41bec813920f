"""Files whose owner is gone: told by the lock that a living process holds on its own."""

import fcntl
import os
from collections.abc import Iterable, Iterator
from pathlib import Path

__all__ = ["take_left_behind"]


def take_left_behind(paths: Iterable[Path]) -> Iterator[Path]:
    """Yield each file that no process holds a lock on, holding it meanwhile; others are passed over."""
    for path in sorted(paths):
        try:
            descriptor = os.open(path, os.O_RDWR)
        except FileNotFoundError:
            continue
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            continue
        else:
            yield path
        finally:
            os.close(descriptor)
