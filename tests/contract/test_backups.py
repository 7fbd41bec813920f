"""Backups made while the record is in use, and what comes back from them."""

import threading
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text
from tests.contract.conftest import Practice

from seatwright.errors import ConflictError, InputError, RecordError
from seatwright.files import FilesCaseSource
from seatwright.record import Damage, Record, back_up, open_record, restore, verify_backups, verify_record
from seatwright.record._tables import metadata
from seatwright.workflows.practice import read_files
from seatwright.workflows.practice_log import log_events

SAID = '{"what": "decided", "decision": "wait", "reason": "the stone is not set"}'


def _log(practice: Practice, record: Record, code: str = "DEMO-7") -> None:
    log_events(
        record,
        lambda: FilesCaseSource(record.files(code)),
        [SAID],
        by="lead",
        at=None,
        clock=practice.clock,
    )


def _rows(record: Record) -> dict[str, list[tuple[object, ...]]]:
    with record.database.reading() as connection:
        return {
            name: sorted(tuple(row) for row in connection.execute(table.select()))
            for name, table in metadata.tables.items()
        }


@pytest.fixture
def filled(practice: Practice) -> Practice:
    practice.bring(practice.write_folder())
    practice.bring(practice.write_folder("other", code="DEMO-8"))
    return practice


def _back_up(practice: Practice, **options: object):
    practice.clock.at += timedelta(days=1)
    return back_up(practice.record, practice.work / "backups", now=practice.clock.now(), **options)


def test_restored_record_is_the_one_backed_up_bit_for_bit(
    filled: Practice, new_address: Callable[[], str | None]
) -> None:
    done = _back_up(filled)
    place = filled.work / "restored"
    restored = restore(filled.work / "backups", place, database=new_address())
    assert restored.verified.is_sound
    again = open_record(place)
    assert _rows(again) == _rows(filled.record)
    assert read_files(again, "DEMO-7") == read_files(filled.record, "DEMO-7")
    assert (restored.verified.head_seq, restored.verified.head_hash) == (
        done.snapshot.head_seq,
        done.snapshot.head_hash,
    )
    _log(filled, again)  # and it goes on
    assert verify_record(again.database, again.store).is_sound
    again.close()


def test_backup_of_either_database_restores_into_a_file(filled: Practice) -> None:
    _back_up(filled)
    restored = restore(filled.work / "backups", filled.work / "restored")
    again = open_record(filled.work / "restored")
    assert restored.verified.is_sound
    assert again.database.is_sqlite
    assert _rows(again) == _rows(filled.record)
    again.close()


def test_backup_while_others_write_holds_one_moment(filled: Practice) -> None:
    writing, stop = filled.reopen(), threading.Event()

    def write() -> None:
        while not stop.is_set():
            _log(filled, writing)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        snapshots = [_back_up(filled).snapshot for _ in range(3)]
    finally:
        stop.set()
        writer.join()
        writing.close()
    assert snapshots[0].head_seq < snapshots[-1].head_seq
    assert all(getattr(proof, "is_sound", False) for _, proof in verify_backups(filled.work / "backups"))


def test_second_backup_copies_only_what_is_new(filled: Practice) -> None:
    n_files = len(list(filled.record.store.names()))
    assert _back_up(filled).n_files_copied == n_files
    folder = filled.write_folder("third", code="DEMO-9")
    scan = next(folder.rglob("*.ply"))
    scan.write_bytes(b"another scan")
    filled.bring(folder)
    assert _back_up(filled).n_files_copied == 1


def test_newer_record_is_never_overwritten(filled: Practice) -> None:
    _back_up(filled)
    _log(filled, filled.record)
    before = _rows(filled.record)
    with pytest.raises(ConflictError, match="is newer"):
        restore(filled.work / "backups", filled.folder)
    assert _rows(filled.record) == before


def test_record_that_went_another_way_is_never_overwritten(filled: Practice) -> None:
    _back_up(filled)
    restore(filled.work / "backups", filled.work / "restored")
    _log(filled, filled.record)
    _log(filled, filled.record, "DEMO-8")
    _back_up(filled)
    again = open_record(filled.work / "restored")
    filled.clock.at += timedelta(hours=1)
    _log(filled, again)
    with pytest.raises(ConflictError, match="different ways"):
        restore(filled.work / "backups", filled.work / "restored")
    again.close()


