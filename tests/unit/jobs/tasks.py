"""Tasks for the pool's tests: they run in a worker process."""

import os
import signal
import time

from seatwright.errors import CannotCompute
from seatwright.progress import Progress


def double(value: int, progress: Progress) -> int:
    progress.report(0.5, "half way")
    return 2 * value


def refuse(value: str, progress: Progress) -> None:
    raise CannotCompute(value, hint="give more", details={"n": 3})


def stumble(value: object, progress: Progress) -> None:
    raise ZeroDivisionError("oh")


def die(value: object, progress: Progress) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def count_until_stopped(value: object, progress: Progress) -> None:
    for i in range(100_000):
        progress.report(i / 100_000, f"step {i}")
        time.sleep(0.005)


def sleep_deaf(value: float, progress: Progress) -> None:
    progress.report(0.1, "deaf")
    time.sleep(value)


def eat(value: int, progress: Progress) -> int:
    hoard = []
    for i in range(value):
        hoard.append(bytearray(os.urandom(1024)) * 1024 * 8)
        progress.report(i / value, "eating")
        time.sleep(0.02)
    return len(hoard)


def claim(value: int, progress: Progress) -> int:
    return len(bytearray(value))


def own_process(value: object, progress: Progress) -> int:
    return os.getpid()
