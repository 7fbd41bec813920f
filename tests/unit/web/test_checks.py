"""Works on a case: each by itself, the forecast after the cast check, the papers from what there is; a stop is clean."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from seatwright.errors import Cancelled, CannotCompute
from seatwright.jobs import JobState, JobView
from seatwright.jobs.tasks import DossierAnswer, PartAnswer, Shelved
from seatwright.web._checks import PAPERS, WORKS, Checks
from seatwright.web._hub import Hub
from seatwright.workflows.parts import Part

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
CASE = ("A-1", "content as it was")


class HandPool:
    """Takes work and lets the test say how it ends."""

    def __init__(self) -> None:
        self.is_shut = False
        self.orders: dict[str, Any] = {}
        self.listeners: dict[str, Any] = {}
        self.cancelled: list[str] = []

    def submit(self, task: str, value: Any, *, on_change: Any) -> str:
        if self.is_shut:
            raise CannotCompute("the workers are being shut down")
        work = PAPERS if task.endswith("compute_dossier") else value.part.value
        job = f"{work}-{len(self.orders)}"
        self.orders[job], self.listeners[job] = value, on_change
        return job

    def cancel(self, job: str) -> None:
        self.cancelled.append(job)
        self.end(job, JobState.CANCELLED, error=Cancelled("stopped as asked"))

    def end(self, job: str, state: JobState = JobState.DONE, **more: Any) -> None:
        self.listeners[job](JobView(job, "task", state, 1.0, **more))

    def finish(self, job: str) -> None:
        work, place = job.rsplit("-", 1)[0], self.orders[job].place
        folder = place / job
        folder.mkdir()
        answer = DossierAnswer(folder, {}, {}) if work == PAPERS else PartAnswer(Part(work), Shelved(folder, job))
        self.end(job, result=answer)

    def job_of(self, work: str) -> str:
        return [job for job in self.orders if job.startswith(work)][-1]


class Clock:
    def now(self) -> datetime:
        return NOW


@pytest.fixture
def pool() -> HandPool:
    return HandPool()


@pytest.fixture
def checks(tmp_path: Path, pool: HandPool) -> Checks:
    return Checks(tmp_path, pool, Hub(), Clock())  # type: ignore[arg-type]


def _states(checks: Checks) -> dict[str, str]:
    known = checks.known("A-1")
    assert known is not None
    return {work: view.state.value for work, view in known.works.items()}


def test_work_that_could_not_be_begun_is_begun_at_the_next_look(checks: Checks, pool: HandPool) -> None:
    pool.is_shut = True
    with pytest.raises(CannotCompute):
        checks.begin(*CASE)
    checks.cancel("A-1")
    assert checks.known("A-1") is None
    pool.is_shut = False
    assert checks.begin(*CASE).works["cast"].id == "cast-0"


def test_the_forecast_takes_the_cast_check_and_the_papers_take_everything(checks: Checks, pool: HandPool) -> None:
    checks.begin(*CASE)
    assert sorted(job.rsplit("-", 1)[0] for job in pool.orders) == ["cast", "survey", "timetable"]
    pool.finish("cast-0")
    assert pool.orders[pool.job_of("forecast")].parts["cast"].sha256 == "cast-0"
    for work in ("survey", "timetable", "forecast"):
        assert not [job for job in pool.orders if job.startswith(PAPERS)]
        pool.finish(pool.job_of(work))
    assert set(pool.orders[pool.job_of(PAPERS)].parts) == set(WORKS) - {PAPERS}
    pool.finish(pool.job_of(PAPERS))
    known = checks.begin(*CASE)
    assert known.is_done
    assert known.answer is not None
    assert known.answer.folder.is_dir()
    assert len(pool.orders) == len(WORKS)


def test_a_stopped_cast_check_stops_the_forecast_and_the_papers_say_what_is_missing(
    checks: Checks, pool: HandPool
) -> None:
    checks.begin(*CASE)
    checks.cancel("A-1", "cast")
    for work in ("survey", "timetable"):
        pool.finish(pool.job_of(work))
    assert pool.orders[pool.job_of(PAPERS)].parts.get("cast") is None
    pool.finish(pool.job_of(PAPERS))
    assert _states(checks) == {
        "cast": "cancelled", "survey": "done", "forecast": "cancelled", "timetable": "done", "papers": "done",
    }  # fmt: skip
    checks.again(*CASE, "cast")
    assert _states(checks)["forecast"] == _states(checks)["papers"] == "waiting"
    pool.finish(pool.job_of("cast"))
    pool.finish(pool.job_of("forecast"))
    pool.finish(pool.job_of(PAPERS))
    known = checks.known("A-1")
    assert known is not None
    assert known.is_done


def test_stopping_everything_leaves_nothing_running(checks: Checks, pool: HandPool) -> None:
    checks.begin(*CASE)
    checks.cancel("A-1")
    known = checks.known("A-1")
    assert known is not None
    assert known.is_over
    assert known.answer is None or known.works[PAPERS].state is JobState.DONE


def test_a_changed_case_is_computed_anew_and_late_results_are_let_go(checks: Checks, pool: HandPool) -> None:
    checks.begin(*CASE)
    changed = ("A-1", "content as it is")
    checks.begin(*changed)
    assert set(pool.cancelled) == {"cast-0", "survey-1", "timetable-2"}
    late = PartAnswer(Part.CAST, Shelved(Path("old"), "old"))
    pool.end("cast-0", result=late)
    known = checks.known("A-1")
    assert known is not None
    assert known.is_of(changed[1])
    assert not known.parts


def _lying(record: Path) -> list[str]:
    return sorted(path.name for path in record.glob("computed/*/*/*"))


def test_what_was_computed_leaves_the_disk_with_the_state_it_was_computed_of(
    checks: Checks, pool: HandPool, tmp_path: Path
) -> None:
    for content in CASE[1], "content as it is":
        checks.begin(CASE[0], content)
        for work in WORKS:
            pool.finish(pool.job_of(work))
    old = checks.known("A-1")
    assert _lying(tmp_path) == ["cast-5", "forecast-8", "papers-9", "survey-6", "timetable-7"]
    checks.again("A-1", "content as it is", "survey")
    pool.finish(pool.job_of("survey"))
    pool.finish(pool.job_of(PAPERS))
    assert "papers-9" not in _lying(tmp_path)
    for number in range(8):
        checks.begin(f"B-{number}", "content")
    assert checks.known("A-1") is None
    assert not _lying(tmp_path)
    assert old is not None
    assert not old.place.exists()
    checks.close()
    assert not list((tmp_path / "computed").iterdir())
