"""Whole lines or nothing; a log that somebody else changed is left alone."""

import hashlib
import os

import pytest
from tests.examples import demo_events, minutes

from seatwright.case import Rinsed
from seatwright.errors import ConflictError, RecordError
from seatwright.files import FolderEventLog, events_to_jsonl, read_log


def rinsed(seq: int) -> Rinsed:
    return Rinsed(seq=seq, at=minutes(40 + seq), by="assistant", impression="pickup-1")


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "log.jsonl").write_bytes(events_to_jsonl(demo_events()))
    return tmp_path


def hash_of(folder) -> str:
    return hashlib.sha256((folder / "log.jsonl").read_bytes()).hexdigest()


def test_appended_events_are_read_back_after_the_old_ones(folder) -> None:
    log = FolderEventLog(folder, sha256=hash_of(folder))
    log.append(rinsed(8), rinsed(9))
    log.append(rinsed(10))
    events, _, faults = read_log((folder / "log.jsonl").read_bytes())
    assert faults == ()
    assert events == (*demo_events(), rinsed(8), rinsed(9), rinsed(10))


def test_old_bytes_are_never_changed(folder) -> None:
    before = (folder / "log.jsonl").read_bytes()
    FolderEventLog(folder, sha256=hash_of(folder)).append(rinsed(8))
    assert (folder / "log.jsonl").read_bytes().startswith(before)


def test_log_that_somebody_else_changed_is_a_conflict_and_is_left_alone(folder) -> None:
    log = FolderEventLog(folder, sha256=hash_of(folder))
    FolderEventLog(folder, sha256=hash_of(folder)).append(rinsed(8))
    before = (folder / "log.jsonl").read_bytes()
    with pytest.raises(ConflictError):
        log.append(rinsed(8))
    assert (folder / "log.jsonl").read_bytes() == before


def test_log_that_appeared_meanwhile_is_a_conflict(folder) -> None:
    with pytest.raises(ConflictError):
        FolderEventLog(folder, sha256=None).append(rinsed(8))


def test_first_event_makes_the_log(tmp_path) -> None:
    FolderEventLog(tmp_path, sha256=None).append(rinsed(1))
    events, _, _ = read_log((tmp_path / "log.jsonl").read_bytes())
    assert events == (rinsed(1),)


def test_log_without_a_last_line_end_gets_one_first(folder) -> None:
    path = folder / "log.jsonl"
    path.write_bytes(path.read_bytes().rstrip(b"\n"))
    FolderEventLog(folder, sha256=hash_of(folder)).append(rinsed(8))
    events, _, faults = read_log(path.read_bytes())
    assert faults == ()
    assert len(events) == len(demo_events()) + 1


def test_half_written_line_is_taken_back(folder, monkeypatch) -> None:
    before = (folder / "log.jsonl").read_bytes()

    def full_disk(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(RecordError, match="No space left"):
        FolderEventLog(folder, sha256=hash_of(folder)).append(rinsed(8))
    assert (folder / "log.jsonl").read_bytes() == before


def test_nothing_to_append_touches_nothing(tmp_path) -> None:
    FolderEventLog(tmp_path, sha256=None).append()
    assert not (tmp_path / "log.jsonl").exists()
