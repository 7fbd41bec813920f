import json
import os
from concurrent.futures import ThreadPoolExecutor
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


@pytest.mark.parametrize(
    ("name", "place"), [("case.toml", "case.toml"), ("bench.toml", "bench.toml"), ("log.jsonl", "log.jsonl")]
)
def test_document_far_too_large_is_refused_before_it_is_read(folder: Path, name: str, place: str) -> None:
    with (folder / name).open("wb") as handle:
        handle.truncate(50_000_000_000)  # a hole in the file: no disk is used
    assert place in _faults(folder)


def test_log_that_is_a_pipe_or_a_folder_is_refused_and_not_waited_for(folder: Path) -> None:
    (folder / "log.jsonl").unlink()
    os.mkfifo(folder / "log.jsonl")
    assert "log.jsonl" in _faults(folder)
    (folder / "log.jsonl").unlink()
    (folder / "log.jsonl").mkdir()
    assert "log.jsonl" in _faults(folder)


def test_log_behind_a_link_that_leads_outside_is_refused(folder: Path, tmp_path: Path) -> None:
    (folder / "log.jsonl").rename(tmp_path / "elsewhere.jsonl")
    (folder / "log.jsonl").symlink_to(tmp_path / "elsewhere.jsonl")
    assert _faults(folder) == ("log.jsonl",)


def test_link_that_leads_to_itself_is_told(folder: Path) -> None:
    (folder / "scans").mkdir()
    (folder / "scans" / "reference.ply").symlink_to("reference.ply")
    (folder / "case.toml").write_bytes(case_to_toml(demo_case()))
    assert "case.toml: scan[0].file" in _faults(folder)


def test_scan_of_nearly_the_right_name_is_suggested(folder: Path) -> None:
    (folder / "scans").mkdir()
    (folder / "scans" / "Reference.ply").write_bytes(b"ply\n")
    (folder / "scans" / "poured.ply").mkdir()
    (folder / "case.toml").write_bytes(case_to_toml(demo_case()))
    with pytest.raises(CaseError) as caught:
        FolderCaseSource(folder).load(now=None, clock=CLOCK)
    assert [(f.where, f.hint) for f in caught.value.faults] == [
        ("case.toml: scan[0].file", "did you mean Reference.ply?"),
        ("case.toml: scan[1].file", "name the file in it"),
    ]


def test_bench_kept_outside_the_folder_is_read_and_named_by_its_option(folder: Path, tmp_path: Path) -> None:
    (folder / "bench.toml").rename(tmp_path / "shared.toml")
    bundle = FolderCaseSource(folder, bench=tmp_path / "shared.toml").load(now=None, clock=CLOCK)
    assert bundle.bench == demo_bench()
    assert [entry.name for entry in bundle.inputs] == ["case.toml", "--bench shared.toml", "log.jsonl"]


@pytest.mark.parametrize("what", ["absent", "a file", "an empty folder"])
def test_what_is_no_case_folder_is_told_apart(tmp_path: Path, what: str) -> None:
    place = tmp_path / "case"
    if what == "a file":
        place.write_bytes(b"")
    elif what == "an empty folder":
        place.mkdir()
    with pytest.raises(CaseError) as caught:
        FolderCaseSource(place).load(now=None, clock=CLOCK)
    assert caught.value.hint
    told = {"absent": "no folder", "a file": "is a file", "an empty folder": "holds no case.toml"}
    assert told[what] in caught.value.message


def test_case_looked_at_before_its_last_event_is_refused(folder: Path) -> None:
    with pytest.raises(CaseError) as caught:
        FolderCaseSource(folder).load(now=datetime(2026, 3, 10, 9, 23, tzinfo=UTC), clock=CLOCK)
    assert [f.where for f in caught.value.faults] == ["log.jsonl: line 7: at"]


def test_time_is_as_given_else_the_cases_own_else_the_clocks(folder: Path) -> None:
    given = datetime(2026, 4, 1, tzinfo=UTC)
    assert FolderCaseSource(folder).load(now=given, clock=CLOCK).now == given
    assert FolderCaseSource(folder).load(now=None, clock=CLOCK).now == DEMO_NOW
    (folder / "case.toml").write_bytes(case_to_toml(demo_case(scan=(), region=(), as_of=None)))
    assert FolderCaseSource(folder).load(now=None, clock=CLOCK).now == CLOCK.now()


LINE = events_to_jsonl(demo_events()[:1]).decode().strip()


@pytest.mark.parametrize(
    ("text", "places"),
    [
        (f"{LINE}\n\n{LINE.replace(':1,', ':2,', 1)}\n", ["line 2"]),
        (LINE.replace("{", '{"seq":1,', 1) + "\n", ["line 1"]),
        (LINE.replace('"by":"dentist"', '"by":"dentist","by":"x"') + "\n", ["line 1"]),
        (LINE.replace('"seq":1', '"seq":NaN') + "\n", ["line 1"]),
        (LINE.replace('"seq":1', f'"seq":{"9" * 5000}') + "\n", ["line 1"]),
        (LINE.replace('"seq":1', f'"seq":{"[" * 100_000}') + "\n", ["line 1"]),
        (LINE.replace("impression_out", "impresion_out") + "\n", ["line 1: what"]),
        (LINE.replace('"what":"impression_out",', "") + "\n", ["line 1: what"]),
        (LINE.replace("dentist", "den\\u0000tist") + "\n", ["line 1: by"]),
        (LINE.replace("dentist", "den\0tist") + "\n", ["line 1"]),
        (LINE.replace("T09:05:00Z", "T09:05:60Z") + "\n", ["line 1: at"]),
        (LINE.replace("T09:05:00Z", "T09:05:00") + "\n", ["line 1: at"]),
        ("[]\n", ["line 1"]),
        ("null\n", ["line 1"]),
        (LINE[:-10], ["line 1"]),
        (LINE, []),
        ("", []),
        ("\n" * 10_000, [""]),
        ("x\n" * 100, [*(f"line {n}" for n in range(1, 21)), ""]),
    ],
    ids=[
        "blank line", "field twice at the start", "field twice", "not a number", "thousands of digits", "nested deep",
        "misspelt event", "no event", "escaped NUL", "raw NUL", "leap second", "no zone", "a list", "null", "cut off",
        "no last line feed", "nothing", "far too many lines", "no log at all",
    ],
)  # fmt: skip
def test_damaged_log_names_the_line(text: str, places: list[str]) -> None:
    _, _, faults = read_log(text.encode())
    assert [f.where for f in faults] == [f"log.jsonl: {place}" if place else "log.jsonl" for place in places]
    assert all(f.hint for f in faults)


