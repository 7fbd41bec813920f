"""Keys from the terminal, one at a time, without waiting for Enter."""

import codecs
import os
import re
import select
import signal
import sys
import termios
import tty
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NoReturn, Protocol

__all__ = ["KeySource", "TerminalKeys", "terminal_keys"]

_AT_ONCE = 1024
_SEQUENCE = re.compile("\x1b(\\[[0-?]*[ -/]*[@-~]|O.|.)?")
"""An arrow key sends several characters after an escape: none of them was meant."""


class KeySource(Protocol):
    """Where keys come from: a terminal, or a list in a test."""

    def read(self, timeout_s: float) -> str | None:
        """Return the next key, or None when none came in time."""
        ...


class TerminalKeys:
    """Reads single keys from a terminal's descriptor; arrow and function keys are no keys here.

    Parameters
    ----------
    handle : int
        Descriptor of the terminal.
    """

    def __init__(self, handle: int) -> None:
        self._handle = handle
        self._decode = codecs.getincrementaldecoder("utf-8")(errors="ignore").decode
        self._waiting: deque[str] = deque()

    def read(self, timeout_s: float) -> str | None:
        """Return the next key, or None when none came in time; an input that ended reads as ``q``."""
        if self._waiting:
            return self._waiting.popleft()
        ready, _, _ = select.select([self._handle], [], [], timeout_s)
        if not ready:
            return None
        try:
            came = os.read(self._handle, _AT_ONCE)
        except OSError:  # the terminal is gone
            return "q"
        if not came:
            return "q"
        self._waiting.extend(_SEQUENCE.sub("", self._decode(came)))
        return self._waiting.popleft() if self._waiting else None


@contextmanager
def terminal_keys() -> Iterator[TerminalKeys]:
    """Take keys without Enter, and give the terminal back as it was, also when asked from outside to end."""
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    asked = {number: signal.signal(number, _end) for number in (signal.SIGTERM, signal.SIGHUP)}
    try:
        tty.setcbreak(handle)
        yield TerminalKeys(handle)
    finally:
        termios.tcsetattr(handle, termios.TCSADRAIN, before)
        for number, handler in asked.items():
            signal.signal(number, handler)


def _end(number: int, _frame: object) -> NoReturn:
    raise SystemExit(128 + number)
