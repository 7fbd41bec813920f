"""Starts the bench page and says where it is."""

import sys
from pathlib import Path

from seatwright import wiring
from seatwright.cli._commands import parse_now
from seatwright.cli._keys import ShiftedClock
from seatwright.errors import InputError
from seatwright.web import LOOPBACK, ServeSettings, serve

__all__ = ["run_serve"]


def run_serve(data: Path, *, host: str, port: int, workers: int, memory_mib: float, now: str | None) -> int:
    """Run `seatwright serve` until it is stopped."""
    if host not in (LOOPBACK, "localhost", "::1"):
        raise InputError(
            f"--host {host} would let other machines in, and nobody signs in here",
            hint="leave --host away, so that only this machine reaches the page",
        )
    settings = ServeSettings(data=data, host=host, port=port, workers=workers, memory_mib=memory_mib)
    sys.stderr.write(f"The bench page is at http://{host}:{port}/ (record: {data}). Stop it with Ctrl-C.\n")
    serve(settings, clock=ShiftedClock(wiring.SystemClock(), parse_now(now)))
    return 0
