"""Nothing that stands in the record is changed; who changes it all the same is found out."""

import subprocess
from collections.abc import Callable
from datetime import timedelta

import pytest
from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError
from tests.contract.conftest import Practice

from seatwright import wiring
from seatwright.errors import RecordError
from seatwright.record import Verified, verify_record
from seatwright.record._verify import verify_database
from seatwright.workflows.practice import read_files
from seatwright.workflows.record_ports import KeptFile

TABLES = ("entry", "document", "stored_file", "case_version", "case_file")


def _verify(practice: Practice, **options: object) -> Verified:
    return verify_record(practice.record.database, practice.record.store, **options)


def _by_force(practice: Practice, *statements: str) -> None:
    """Change the database as somebody would who takes the guards away first."""
    with practice.record.database.writing() as connection:
        _disarm(connection, is_sqlite=practice.record.database.is_sqlite)
        for statement in statements:
            assert connection.execute(text(statement)).rowcount > 0


def _disarm(connection: Connection, *, is_sqlite: bool) -> None:
    if is_sqlite:
        rows = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'"))
        for (name,) in rows.all():
            connection.execute(text(f"DROP TRIGGER {name}"))
    else:
        for table in TABLES:
            connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))


@pytest.fixture
def filled(practice: Practice) -> Practice:
    practice.bring(practice.write_folder())
    return practice


def test_sound_record_is_found_sound(filled: Practice) -> None:
    verified = _verify(filled)
    assert verified.is_sound
    assert verified.n_entries == 1 + 1 + 7 + verified.n_files  # opened, revised, events, files
    assert verified.n_files == len(list(filled.record.store.names())) > 0


def test_database_itself_refuses_to_change_or_remove(filled: Practice) -> None:
    for table in TABLES:
        column = "case_code" if table.startswith("case") else "hash" if table == "entry" else "sha256"
        for verb in (f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}"):
            with (
                pytest.raises(RecordError, match="never changed"),
                filled.record.database.writing() as connection,
            ):
                connection.execute(text(verb))


def test_database_itself_refuses_an_entry_out_of_the_chain(filled: Practice) -> None:
    row = (
        "INSERT INTO entry (seq, recorded_at, by, case_code, kind, body, previous, hash, at, what) "
        "SELECT 999, '', '', '', 'filed', body, 'x', 'y', '', '' FROM entry WHERE seq = 1"
    )
    with (
        pytest.raises(RecordError, match="does not follow") as caught,
        filled.record.database.writing() as connection,
    ):
        connection.execute(text(row))
    assert isinstance(caught.value.__cause__, DBAPIError)


TAMPERED = {
    "another person": "UPDATE entry SET by = 'nobody' WHERE seq = 5",
    "another time": "UPDATE entry SET recorded_at = '2020-01-01T00:00:00.000000Z' WHERE seq = 5",
    "another body": "UPDATE entry SET body = (SELECT body FROM entry WHERE seq = 6) WHERE seq = 5",
    "another case": "UPDATE entry SET case_code = 'X' WHERE seq = 5",
    "a lost entry": "DELETE FROM entry WHERE seq = (SELECT max(seq) - 2 FROM entry)",
    "the index of an event": "UPDATE entry SET what = 'poured' WHERE case_seq = 3",
    "the log cut short": "UPDATE stored_case SET n_events = 6",
    "another file": "UPDATE case_file SET sha256 = (SELECT min(sha256) FROM stored_file), path = 'x' WHERE entry_seq = 3",
    "a document": "UPDATE document SET content = (SELECT body FROM entry WHERE seq = 2)",
    "the last entry gone": "DELETE FROM entry WHERE seq = (SELECT max(seq) FROM entry)",
}


class _Undo(Exception):
    """Ends a transaction that only tried something."""


def test_every_forced_change_is_found(filled: Practice) -> None:
    is_sqlite, missed = filled.record.database.is_sqlite, []

    def force_and_undo(what: str, statement: str) -> None:
        with filled.record.database.writing() as connection:
            _disarm(connection, is_sqlite=is_sqlite)
            assert connection.execute(text(statement)).rowcount > 0, what
            if not verify_database(connection, is_sqlite=is_sqlite):
                missed.append(what)
            raise _Undo

    for what, statement in TAMPERED.items():
        with pytest.raises(_Undo):
            force_and_undo(what, statement)
    assert missed == []
    assert _verify(filled).is_sound  # the check says so of nothing else


