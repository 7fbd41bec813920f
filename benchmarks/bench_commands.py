"""Wall time and peak memory of the commands a person types: help, demo, cast.

Run: ``python benchmarks/bench_commands.py [n]``. Bars: help <= 0.2 s; demo after set-up <= 20 s and <= 1.2 GB.
Medians of n runs (default 3), after one run that fills the kernel cache. The peer for the start of the command line
is the interpreter alone.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SEATWRIGHT = [sys.executable, "-c", "from seatwright.cli import main; main()"]


def run(command: list[str]) -> tuple[float, float]:
    """Return seconds and the peak resident memory in MB of one command."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"{command} failed")
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def main(n: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        commands = {
            "interpreter alone": [sys.executable, "-c", "pass"],
            "seatwright --help": [*SEATWRIGHT, "--help"],
            "seatwright demo": [*SEATWRIGHT, "demo", "--out", str(out)],
            "seatwright cast": [*SEATWRIGHT, "cast", str(out / "case"), "--json"],
            "seatwright pour": [*SEATWRIGHT, "pour", str(out / "case"), "--json"],
        }
        run(commands["seatwright demo"])
        print(f"{'command':22}{'median s':>10}{'peak MB':>10}   (n = {n})")
        for name, command in commands.items():
            runs = [run(command) for _ in range(n)]
            print(f"{name:22}{statistics.median(s for s, _ in runs):10.2f}{max(mb for _, mb in runs):10.0f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
