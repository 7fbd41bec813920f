"""Scans that wait for a person's word: a dead reader, a stop and a crowd leave nothing on the disk."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.contract.conftest import SetClock
from tests.examples import DEMO_NOW

from seatwright.errors import ConflictError, InputError, SeatwrightError
from seatwright.jobs import JobState, JobView
from seatwright.record import Record, create_record
from seatwright.web import ServeSettings
from seatwright.web._arrivals import Arrival, Arrivals
from seatwright.web._hub import Hub


class DeadPool:
    """Its workers die of whatever they are given."""

    def submit(self, task: str, value: Any, *, on_change: Any, time_limit_s: float) -> str:
        assert value.path.read_bytes() == b"solid a"
        assert time_limit_s > 0
        error = SeatwrightError("the process that did this ended by itself (exit -9); nothing was written")
        on_change(JobView("job-1", task, JobState.FAILED, error=error))
        return "job-1"


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    made = create_record(tmp_path / "practice", now=SetClock(DEMO_NOW).now(), by="test")
    yield made
    made.close()


@pytest.fixture
def arrivals(tmp_path: Path) -> Arrivals:
    return Arrivals(ServeSettings(tmp_path, max_upload_bytes=1000), DeadPool(), Hub())  # type: ignore[arg-type]


def _bring(arrivals: Arrivals, record: Record) -> Arrival:
    arrival = arrivals.begin(record, "A-1", "scan.stl", 7)
    arrival.file.write(b"solid a")
    return arrival


def test_a_reader_that_dies_is_told_and_its_file_taken_away(arrivals: Arrivals, record: Record) -> None:
    arrival = _bring(arrivals, record)
    arrivals.read(arrival)
    known = arrivals.get("A-1", arrival.id)
    assert known is not None
    assert known.job is not None
    assert "ended by itself" in str(known.job.error)
    assert known.scan is None
    assert not arrival.file.path.exists()


def test_a_scan_is_only_seen_at_its_own_case_and_put_away_whole(arrivals: Arrivals, record: Record) -> None:
    arrival = _bring(arrivals, record)
    assert arrivals.get("B-2", arrival.id) is None
    arrivals.drop(arrival.id)
    arrivals.drop(arrival.id)
    assert arrivals.get("A-1", arrival.id) is None
    assert not arrival.file.path.exists()


def test_too_many_waiting_scans_are_refused_and_closing_takes_all_away(arrivals: Arrivals, record: Record) -> None:
    waiting = [_bring(arrivals, record) for _ in range(6)]
    with pytest.raises(ConflictError):
        arrivals.begin(record, "A-1", "scan.stl", 7)
    arrivals.close()
    assert not any(arrival.file.path.exists() for arrival in waiting)


def test_an_empty_and_a_too_large_file_are_refused(arrivals: Arrivals, record: Record) -> None:
    with pytest.raises(InputError, match="at most 0 MB"):
        arrivals.begin(record, "A-1", "scan.stl", 1001)
    arrival = arrivals.begin(record, "A-1", "scan.stl", 0)
    with pytest.raises(InputError, match="the file is empty"):
        arrivals.read(arrival)
    assert not arrival.file.path.exists()