def test_older_record_is_brought_up_to_the_backup(filled: Practice) -> None:
    _back_up(filled)
    restore(filled.work / "backups", filled.work / "restored")
    _log(filled, filled.record)
    filled.bring(filled.write_folder("third", code="DEMO-9"))
    _back_up(filled)
    done = restore(filled.work / "backups", filled.work / "restored")
    assert done.n_entries_added > 1
    again = open_record(filled.work / "restored")
    assert _rows(again) == _rows(filled.record)
    again.close()


def test_damaged_scan_is_put_right_from_the_backup(filled: Practice) -> None:
    _back_up(filled)
    path = filled.record.store.path_of(next(filled.record.store.names()))
    path.write_bytes(b"x")
    done = restore(filled.work / "backups", filled.folder)
    assert (done.n_entries_added, done.n_files_added) == (0, 1)
    assert done.verified.is_sound


def test_damaged_record_is_not_backed_up_over_sound_backups(filled: Practice) -> None:
    _back_up(filled)
    path = filled.record.store.path_of(next(filled.record.store.names()))
    sound = path.read_bytes()
    path.write_bytes(sound[:-1] + b"?")
    (pooled,) = (filled.work / "backups" / "files").glob(f"*/{path.name}")
    pooled.unlink()
    with pytest.raises(RecordError, match="damaged"):
        _back_up(filled)
    assert len(verify_backups(filled.work / "backups")) == 1


def test_damaged_backup_is_told_and_not_restored(filled: Practice) -> None:
    name = _back_up(filled).snapshot.name
    database = filled.work / "backups" / name / "record.sqlite"
    data = bytearray(database.read_bytes())
    data[len(data) // 2] ^= 1
    database.write_bytes(data)
    ((_, proof),) = verify_backups(filled.work / "backups")
    assert isinstance(proof, Damage)
    with pytest.raises(RecordError, match="damaged"):
        restore(filled.work / "backups", filled.work / "restored")
    assert not (filled.work / "restored" / "record.toml").exists()


def test_rotation_takes_old_backups_and_the_files_that_only_they_name(filled: Practice) -> None:
    first = _back_up(filled).snapshot
    _export_then_replace_scan(filled)
    second = _back_up(filled).snapshot
    pool = filled.work / "backups" / "files"
    assert len(list(pool.glob("??/*"))) == second.n_files  # nothing of the record is ever dropped
    (pool / "ab").mkdir(exist_ok=True)
    (pool / "ab" / ("ab" + 62 * "0")).write_bytes(b"left over")
    third = _back_up(filled, keep={"daily": 2})
    assert third.removed == (first.name,)
    assert len(list(pool.glob("??/*"))) == third.snapshot.n_files
    assert [snapshot.name for snapshot, _ in verify_backups(filled.work / "backups")] == [
        second.name,
        third.snapshot.name,
    ]


def _export_then_replace_scan(practice: Practice) -> None:
    folder = practice.write_folder("third", code="DEMO-9")
    next(folder.rglob("*.ply")).write_bytes(b"another scan")
    practice.bring(folder)


def test_backups_of_another_record_are_not_mixed(filled: Practice, tmp_path: Path) -> None:
    _back_up(filled)
    owner = filled.work / "backups" / "backup.json"
    owner.write_text(owner.read_text().replace(filled.record.place.record_id, "0" * 32))
    with pytest.raises(ConflictError, match="another record"):
        _back_up(filled)


def test_folder_with_something_else_is_left_alone(filled: Practice) -> None:
    (filled.work / "backups").mkdir()
    (filled.work / "backups" / "letter.txt").write_text("mine")
    with pytest.raises(ConflictError, match="something else"):
        _back_up(filled)


def test_backup_into_the_record_itself_is_refused(filled: Practice) -> None:
    with pytest.raises(InputError, match="saves nothing"):
        back_up(filled.record, filled.folder / "backups", now=filled.clock.now())


def test_interrupted_restore_is_taken_up_again(filled: Practice) -> None:
    """As if the power went after the rows and before the folder got its name."""
    _back_up(filled)
    place = filled.work / "restored"
    restore(filled.work / "backups", place)
    (place / "record.toml").unlink()
    assert restore(filled.work / "backups", place).verified.is_sound
    assert (place / "record.toml").is_file()


def test_backup_sees_no_guard_of_the_database_weakened(filled: Practice) -> None:
    _back_up(filled)
    restore(filled.work / "backups", filled.work / "restored")
    again = open_record(filled.work / "restored")
    with pytest.raises(RecordError, match="never changed"), again.database.writing() as connection:
        connection.execute(text("DELETE FROM entry"))
    again.close()
