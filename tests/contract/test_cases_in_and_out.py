"""A case that goes into the record comes out byte for byte, and only sound changes go in."""

from pathlib import Path

import pytest
from tests.contract.conftest import Practice

from seatwright import wiring
from seatwright.errors import CaseError, ConflictError, RecordError
from seatwright.files import FilesCaseSource, FolderFiles
from seatwright.workflows.plan import plan_case
from seatwright.workflows.practice import export_case, read_files
from seatwright.workflows.practice_log import log_events


def _bytes_below(folder: Path) -> dict[str, bytes]:
    paths = (p for p in folder.rglob("*") if p.is_file() and not p.name.startswith(".seatwright"))
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in paths}


def _export(practice: Practice, name: str = "out") -> Path:
    return Path(export_case(practice.record, "DEMO-7", name, store=FolderFiles(practice.work)))


def test_exported_case_is_the_imported_one_byte_for_byte(practice: Practice) -> None:
    folder = practice.write_folder()
    assert practice.bring(folder).is_new
    assert _bytes_below(_export(practice)) == _bytes_below(folder)


def test_odd_bytes_survive_the_round_trip(practice: Practice) -> None:
    folder = practice.write_folder()
    toml = (folder / "case.toml").read_bytes()
    (folder / "case.toml").write_bytes(
        b"\xef\xbb\xbf# written by hand \xc2\xb5m\r\n\r\n" + toml.replace(b"\n", b"\r\n")
    )
    log = (folder / "log.jsonl").read_bytes()
    spaced = log.replace(b'":', b'" :  ').replace(b"\n", b"\r\n").rstrip(b"\r\n")
    (folder / "log.jsonl").write_bytes(b"\xef\xbb\xbf" + spaced)
    practice.bring(folder)
    assert _bytes_below(_export(practice)) == _bytes_below(folder)


def test_case_without_a_log_is_exported_without_one(practice: Practice) -> None:
    folder = practice.write_folder()
    (folder / "log.jsonl").unlink()
    practice.bring(folder)
    assert "log.jsonl" not in _bytes_below(_export(practice))


def test_new_event_is_one_canonical_line_after_the_old_bytes(practice: Practice) -> None:
    folder = practice.write_folder()
    log = folder / "log.jsonl"
    log.write_bytes(log.read_bytes().rstrip(b"\n"))
    practice.bring(folder)
    said = '{"what": "decided", "decision": "resin die for 43", "reason": "the engraved one is another tooth\'s"}'
    receipt = log_events(practice.record, _opener(practice), [said], by="lead", at=None, clock=practice.clock)
    assert receipt.n_events == 8
    exported = read_files(practice.record, "DEMO-7")["log.jsonl"]
    before, added = exported[: log.stat().st_size], exported[log.stat().st_size :]
    assert before == log.read_bytes()
    assert added.startswith(b'\n{"seq":8,"at":"2026-03-20T')
    assert added.endswith(b"}\n")
    assert added.count(b"\n") == 2


def _opener(practice: Practice):
    return lambda: FilesCaseSource(practice.record.files("DEMO-7"))


def test_case_in_the_record_plans_as_the_folder_does(practice: Practice) -> None:
    folder = practice.write_folder(scan=(), region=())
    practice.bring(folder)
    from_folder = plan_case(wiring.open_case(folder), now=None, clock=practice.clock)
    now = from_folder.bundle.now
    from_record = plan_case(wiring.open_case(practice.folder / "DEMO-7"), now=now, clock=practice.clock)
    assert from_record == from_folder


def test_same_folder_again_changes_nothing(practice: Practice) -> None:
    folder = practice.write_folder()
    practice.bring(folder)
    assert practice.bring(folder).receipt is None
    assert practice.record.find("DEMO-7").version == 1


def test_same_scan_of_two_cases_is_kept_once(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    n_files = len(list(practice.record.store.names()))
    practice.bring(practice.write_folder("other", code="DEMO-8"))
    assert len(list(practice.record.store.names())) == n_files > 0


def test_edit_of_an_exported_folder_becomes_the_next_version(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    folder = _export(practice)
    path = folder / "case.toml"
    path.write_text(path.read_text(encoding="utf-8") + "# a comment\n", encoding="utf-8")
    done = practice.bring(folder, reason="a note")
    assert done.revised
    assert done.receipt.version == 2
    assert read_files(practice.record, "DEMO-7")["case.toml"].endswith(b"# a comment\n")


def test_edit_made_from_an_older_version_is_a_conflict_and_changes_nothing(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    first, second = _export(practice, "first"), _export(practice, "second")
    for folder, remark in ((first, "# one\n"), (second, "# two\n")):
        path = folder / "case.toml"
        path.write_text(path.read_text(encoding="utf-8") + remark, encoding="utf-8")
    practice.bring(first)
    with pytest.raises(ConflictError, match="exported from version 1, the record has version 2"):
        practice.bring(second)
    assert read_files(practice.record, "DEMO-7")["case.toml"].endswith(b"# one\n")


def test_changed_line_of_the_log_is_refused(practice: Practice) -> None:
    folder = practice.write_folder()
    practice.bring(folder)
    log = folder / "log.jsonl"
    log.write_bytes(log.read_bytes().replace(b'"by":"assistant"', b'"by":"trainee"', 1))
    with pytest.raises(ConflictError, match="line 2 is not the record's"):
        practice.bring(folder)


def test_faulty_case_leaves_nothing(practice: Practice) -> None:
    folder = practice.write_folder()
    (folder / "log.jsonl").write_bytes((folder / "log.jsonl").read_bytes().replace(b'"seq":4', b'"seq":9'))
    with pytest.raises(CaseError):
        practice.bring(folder)
    assert practice.record.find("DEMO-7") is None


def test_unknown_code_names_the_closest(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    with pytest.raises(CaseError, match="no case DEMO-1") as caught:
        wiring.open_case(practice.folder / "DEMO-1").load(now=None, clock=practice.clock)
    assert "DEMO-7" in caught.value.hint


def test_event_that_cannot_have_happened_is_refused(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    said = '{"what": "separated", "impression": "pick-up"}'
    with pytest.raises(CaseError):
        log_events(practice.record, _opener(practice), [said], by="lead", at=None, clock=practice.clock)
    assert practice.record.find("DEMO-7").n_events == 7


def test_clock_that_was_set_back_is_told_and_nothing_written(practice: Practice) -> None:
    practice.bring(practice.write_folder())
    practice.clock.at = practice.clock.at.replace(day=19)
    with pytest.raises(RecordError, match="the clock was set back"):
        practice.bring(practice.write_folder("other", code="DEMO-8"))
    assert practice.record.find("DEMO-8") is None


def test_second_record_in_one_place_is_refused(practice: Practice) -> None:
    with pytest.raises(ConflictError, match="holds a record already"):
        wiring.create_record(practice.folder, by="lead", database=None)
