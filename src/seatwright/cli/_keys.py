"""Keys from the terminal, one at a time, without waiting for Enter; and a clock that can begin at another time."""

import select
import sys
import termios
import tty
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Protocol

from seatwright.workflows.ports import Clock

__all__ = ["KeySource", "ShiftedClock", "TerminalKeys", "terminal_keys"]


class KeySource(Protocol):
    """Where keys come from: a terminal, or a list in a test."""

    def read(self, timeout_s: float) -> str | None:
        """Return the next key, or None when none came in time."""
        ...


class TerminalKeys:
    """Reads single keys from standard input."""

    def read(self, timeout_s: float) -> str | None:
        """Return the next key, or None when none came in time; an input that ended reads as ``q``."""
        ready, _, _ = select.select([sys.stdin], [], [], timeout_s)
        if not ready:
            return None
        return sys.stdin.read(1) or "q"


@contextmanager
def terminal_keys() -> Iterator[TerminalKeys]:
    """Take keys without Enter, and give the terminal back as it was."""
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    try:
        tty.setcbreak(handle)
        yield TerminalKeys()
    finally:
        termios.tcsetattr(handle, termios.TCSADRAIN, before)


class ShiftedClock:
    """A clock that runs as fast as another one, but began at a stated moment."""

    def __init__(self, clock: Clock, start: datetime | None) -> None:
        self._clock = clock
        self._shift = timedelta(0) if start is None else start - clock.now()

    def now(self) -> datetime:
        """Return the present moment of this clock."""
        return self._clock.now() + self._shift
