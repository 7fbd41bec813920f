"""The parent's side: a few workers, one thread each to listen to them, a watch on their memory."""

import contextlib
import itertools
import multiprocessing
import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

import psutil

from seatwright.errors import Cancelled, CannotCompute, SeatwrightError
from seatwright.jobs._job import JobState, JobView
from seatwright.jobs._worker import Answer, Order, Step, run_worker

__all__ = ["WorkerPool"]

_WATCH_S = 0.25  # judgement: a scan cannot fill gigabytes faster than a few of these
_GRACE_S = 2.0  # judgement: longest time between two reports of a task that means to stop
_HEADROOM_MIB = 1024.0  # judgement: libraries and what is reserved but not used; the watch has the tighter limit
_KEPT = 200  # judgement: ended jobs that a page may still ask for
_MEBI = 1024 * 1024

OnChange = Callable[[JobView], None]


@dataclass(slots=True)
class _Worker:
    """A process, the pipe to it, and the job it has in hand."""

    process: BaseProcess
    pipe: Connection
    job_id: str = ""
    killed: str = ""
    """Why we ended it ourselves; empty when it ended by itself."""


@dataclass(slots=True)
class _Entry:
    view: JobView
    order: Order | None
    """What is asked; None once a worker has it."""
    on_change: OnChange
    time_limit_s: float | None = None
    stop_asked: bool = False
    timers: list[threading.Timer] = field(default_factory=list)


