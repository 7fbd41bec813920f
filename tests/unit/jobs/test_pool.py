"""Long work in other processes: it ends, fails, stops or dies, and says which."""

import threading
from collections.abc import Iterator
from dataclasses import replace

import pytest

from seatwright.errors import Cancelled, CannotCompute
from seatwright.jobs import JobState, JobView, WorkerPool

TASKS = "tests.unit.jobs.tasks"
PATIENCE_S = 60.0


class Watcher:
    def __init__(self) -> None:
        self.seen: list[JobView] = []
        self.over = threading.Event()
        self.running = threading.Event()

    def __call__(self, view: JobView) -> None:
        self.seen.append(view)
        if view.fraction > 0:
            self.running.set()
        if view.state.is_over:
            self.over.set()

    @property
    def last(self) -> JobView:
        assert self.over.wait(PATIENCE_S), self.seen[-1:]
        return self.seen[-1]


@pytest.fixture(scope="module")
def pool() -> Iterator[WorkerPool]:
    made = WorkerPool(n_workers=1, memory_limit_mib=400.0)
    yield made
    made.close()


def _run(pool: WorkerPool, task: str, value: object = None) -> JobView:
    watch = Watcher()
    pool.submit(f"{TASKS}:{task}", value, on_change=watch)
    return watch.last


def test_a_task_tells_its_progress_and_returns_its_result(pool: WorkerPool):
    watch = Watcher()
    job = pool.submit(f"{TASKS}:double", 21, on_change=watch)
    assert watch.last.result == 42
    assert pool.view(job) == replace(watch.last, result=None)
    assert [v.state for v in watch.seen] == [JobState.RUNNING, JobState.RUNNING, JobState.DONE]
    assert "half way" in [v.what for v in watch.seen]


def test_a_deliberate_error_arrives_whole(pool: WorkerPool):
    view = _run(pool, "refuse", "too little overlap")
    assert view.state is JobState.FAILED
    assert isinstance(view.error, CannotCompute)
    assert (view.error.message, view.error.hint, view.error.details) == ("too little overlap", "give more", {"n": 3})


def test_a_bug_is_called_one_and_the_worker_lives_on(pool: WorkerPool):
    before = _run(pool, "own_process").result
    view = _run(pool, "stumble")
    assert view.state is JobState.FAILED
    assert "ZeroDivisionError: oh" in view.error.message
    assert _run(pool, "own_process").result == before


def test_a_process_that_dies_is_told_and_replaced(pool: WorkerPool):
    before = _run(pool, "own_process").result
    view = _run(pool, "die")
    assert view.state is JobState.FAILED
    assert view.error.details == {"exit": -9}
    assert _run(pool, "own_process").result != before


def test_a_task_that_eats_memory_is_ended_with_the_limit_named(pool: WorkerPool):
    view = _run(pool, "eat", 400)
    assert view.state is JobState.FAILED
    assert "400 MiB" in view.error.message
    assert _run(pool, "double", 1).result == 2


def test_a_sudden_claim_on_memory_is_refused_by_the_system_and_told_alike(pool: WorkerPool):
    before = _run(pool, "own_process").result
    view = _run(pool, "claim", 8 * 1024**3)
    assert view.state is JobState.FAILED
    assert "400 MiB" in view.error.message
    assert _run(pool, "own_process").result == before


def test_a_task_that_takes_too_long_is_ended_with_the_limit_named(pool: WorkerPool):
    watch = Watcher()
    pool.submit(f"{TASKS}:sleep_deaf", 600.0, on_change=watch, time_limit_s=0.5)
    assert watch.last.state is JobState.FAILED
    assert "0.5 s" in watch.last.error.message
    watch = Watcher()
    pool.submit(f"{TASKS}:double", 4, on_change=watch, time_limit_s=60.0)
    assert watch.last.result == 8


def test_a_listening_task_stops_and_keeps_its_process(pool: WorkerPool):
    before = _run(pool, "own_process").result
    watch = Watcher()
    job = pool.submit(f"{TASKS}:count_until_stopped", None, on_change=watch)
    assert watch.running.wait(PATIENCE_S)
    pool.cancel(job)
    assert watch.last.state is JobState.CANCELLED
    assert isinstance(watch.last.error, Cancelled)
    assert _run(pool, "own_process").result == before


def test_a_deaf_task_is_ended_with_its_process(pool: WorkerPool):
    before = _run(pool, "own_process").result
    watch = Watcher()
    job = pool.submit(f"{TASKS}:sleep_deaf", 600.0, on_change=watch)
    assert watch.running.wait(PATIENCE_S)
    pool.cancel(job)
    pool.cancel(job)  # twice is once
    assert watch.last.state is JobState.CANCELLED
    assert _run(pool, "own_process").result != before


def test_a_waiting_task_is_cancelled_without_being_begun(pool: WorkerPool):
    first, second = Watcher(), Watcher()
    busy = pool.submit(f"{TASKS}:count_until_stopped", None, on_change=first)
    waiting = pool.submit(f"{TASKS}:double", 1, on_change=second)
    pool.cancel(waiting)
    assert [v.state for v in second.seen] == [JobState.CANCELLED]
    pool.cancel(busy)
    assert first.last.state is JobState.CANCELLED


def test_closing_ends_what_runs_and_refuses_more():
    pool = WorkerPool(n_workers=1)
    watch = Watcher()
    pool.submit(f"{TASKS}:count_until_stopped", None, on_change=watch)
    assert watch.running.wait(PATIENCE_S)
    pool.close()
    assert watch.last.state is JobState.CANCELLED
    with pytest.raises(CannotCompute):
        pool.submit(f"{TASKS}:double", 1)


def test_an_unknown_job_is_a_key_error(pool: WorkerPool):
    with pytest.raises(KeyError):
        pool.view("job-0")
