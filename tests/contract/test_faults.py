"""Disk full, folder that cannot be written, locked database, server gone: a clear error each, and nothing lost."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import text
from tests.contract.conftest import Practice
from tests.killing import CLOCK, LOGGED_CASE, bring, make_case
from tests.postgres_server import require_server_programs, running_server
from tests.small_disk import SmallDisk, mounted_disk

from seatwright.errors import RecordError
from seatwright.files import FilesCaseSource
from seatwright.record import Record, _database, create_record, open_record, verify_record
from seatwright.workflows.practice import read_files
from seatwright.workflows.practice_log import log_events
from seatwright.workflows.record_lists import PageWish

SAID = '{"what": "decided", "decision": "wait", "reason": "the stone is not set"}'


def _log(record: Record) -> None:
    log_events(record, lambda: FilesCaseSource(record.files(LOGGED_CASE)), [SAID], by="lead", at=None, clock=CLOCK)


def _require_whole(record: Record, codes: list[str], n_events: int, *, scan_bytes: int) -> None:
    """Fail unless exactly these cases and events are there, every byte of them."""
    assert verify_record(record.database, record.store).damages == ()
    assert [case.code for case in record.list_cases(PageWish(1000)).rows] == sorted([*codes, LOGGED_CASE])
    assert record.find(LOGGED_CASE).n_events == 7 + n_events
    for code in codes:
        assert read_files(record, code) == make_case(code, scan_bytes=scan_bytes).files


def _until_full(write: Callable[[], None]) -> RecordError:
    """Write until the disk is full, and return what is told then."""
    for _ in range(2000):
        try:
            write()
        except RecordError as error:
            assert "the disk is full" in error.message  # noqa: PT017 - the error is what is asked for
            return error
    pytest.fail("the disk did not fill")


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    with mounted_disk(tmp_path, megabytes=12) as mounted:
        if mounted is None:
            pytest.skip("a small disk cannot be mounted here: it takes root's rights")
        yield mounted


@pytest.fixture
def on_disk(disk: SmallDisk, new_address: Callable[[], str | None]) -> Iterator[Record]:
    """Make a record on the small disk; on PostgreSQL its scans alone are there."""
    record = create_record(disk.folder / "practice", now=CLOCK.now(), by="lead", database=new_address())
    bring(record, LOGGED_CASE)
    yield record
    record.close()


def test_full_disk_is_told_and_what_was_acknowledged_stands(disk: SmallDisk, on_disk: Record) -> None:
    codes: list[str] = []
    spare = disk.folder / "spare"
    spare.write_bytes(b"something else" * 150_000)

    def bring_next() -> None:
        bring(on_disk, f"F{len(codes):03d}", scan_bytes=300_000)
        codes.append(f"F{len(codes):03d}")

    assert "free some space" in _until_full(bring_next).hint
    assert codes
    disk.fill()
    n_before = on_disk.find(LOGGED_CASE).n_events
    if on_disk.database.is_sqlite:
        _until_full(lambda: _log(on_disk))
    n_events = on_disk.find(LOGGED_CASE).n_events - n_before
    again = open_record(on_disk.place.folder)
    _require_whole(again, codes, n_events, scan_bytes=300_000)
    spare.unlink()
    os.sync()  # ext4 gives blocks back once its journal is written
    _log(again)  # with room again it goes on as if nothing had been
    _require_whole(again, codes, n_events + 1, scan_bytes=300_000)
    again.close()


def test_folder_that_cannot_be_written_is_told_and_nothing_changes(disk: SmallDisk, on_disk: Record) -> None:
    _log(on_disk)
    on_disk.close()
    disk.refuse_writes()
    try:
        with pytest.raises(RecordError, match=r"cannot be (written|opened)") as caught:
            bring(open_record(on_disk.place.folder), "R1")
        assert "folder" in caught.value.hint
    finally:
        disk.allow_writes()
    again = open_record(on_disk.place.folder)
    _require_whole(again, [], 1, scan_bytes=0)
    again.close()


def test_database_held_by_somebody_else_is_told_after_a_wait(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_database, "_WAIT_S", 0.2)
    bring(practice.record, LOGGED_CASE)
    record = practice.reopen()
    with practice.record.database.writing() as connection:
        connection.execute(text("UPDATE head SET seq = seq"))
        with pytest.raises(RecordError, match="locked by another program") as caught:
            _log(record)
        assert "nothing was written" in caught.value.hint
        read_files(record, LOGGED_CASE)  # readers are never held up
    _log(record)
    _require_whole(record, [], 1, scan_bytes=0)
    record.close()


def test_server_that_crashes_loses_nothing_acknowledged_and_is_told_while_away(tmp_path: Path) -> None:
    with running_server(require_server_programs()) as server:
        record = create_record(tmp_path / "practice", now=CLOCK.now(), by="lead", database=server.url)
        bring(record, LOGGED_CASE)
        for n_events in range(1, 3):
            _log(record)
            server.crash()
            with pytest.raises(RecordError, match="the database does not answer"):
                _log(record)
            with pytest.raises(RecordError, match="the database does not answer"):
                open_record(tmp_path / "practice")
            server.start()
            _require_whole(record, [], n_events, scan_bytes=0)
        record.close()


def test_folder_of_scans_that_is_not_connected_is_told(practice: Practice) -> None:
    bring(practice.record, LOGGED_CASE)
    (practice.folder / "files").rename(practice.work / "elsewhere")
    with pytest.raises(RecordError, match="folder of scans and photos is missing") as caught:
        practice.reopen()
    assert "disk" in caught.value.hint


def test_folder_and_database_of_two_records_are_told_apart(practice: Practice) -> None:
    place = practice.folder / "record.toml"
    place.write_text(place.read_text().replace(practice.record.place.record_id, "0" * 32))
    with pytest.raises(RecordError, match="belongs to another record"):
        practice.reopen()


@pytest.mark.parametrize(
    "content", [b"", b"\xff", b"schema = 1\n", b"schema = 2\nrecord = 'a'\ndatabase = 'b'\n", b"x" * 20_000]
)
def test_spoiled_place_file_is_told(practice: Practice, content: bytes) -> None:
    (practice.folder / "record.toml").write_bytes(content)
    with pytest.raises(RecordError, match=r"record.toml"):
        practice.reopen()
