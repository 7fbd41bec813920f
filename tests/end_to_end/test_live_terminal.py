"""The live day at a real terminal: a child behind a pseudo-terminal, keys as bytes, the screen as it is drawn."""

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from tests.examples import demo_bench, demo_case, demo_events

from seatwright.cli._boundary import EXIT_INTERRUPTED
from seatwright.files import bench_to_toml, case_to_toml, events_to_jsonl, read_log

NOW = "2026-03-10T09:30:00Z"
PATIENCE_S = 180.0  # a busy machine is slow; a good one needs five seconds
CONTROL = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b.")
START = """
import fcntl, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)  # so that Ctrl-C reaches the child
from seatwright.cli import main
main()
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "case.toml").write_bytes(case_to_toml(demo_case(scan=(), region=())))
    (tmp_path / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
    (tmp_path / "log.jsonl").write_bytes(events_to_jsonl(demo_events()))
    return tmp_path


@dataclass
class Terminal:
    """The master side of a pseudo-terminal with a child on the other one."""

    master: int
    slave: int
    child: subprocess.Popen[bytes]
    seen: str = ""

    def resize(self, columns: int, rows: int) -> None:
        fcntl.ioctl(self.slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.child.send_signal(signal.SIGWINCH)

    def wait_for(self, words: str) -> str:
        """Return what was drawn since the last call, up to the first screen that holds the words."""
        until = time.monotonic() + PATIENCE_S
        shown = ""
        while words not in " ".join(shown.split()):
            ready, _, _ = select.select([self.master], [], [], max(until - time.monotonic(), 0.0))
            if not ready:
                raise AssertionError(f"{words!r} never came; the last that came: {shown[-2000:]!r}")
            try:
                self.seen += os.read(self.master, 65536).decode(errors="ignore")
            except OSError as gone:
                raise AssertionError(f"ended without {words!r}: {shown[-2000:]!r}") from gone
            shown = CONTROL.sub("", self.seen)
        self.seen = ""
        return shown

    def press(self, keys: str) -> None:
        os.write(self.master, keys.encode())


@contextmanager
def live_day(folder: Path, *, columns: int = 100, rows: int = 30) -> Iterator[Terminal]:
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "", "LINES": ""}
    child = subprocess.Popen(
        [sys.executable, "-c", START, "today", str(folder), "--now", NOW],
        stdin=slave, stdout=slave, stderr=slave, env=environment, start_new_session=True,
    )  # fmt: skip
    try:
        yield Terminal(master, slave, child)
    finally:
        if child.poll() is None:
            child.kill()
        child.wait()
        os.close(master)
        os.close(slave)


def logged(folder: Path) -> list[str]:
    events, _, faults = read_log((folder / "log.jsonl").read_bytes())
    assert faults == ()
    return [event.what for event in events[len(demo_events()) :]]


def test_day_at_a_terminal_from_the_first_touch_to_ctrl_c(folder: Path) -> None:
    with live_day(folder, columns=120, rows=40) as terminal:
        before = termios.tcgetattr(terminal.slave)
        first = terminal.wait_for("q leave")
        assert "Past its window" in first
        assert termios.tcgetattr(terminal.slave) != before
        terminal.press("\x1b[A")  # an arrow: were its letters read, it would put an impression into the humid box
        terminal.press("1")
        terminal.wait_for("Started:")
        assert set(logged(folder)) == {"step_started"}
        terminal.resize(50, 30)
        terminal.wait_for("1-9 start/done")
        terminal.press("-")
        terminal.wait_for("log the count")
        terminal.press("2222*\r")
        assert "Airway first" in terminal.wait_for("Counted, and logged as it is.")
        terminal.press("\x03")
        assert terminal.child.wait(PATIENCE_S) == EXIT_INTERRUPTED
        assert termios.tcgetattr(terminal.slave) == before
    assert logged(folder)[-1] == "crowns_counted"


def test_terminal_is_given_back_when_the_program_is_asked_to_end(folder: Path) -> None:
    with live_day(folder) as terminal:
        before = termios.tcgetattr(terminal.slave)
        terminal.wait_for("q leave")
        terminal.child.send_signal(signal.SIGTERM)
        assert terminal.child.wait(PATIENCE_S) == 128 + signal.SIGTERM
        assert termios.tcgetattr(terminal.slave) == before
    assert logged(folder) == []