def test_unreadable_line_hides_neither_the_lines_around_it_nor_their_faults(folder: Path) -> None:
    lines = (folder / "log.jsonl").read_text(encoding="utf-8").splitlines()
    lines[2] = "{}"
    lines[6] = lines[6].replace("die-43", "die-34")
    (folder / "log.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert [where for where in _faults(folder) if "line 3" not in where] == ["log.jsonl: line 7: die"]


@pytest.mark.parametrize("sign", ["partial", "earlier"])
def test_leftovers_of_an_interrupted_run_are_cleared(tmp_path: Path, sign: str) -> None:
    store = FolderFiles(tmp_path)
    store.write_whole("out", {"a.txt": b"1"})
    (tmp_path / f".out.0123456789ab.{sign}").mkdir()
    (tmp_path / f".out.notours.{sign}").mkdir()
    store.write_whole("out", {"a.txt": b"2"})
    assert {p.name for p in tmp_path.iterdir()} == {"out", f".out.notours.{sign}"}


def test_folder_is_put_back_when_a_run_died_between_the_two_renames(tmp_path: Path) -> None:
    store = FolderFiles(tmp_path)
    store.write_whole("out", {"a.txt": b"1", "mine": b"edited later"})
    (tmp_path / "out" / "mine").write_bytes(b"precious")
    (tmp_path / "out").rename(tmp_path / ".out.0123456789ab.earlier")
    with pytest.raises(ConflictError):
        store.write_whole("out", {"a.txt": b"2"})
    assert (tmp_path / "out" / "mine").read_bytes() == b"precious"


def test_interruption_between_the_two_renames_puts_the_folder_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = FolderFiles(tmp_path)
    store.write_whole("out", {"a.txt": b"1"})
    rename = Path.rename

    def interrupted(self: Path, target: Path) -> Path:
        if self.name.endswith(".partial"):
            raise KeyboardInterrupt
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", interrupted)
    with pytest.raises(KeyboardInterrupt):
        store.write_whole("out", {"a.txt": b"2"})
    monkeypatch.undo()
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
    assert (tmp_path / "out" / "a.txt").read_bytes() == b"1"


def test_foreign_folder_is_not_walked_through(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "out" / "deep").mkdir(parents=True)
    (tmp_path / "out" / "deep" / "a.txt").write_bytes(b"1")

    def refuse(*_: object) -> None:
        raise AssertionError("a folder of somebody else is not walked through")

    monkeypatch.setattr(Path, "rglob", refuse)
    with pytest.raises(ConflictError, match="deep"):
        FolderFiles(tmp_path).require_free("out")


@pytest.mark.parametrize("manifest", [b"", b"[]", b"{", b'{"schema": "other/1", "files": {}}', b'{"schema": "seatwright/folder/1"}'])  # fmt: skip
def test_folder_with_a_manifest_that_is_not_ours_is_foreign(tmp_path: Path, manifest: bytes) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / MANIFEST_NAME).write_bytes(manifest)
    with pytest.raises(ConflictError):
        FolderFiles(tmp_path).write_whole("out", {"a.txt": b"1"})


def test_empty_folder_and_what_a_desktop_left_are_taken_over(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".DS_Store").write_bytes(b"x")
    store = FolderFiles(tmp_path)
    store.write_whole("out", {})
    store.write_whole("out", {"a.txt": b"1"})
    (tmp_path / "out" / "Thumbs.db").write_bytes(b"x")
    store.write_whole("out", {"a.txt": b"2"})
    assert {p.name for p in (tmp_path / "out").iterdir()} == {"a.txt", MANIFEST_NAME}


@pytest.mark.parametrize(
    "files", [{"../a": b""}, {"/a": b""}, {"a": b"", "A": b""}, {"a": b"", "a/b": b""}, {MANIFEST_NAME: b""}]
)
def test_names_that_collide_or_leave_the_folder_are_refused_and_nothing_is_written(tmp_path: Path, files) -> None:
    with pytest.raises(InputError):
        FolderFiles(tmp_path).write_whole("out", files)
    assert list(tmp_path.iterdir()) == []


def test_link_in_place_of_the_folder_is_never_followed(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(ConflictError):
        FolderFiles(tmp_path).write_whole("out", {"a.txt": b"1"})
    assert list((tmp_path / "elsewhere").iterdir()) == []


def test_writers_at_the_same_time_leave_one_whole_folder(tmp_path: Path) -> None:
    store = FolderFiles(tmp_path)
    contents = [{f"{n}-{i}.txt": str(n).encode() for i in range(20)} for n in range(8)]
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda files: store.write_whole("out", files), contents))
    names = {p.name for p in (tmp_path / "out").iterdir()} - {MANIFEST_NAME}
    assert names in [set(files) for files in contents]
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
