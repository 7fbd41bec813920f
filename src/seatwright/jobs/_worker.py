"""The child's side: takes one task after another from its pipe, tells how far it is, listens for a stop."""

import importlib
import os
import resource
import signal
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

from seatwright.errors import SeatwrightError
from seatwright.progress import Progress

__all__ = ["Answer", "Order", "Step", "run_worker"]

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True, slots=True)
class Order:
    """What a worker is asked to do."""

    job_id: str
    task: str
    value: Any


@dataclass(frozen=True, slots=True)
class Step:
    """How far a running task is."""

    job_id: str
    fraction: float
    what: str


@dataclass(frozen=True, slots=True)
class Answer:
    """How a task ended; exactly one of these is meant."""

    job_id: str
    result: Any = None
    error: SeatwrightError | None = None
    bug: str = ""
    out_of_memory: bool = False


def run_worker(pipe: Connection, kernel_threads: int, heap_bytes: int) -> None:
    """Serve orders until the pipe closes; each message ``None`` sent meanwhile means stop the present task.

    `heap_bytes` is what the system itself refuses to go beyond, for the moment between two looks of the parent.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides who stops
    resource.setrlimit(resource.RLIMIT_DATA, (heap_bytes, heap_bytes))
    for name in _ONE_THREAD:
        os.environ[name] = "1"
    os.environ["NUMBA_NUM_THREADS"] = str(kernel_threads)
    while True:
        try:
            order = pipe.recv()
        except (EOFError, OSError):
            return
        if order is None:
            continue  # a stop that came after the task had ended is nobody's
        try:
            pipe.send(_carry_out(order, pipe))
        except BrokenPipeError:
            return  # whoever asked is gone


def _carry_out(order: Order, pipe: Connection) -> Answer:
    def asked_to_stop() -> bool:
        return pipe.poll() and pipe.recv() is None

    def tell(fraction: float, what: str) -> None:
        pipe.send(Step(order.job_id, fraction, what))

    try:
        result = find_task(order.task)(order.value, Progress(on_progress=tell, should_stop=asked_to_stop))
        return Answer(order.job_id, result=result)
    except SeatwrightError as error:
        return Answer(order.job_id, error=error)
    except MemoryError:
        return Answer(order.job_id, out_of_memory=True)
    except Exception as error:  # the boundary of a process: told to the parent as a bug of ours
        return Answer(order.job_id, bug=f"{type(error).__name__}: {error}")


def find_task(place: str) -> Callable[[Any, Progress], Any]:
    """Return the function at ``package.module:function``."""
    module, _, name = place.partition(":")
    task: Callable[[Any, Progress], Any] = getattr(importlib.import_module(module), name)
    return task