class WorkerPool:
    """Runs tasks in spawned processes; a task that dies, hangs or eats memory takes nothing else with it.

    Parameters
    ----------
    n_workers : int
        Processes that work at once; each starts when first needed.
    memory_limit_mib : float
        Resident memory at which a worker is ended, MiB.
    kernel_threads : int
        Threads that compiled kernels may use in one worker.
    """

    def __init__(self, *, n_workers: int = 2, memory_limit_mib: float = 3072.0, kernel_threads: int = 1) -> None:
        self._context = multiprocessing.get_context("spawn")
        self._n_workers, self._limit, self._threads = n_workers, memory_limit_mib * _MEBI, kernel_threads
        self._lock = threading.RLock()
        self._workers: list[_Worker] = []
        self._waiting: deque[str] = deque()
        self._jobs: OrderedDict[str, _Entry] = OrderedDict()
        self._numbers = itertools.count(1)
        self._closed = threading.Event()
        threading.Thread(target=self._watch_memory, name="worker-memory", daemon=True).start()

    def submit(
        self,
        task: str,
        value: object,
        *,
        on_change: OnChange = lambda _view: None,
        time_limit_s: float | None = None,
    ) -> str:
        """Queue a task and return its id; `on_change` is called from a thread of the pool at each change.

        The result is told once, to `on_change`.

        A task that still runs `time_limit_s` after it began is ended with its process.
        """
        with self._lock:
            if self._closed.is_set():
                raise CannotCompute("the workers are being shut down", hint="start the server again")
            job_id = f"job-{next(self._numbers)}"
            self._jobs[job_id] = _Entry(JobView(job_id, task), Order(job_id, task, value), on_change, time_limit_s)
            self._waiting.append(job_id)
            self._forget_old()
            self._hand_out()
        return job_id

    def view(self, job_id: str) -> JobView:
        """Return a job as it is now, without its result; KeyError when it is unknown or long over."""
        with self._lock:
            return self._jobs[job_id].view

    def cancel(self, job_id: str) -> None:
        """Ask a job to stop; a task that does not listen within two seconds is ended with its process."""
        with self._lock:
            entry = self._jobs[job_id]
            if entry.view.state is JobState.WAITING:
                self._waiting.remove(job_id)
                self._end(entry, JobState.CANCELLED, error=Cancelled("stopped before it began"))
            elif entry.view.state is JobState.RUNNING and not entry.stop_asked:
                entry.stop_asked = True
                worker = next(w for w in self._workers if w.job_id == job_id)
                _send(worker, None)
                self._kill_after(_GRACE_S, entry, worker, "cancelled")

    def close(self) -> None:
        """End every worker; jobs that are not over count as cancelled."""
        self._closed.set()
        with self._lock:
            self._waiting.clear()
            workers = list(self._workers)
            for entry in self._jobs.values():
                if not entry.view.state.is_over:
                    self._end(entry, JobState.CANCELLED, error=Cancelled("the server was shut down"))
        for worker in workers:
            worker.process.kill()
            worker.process.join()

    def _hand_out(self) -> None:
        while self._waiting:
            worker = next((w for w in self._workers if not w.job_id), None)
            if worker is None and len(self._workers) < self._n_workers:
                worker = self._start_worker()
            if worker is None:
                return
            entry = self._jobs[self._waiting.popleft()]
            worker.job_id = entry.view.id
            self._change(entry, state=JobState.RUNNING, what="starting")
            if entry.time_limit_s is not None:
                self._kill_after(entry.time_limit_s, entry, worker, "time")
            order, entry.order = entry.order, None
            _send(worker, order)

    def _start_worker(self) -> _Worker:
        ours, theirs = self._context.Pipe()
        heap = int(self._limit + _HEADROOM_MIB * _MEBI)
        process = self._context.Process(target=run_worker, args=(theirs, self._threads, heap), daemon=True)
        process.start()
        theirs.close()
        worker = _Worker(process, ours)
        self._workers.append(worker)
        threading.Thread(target=self._listen, args=(worker,), name=f"worker-{process.pid}", daemon=True).start()
        return worker

    def _listen(self, worker: _Worker) -> None:
        while True:
            try:
                message = worker.pipe.recv()
            except (EOFError, OSError):
                break
            with self._lock:
                if isinstance(message, Step):
                    self._step(message)
                elif isinstance(message, Answer):
                    worker.job_id = ""
                    self._answer(self._jobs[message.job_id], message)
                    self._hand_out()
        worker.process.join()
        with self._lock:
            self._workers.remove(worker)
            if worker.job_id and not self._jobs[worker.job_id].view.state.is_over:
                self._bury(self._jobs[worker.job_id], worker)
            if not self._closed.is_set():
                self._hand_out()

    def _step(self, step: Step) -> None:
        entry = self._jobs[step.job_id]
        if entry.view.state is JobState.RUNNING:
            self._change(entry, fraction=max(entry.view.fraction, min(step.fraction, 1.0)), what=step.what)

    def _answer(self, entry: _Entry, answer: Answer) -> None:
        if entry.view.state.is_over:
            return
        if isinstance(answer.error, Cancelled):
            self._end(entry, JobState.CANCELLED, error=answer.error)
        elif answer.error is not None:
            self._end(entry, JobState.FAILED, error=answer.error)
        elif answer.out_of_memory:
            self._end(entry, JobState.FAILED, error=self._too_large())
        elif answer.bug:
            error = SeatwrightError(f"a bug of ours: {answer.bug}", hint="please report it with the case")
            self._end(entry, JobState.FAILED, error=error)
        else:
            self._end(entry, JobState.DONE, fraction=1.0, what="done", result=answer.result)

    def _bury(self, entry: _Entry, worker: _Worker) -> None:
        """Say why the process that had this job in hand is gone."""
        if worker.killed == "cancelled":
            self._end(entry, JobState.CANCELLED, error=Cancelled("stopped as asked", hint="nothing was written"))
            return
        if worker.killed == "memory":
            error: SeatwrightError = self._too_large()
        elif worker.killed == "time":
            error = CannotCompute(
                f"this takes longer than the {entry.time_limit_s:g} s that it may take; nothing was written",
                hint="thin out the scan or cut away what is not needed, then try again",
            )
        else:
            code = worker.process.exitcode
            error = SeatwrightError(
                f"the process that did this ended by itself (exit {code}); nothing was written",
                hint="try again; when it happens twice, please report it with the case",
                details={"exit": code},
            )
        self._end(entry, JobState.FAILED, error=error)

    def _too_large(self) -> CannotCompute:
        return CannotCompute(
            f"this needs more than the {self._limit / _MEBI:.0f} MiB of memory that one job may take",
            hint="thin out the scan, cut away what is not needed, or raise the limit where the server is started",
        )

    def _kill_after(self, seconds: float, entry: _Entry, worker: _Worker, why: str) -> None:
        timer = threading.Timer(seconds, self._kill, (worker, entry.view.id, why))
        timer.daemon = True
        entry.timers.append(timer)
        timer.start()

    def _kill(self, worker: _Worker, job_id: str, why: str) -> None:
        with self._lock:
            if worker.job_id == job_id and worker.process.is_alive():
                worker.killed = why
                worker.process.kill()

    def _watch_memory(self) -> None:
        while not self._closed.wait(_WATCH_S):
            with self._lock:
                busy = [(w, w.job_id) for w in self._workers if w.job_id]
            for worker, job_id in busy:
                if _resident_bytes(worker.process) > self._limit:
                    self._kill(worker, job_id, "memory")

    def _change(self, entry: _Entry, **changed: object) -> None:
        entry.view = replace(entry.view, **changed)  # type: ignore[arg-type]  # fields by name, as callers state them
        entry.on_change(entry.view)

    def _end(self, entry: _Entry, state: JobState, **changed: object) -> None:
        for timer in entry.timers:
            timer.cancel()
        self._change(entry, state=state, **changed)
        entry.view = replace(
            entry.view, result=None
        )  # whoever asked has it; here it would be held for the next 200 jobs

    def _forget_old(self) -> None:
        over = [job_id for job_id, entry in self._jobs.items() if entry.view.state.is_over]
        for job_id in over[: max(0, len(over) - _KEPT)]:
            del self._jobs[job_id]


def _send(worker: _Worker, message: object) -> None:
    with contextlib.suppress(OSError):  # the process is gone: its listener hears that too, and tells the job
        worker.pipe.send(message)


def _resident_bytes(process: BaseProcess) -> int:
    try:
        return int(psutil.Process(process.pid).memory_info().rss)
    except psutil.Error:
        return 0  # gone already: its end is told by its pipe
