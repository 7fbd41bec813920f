"""What the page takes for the same case, and what it answers about one that is not there."""

from datetime import UTC, datetime
from pathlib import Path

from fastapi.testclient import TestClient
from tests.examples import demo_bench, demo_case

from seatwright.errors import UnknownCase
from seatwright.files import FolderCaseFiles, FolderCaseSource, bench_to_toml, case_to_toml
from seatwright.record import create_record
from seatwright.web import ServeSettings
from seatwright.web._practice import Practice
from seatwright.web.app import create_app
from seatwright.wiring import SystemClock
from seatwright.workflows.practice import import_case

NOW = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
BASE = "http://127.0.0.1:8731"


def practice_of(folder: Path, title: str) -> Practice:
    """Return a practice with one case."""
    (folder / "case").mkdir(parents=True)
    (folder / "case" / "case.toml").write_bytes(case_to_toml(demo_case(title=title, scan=(), region=())))
    (folder / "case" / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
    (folder / "case" / "log.jsonl").write_bytes(b"")
    record = create_record(folder / "record", now=NOW, by="lead")
    place = folder / "case"
    import_case(record, FolderCaseFiles(place), FolderCaseSource(place), by="lead", reason="", clock=SystemClock())
    record.close()
    return Practice(folder / "record", SystemClock())


def test_results_belong_to_what_a_case_holds_and_not_to_its_numbers(tmp_path: Path) -> None:
    marks, numbers = [], []
    for name, title in (("a", "first"), ("b", "second"), ("c", "first")):
        practice = practice_of(tmp_path / name, title)
        stored = practice.record.find("DEMO-1")
        assert stored is not None
        marks.append(practice.content_of("DEMO-1"))
        numbers.append((stored.version, stored.n_events))
        practice.close()
    assert len(set(numbers)) == 1
    assert marks[0] == marks[2] != marks[1]


def test_a_case_that_is_not_there_is_not_found_on_any_of_its_pages(tmp_path: Path) -> None:
    with TestClient(create_app(ServeSettings(tmp_path / "practice")), base_url=BASE) as client:
        for place in ("", "/part", "/record", "/mouth", "/mouth/part", "/surfaces", "/surfaces/draft"):
            answer = client.get(f"/cases/NONE-1{place}", headers={"accept": "text/html"})
            assert answer.status_code == 404, place
            assert "no case" in answer.text
        assert client.get("/cases/NONE-1").json()["error"]["code"] == UnknownCase.code
