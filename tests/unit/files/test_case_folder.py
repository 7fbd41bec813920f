import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events
from tests.workflow.fakes import StoppedClock

from seatwright.errors import CaseError, ConflictError, InputError, MeshError
from seatwright.files import (
    MANIFEST_NAME,
    FolderCaseSource,
    FolderFiles,
    bench_to_toml,
    case_to_toml,
    events_to_jsonl,
    read_bench,
    read_case,
    read_log,
)

CLOCK = StoppedClock(datetime(2026, 6, 1, tzinfo=UTC))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    case = tmp_path / "case"
    case.mkdir()
    (case / "case.toml").write_bytes(case_to_toml(demo_case(scan=(), region=())))
    (case / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
    (case / "log.jsonl").write_bytes(events_to_jsonl(demo_events()))
    return case


def _faults(folder: Path) -> tuple[str, ...]:
    with pytest.raises(CaseError) as caught:
        FolderCaseSource(folder).load(now=None, clock=CLOCK)
    assert all(fault.hint for fault in caught.value.faults)
    return tuple(fault.where for fault in caught.value.faults)


def test_case_folder_gives_the_same_values_back(folder: Path) -> None:
    bundle = FolderCaseSource(folder).load(now=None, clock=CLOCK)
    assert bundle.case == demo_case(scan=(), region=())
    assert bundle.bench == demo_bench()
    assert bundle.events == demo_events()
    assert bundle.now == DEMO_NOW
    assert [entry.name for entry in bundle.inputs] == ["case.toml", "bench.toml", "log.jsonl"]


def test_case_without_a_log_has_not_begun(folder: Path) -> None:
    (folder / "log.jsonl").unlink()
    bundle = FolderCaseSource(folder).load(now=None, clock=CLOCK)
    assert bundle.events == ()
    assert bundle.state.impressions["pickup-1"].out_at is None


def test_faults_of_all_three_files_are_told_together(folder: Path) -> None:
    (folder / "bench.toml").write_text("schema = 1\nperson = []\n", encoding="utf-8")
    (folder / "log.jsonl").write_text('{"seq": 1}\n', encoding="utf-8")
    text = (folder / "case.toml").read_text(encoding="utf-8")
    (folder / "case.toml").write_text(text.replace('kind = "pontic"', 'kind = "pontik"'), encoding="utf-8")
    files = {where.split(":")[0] for where in _faults(folder)}
    assert files == {"case.toml", "bench.toml", "log.jsonl"}


@pytest.mark.parametrize("missing", ["case.toml", "bench.toml"])
def test_missing_document_is_named(folder: Path, missing: str) -> None:
    (folder / missing).unlink()
    with pytest.raises(CaseError) as caught:
        FolderCaseSource(folder).load(now=None, clock=CLOCK)
    assert missing in caught.value.message


def test_interrupted_last_line_of_the_log_is_recognized(folder: Path) -> None:
    log = folder / "log.jsonl"
    log.write_bytes(log.read_bytes()[:-20])
    assert any("line 7" in where for where in _faults(folder))


def test_windows_line_ends_and_a_byte_order_mark_are_read(folder: Path) -> None:
    for name in ("case.toml", "log.jsonl"):
        data = (folder / name).read_bytes().replace(b"\n", b"\r\n")
        (folder / name).write_bytes(b"\xef\xbb\xbf" + data)
    assert FolderCaseSource(folder).load(now=None, clock=CLOCK).events == demo_events()


def test_scan_that_is_not_there_is_named(folder: Path) -> None:
    (folder / "case.toml").write_bytes(case_to_toml(demo_case()))
    assert "case.toml: scan[0].file" in _faults(folder)


def test_scan_behind_a_link_that_leaves_the_folder_is_refused(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "outside.ply").write_bytes(b"ply\n")
    (folder / "scans").mkdir()
    (folder / "scans" / "reference.ply").symlink_to(tmp_path / "outside.ply")
    (folder / "scans" / "poured.ply").symlink_to(tmp_path / "outside.ply")
    (folder / "case.toml").write_bytes(case_to_toml(demo_case()))
    assert "case.toml: scan[0].file" in _faults(folder)
    with pytest.raises(MeshError, match="outside"):
        FolderCaseSource(folder).surface(demo_case().scan[0])


def test_documents_survive_writing_and_reading() -> None:
    assert read_case(case_to_toml(demo_case()))[0] == demo_case()
    assert read_bench(bench_to_toml(demo_bench()))[0] == demo_bench()
    assert read_log(events_to_jsonl(demo_events()))[0] == demo_events()
    assert case_to_toml(read_case(case_to_toml(demo_case()))[0]) == case_to_toml(demo_case())


def test_folder_is_written_whole_with_a_manifest(tmp_path: Path) -> None:
    written = Path(FolderFiles(tmp_path).write_whole("out", {"a/b.txt": b"1", "c.txt": b"2"}))
    names = {p.relative_to(written).as_posix() for p in written.rglob("*") if p.is_file()}
    assert names == {"a/b.txt", "c.txt", MANIFEST_NAME}
    assert json.loads((written / MANIFEST_NAME).read_text(encoding="utf-8"))["files"].keys() == {"a/b.txt", "c.txt"}


def test_own_folder_is_replaced_and_loses_what_is_gone(tmp_path: Path) -> None:
    store = FolderFiles(tmp_path)
    store.write_whole("out", {"old.txt": b"1"})
    store.write_whole("out", {"new.txt": b"2"})
    assert {p.name for p in (tmp_path / "out").iterdir()} == {"new.txt", MANIFEST_NAME}


@pytest.mark.parametrize("what", ["foreign file", "edited file", "plain file"])
def test_somebody_elses_work_is_never_replaced(tmp_path: Path, what: str) -> None:
    store = FolderFiles(tmp_path)
    if what == "plain file":
        (tmp_path / "out").write_bytes(b"precious")
    else:
        store.write_whole("out", {"a.txt": b"1"})
        name = "mine.txt" if what == "foreign file" else "a.txt"
        (tmp_path / "out" / name).write_bytes(b"precious")
    with pytest.raises(ConflictError):
        store.require_free("out")
    with pytest.raises(ConflictError):
        store.write_whole("out", {"a.txt": b"2"})
    kept = [p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()]
    assert b"precious" in kept


def test_interrupted_write_leaves_the_earlier_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = FolderFiles(tmp_path)
    store.write_whole("out", {"a.txt": b"1"})

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("seatwright.files.folder_store._write_all", fail)
    with pytest.raises(Exception, match="No space left"):
        store.write_whole("out", {"a.txt": b"2"})
    monkeypatch.undo()
    assert (tmp_path / "out" / "a.txt").read_bytes() == b"1"
    store.write_whole("out", {"a.txt": b"3"})
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("name", ["../out", "/out", "a\\b", ""])
def test_folder_name_may_not_lead_elsewhere(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError):
        FolderFiles(tmp_path).write_whole(name, {"a.txt": b"1"})