def test_rewritten_end_of_the_chain_shows_against_a_head_noted_elsewhere(filled: Practice) -> None:
    before = _verify(filled)
    _by_force(
        filled,
        f"DELETE FROM entry WHERE seq = {before.head_seq}",
        f"UPDATE head SET seq = seq - 1, hash = (SELECT hash FROM entry WHERE seq = {before.head_seq - 1})",
        "UPDATE stored_case SET n_events = n_events - 1",
    )
    assert _verify(filled).is_sound  # nothing inside the record can tell
    assert not _verify(filled, known_head=(before.head_seq, before.head_hash)).is_sound


def test_chain_is_what_a_plain_hashing_tool_computes(filled: Practice) -> None:
    """coreutils sha256sum over the lines that the documentation lists."""
    with filled.record.database.reading() as connection:
        rows = connection.execute(
            text("SELECT seq, recorded_at, by, case_code, kind, body, hash FROM entry ORDER BY seq LIMIT 6")
        ).all()
    previous = "0" * 64
    for row in rows:
        lines = ["seatwright entry 1", row.seq, previous, row.recorded_at, row.by, row.case_code, row.kind]
        content = "".join(f"{line}\n" for line in [*lines, _sha256sum(bytes(row.body))])
        previous = _sha256sum(content.encode())
        assert row.hash == previous


def _sha256sum(data: bytes) -> str:
    return subprocess.run(["sha256sum"], input=data, capture_output=True, check=True).stdout.decode().split()[0]


def _flip(data: bytes) -> bytes:
    return bytes([data[0] ^ 1]) + data[1:]


def _cut(data: bytes) -> bytes:
    return data[:-1]


def _empty(data: bytes) -> bytes:
    return data[:0]


@pytest.mark.parametrize("damage", [_flip, _cut, _empty, None], ids=["flipped", "cut", "empty", "gone"])
def test_damaged_scan_is_found_refused_and_healed(filled: Practice, damage: Callable[[bytes], bytes] | None) -> None:
    store = filled.record.store
    name = next(store.names())
    path = store.path_of(name)
    sound = path.read_bytes()
    path.unlink()
    if damage is not None:
        path.write_bytes(damage(sound))
    found = _verify(filled).damages
    assert len(found) == 1
    assert name[:12] in found[0].where
    assert "DEMO-7" in found[0].where
    with pytest.raises(RecordError, match=r"damaged|missing"):
        read_files(filled.record, "DEMO-7")
    filled.bring(filled.work / "case")
    assert _verify(filled).is_sound
    assert path.read_bytes() == sound


def test_what_an_interrupted_writer_left_is_cleared_but_not_what_is_being_written(filled: Practice) -> None:
    store = filled.record.store
    left = filled.folder / "files" / ".partial" / "left"
    left.write_bytes(b"half")
    arriving = store.receive()
    assert store.clear_partial() == 1
    assert arriving.path.exists()
    assert not left.exists()
    arriving.discard()
    assert not arriving.path.exists()


def test_what_belongs_to_nothing_goes_after_a_day_and_nothing_else(filled: Practice) -> None:
    store, now = filled.record.store, wiring.SystemClock().now()
    used = set(store.names())
    left = store.keep(b"left by an interrupted import")
    assert _verify(filled).n_files_unused == 1
    assert filled.record.tidy(now=now) == (0, 0)  # it may be in use
    again = filled.record.tidy(now=now + timedelta(days=1, minutes=1))
    assert again == (1, 29)
    assert set(store.names()) == used
    assert left not in used
    assert _verify(filled).is_sound


def test_file_that_was_taken_away_is_not_recorded(filled: Practice, monkeypatch: pytest.MonkeyPatch) -> None:
    """As if it had been tidied away between its being kept and its being recorded."""
    keep = filled.record.keep

    def keep_and_lose(path: str, data: bytes) -> KeptFile:
        kept = keep(path, data)
        filled.record.store.path_of(kept.sha256).unlink()
        return kept

    folder = filled.write_folder("other", code="DEMO-8")
    next(folder.rglob("*.ply")).write_bytes(b"another scan")
    monkeypatch.setattr(filled.record, "keep", keep_and_lose)
    with pytest.raises(RecordError, match="taken away before it was recorded"):
        filled.bring(folder)
    assert filled.record.find("DEMO-8") is None
