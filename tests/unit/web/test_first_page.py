"""The first page comes before everything else: what it reads, what waits behind it, and what it is not kept waiting by."""

import asyncio
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi import FastAPI
from httpx2 import ASGITransport, AsyncClient
from tests.unit.web.signing import BASE, SetClock, run_apart

from seatwright import wiring
from seatwright.demo import make_demo_case
from seatwright.files import bench_to_toml, case_to_toml, encode_ply, events_to_jsonl
from seatwright.web import ServeSettings
from seatwright.web._behind import Behind
from seatwright.web._open_bench import open_bench
from seatwright.web._serve import _open_whole
from seatwright.web.app import open_behind
from seatwright.web.first import create_first

NOT_FOR_THE_FIRST_PAGE = {
    "PIL",
    "alembic",
    "argon2",
    "numba",
    "pandas",
    "scipy.optimize",
    "scipy.spatial",
    "scipy.special",
    "scipy.stats",
    "seatwright.arch._regions",
    "seatwright.case.entry",
    "seatwright.cast",
    "seatwright.demo",
    "seatwright.figures._arch_plan",
    "seatwright.figures._render",
    "seatwright.forecast",
    "seatwright.jobs",
    "seatwright.mesh._surface",
    "seatwright.papers._dossier",
    "seatwright.survey",
    "seatwright.web.app",
    "shapely",
    "trimesh",
    "typst",
}
NOW = datetime(2026, 3, 2, 8, 43, tzinfo=UTC)
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[3] / "src")}
SHOW_FIRST_PAGE = """
import asyncio, json, sys
from pathlib import Path
from seatwright import wiring
from seatwright.cli import _serve
from seatwright.cli._moment import ShiftedClock, parse_now
from seatwright.web import ServeSettings
from seatwright.web._open_bench import open_bench
from seatwright.web.first import create_first

settings, clock = ServeSettings(Path(sys.argv[1])), ShiftedClock(wiring.SystemClock(), parse_now(sys.argv[2]))
app = create_first(settings, open_bench(settings, clock))
scope = {"type": "http", "http_version": "1.1", "scheme": "http", "method": "GET", "path": "/", "raw_path": b"/",
         "query_string": b"", "headers": [(b"host", b"127.0.0.1:8731"), (b"accept", b"text/html")],
         "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 8731)}
told = []

async def look():
    async def send(message):
        told.append(message)
    await app(scope, asyncio.Event().wait, send)

asyncio.run(look())
text = b"".join(message.get("body", b"") for message in told).decode()
print(json.dumps({"status": told[0]["status"], "text": text, "modules": sorted(sys.modules)}))
"""


@pytest.fixture(scope="module")
def practice(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record with the demo case, three minutes after its pick-up left the mouth."""
    folder = tmp_path_factory.mktemp("first")
    made = make_demo_case(grid_mm=0.6)
    plan = [line for line in case_to_toml(made.case).decode().splitlines() if not line.startswith("as_of")]
    files = {
        "case.toml": "\n".join([*plan, ""]).encode(),
        "bench.toml": bench_to_toml(made.bench),
        "log.jsonl": b"".join(events_to_jsonl(made.events).splitlines(keepends=True)[:3]),
        **{name: encode_ply(scan.surface()) for name, scan in made.scans.items()},
    }
    for name, data in files.items():
        path = folder / "case" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    run = [sys.executable, "-c", "from seatwright.cli import main; main()", "record"]
    for arguments in (["init"], ["import", str(folder / "case")]):
        subprocess.run(
            [*run, *arguments, "--record", str(folder / "practice"), "--by", "lead"], check=True, env=ENVIRONMENT
        )
    return folder / "practice"


def show_first_page(practice: Path) -> dict[str, object]:
    ran = subprocess.run(
        [sys.executable, "-c", SHOW_FIRST_PAGE, str(practice), NOW.isoformat()],
        capture_output=True,
        text=True,
        check=True,
        env=ENVIRONMENT,
    )
    answer: dict[str, object] = json.loads(ran.stdout)
    return answer


def test_the_first_page_has_the_whole_day_and_reads_no_more_of_the_tool_than_that(practice: Path) -> None:
    page = show_first_page(practice)
    assert page["status"] == 200
    assert all(word in page["text"] for word in ("pickup-1", "opposing", "µm over its longest span", "pour at"))
    assert sorted(NOT_FOR_THE_FIRST_PAGE & set(page["modules"])) == []
    assert {"seatwright.pour.timetable", "ortools"} <= set(page["modules"])  # the day is planned, not remembered


def test_a_day_whose_scan_was_not_measured_yet_is_the_same_day(practice: Path) -> None:
    known = show_first_page(practice)
    shutil.rmtree(practice / "measured")
    assert _timeless(show_first_page(practice)["text"]) == _timeless(known["text"])
    assert list((practice / "measured").iterdir())


def _timeless(text: object) -> str:
    """Return a page without its times of day and its minutes left, which go on from one start to the next."""
    return re.sub(r"\d+:\d\d[\d:.+]*|\d+ h \d+", "", str(text))


class Opened:
    """The application behind its first page, opened as the server does; what is read behind waits until told."""

    def __init__(self, folder: Path, *, fails: bool = False) -> None:
        settings = ServeSettings(folder / "practice")
        self.app = create_first(settings, open_bench(settings, SetClock()), guarded=False)
        self.may_go_on, self.failures, self.is_asked, self.fails = asyncio.Event(), [], asyncio.Event(), fails
        self.behind = Behind(self.app, self._read, self.failures.append)

    def _read(self) -> Callable[[FastAPI], None]:
        self._loop.call_soon_threadsafe(self.is_asked.set)
        asyncio.run_coroutine_threadsafe(self.may_go_on.wait(), self._loop).result()
        if self.fails:
            raise ValueError("a library is broken")
        return open_behind

    @asynccontextmanager
    async def living(self) -> AsyncIterator[AsyncClient]:
        self._loop = asyncio.get_running_loop()
        async with self.app.router.lifespan_context(self.app):
            opening = asyncio.create_task(_open_whole(self.behind, self.app))
            yield AsyncClient(transport=ASGITransport(app=self.behind), base_url=BASE)
            self.may_go_on.set()
            await opening


def test_first_pages_are_answered_while_what_stands_behind_them_is_read(tmp_path: Path) -> None:
    async def look() -> None:
        opened = Opened(tmp_path)
        async with opened.living() as client:
            later = asyncio.create_task(client.get("/cases/NONE-1/mouth"))
            await opened.is_asked.wait()  # at once: somebody waits for it
            for place in ("/", "/bench", "/settings", "/static/page.css"):
                assert (await asyncio.wait_for(client.get(place), timeout=60)).status_code == 200
            assert not later.done()
            opened.may_go_on.set()
            answer = await later
            assert answer.status_code == 404
            assert "no case" in answer.text

    run_apart(look())


def test_the_published_description_is_never_half_of_it(tmp_path: Path) -> None:
    async def look() -> None:
        opened = Opened(tmp_path)
        async with opened.living() as client:
            asked = asyncio.create_task(client.get("/openapi.json"))
            await opened.is_asked.wait()
            assert not asked.done()
            opened.may_go_on.set()
            assert "/cases/{code}/mouth" in (await asked).json()["paths"]

    run_apart(look())


def test_what_stands_behind_is_opened_after_the_first_answer_without_being_asked_for(tmp_path: Path) -> None:
    async def look() -> None:
        opened = Opened(tmp_path)
        async with opened.living() as client:
            await client.get("/")
            await asyncio.wait_for(opened.is_asked.wait(), timeout=30)

    run_apart(look())


def test_a_rest_that_cannot_be_read_is_told_to_the_server_and_keeps_nobody_waiting(tmp_path: Path) -> None:
    async def look() -> None:
        opened = Opened(tmp_path, fails=True)
        async with opened.living() as client:
            asked = asyncio.create_task(client.get("/cases/NONE-1/mouth"))
            opened.may_go_on.set()
            with pytest.raises(ValueError, match="library is broken"):
                await asked
        assert [str(error) for error in opened.failures] == ["a library is broken"]

    run_apart(look())


def test_a_scan_is_measured_once_and_remembered_by_its_content(practice: Path) -> None:
    record = wiring.open_record(practice)
    files = record.files("DEMO-1")
    source = wiring.case_of_record(record, "DEMO-1")
    scan = next(s for s in source.load(now=NOW, clock=SetClock()).case.scan if s.file in files.hashes)
    measured = source.scan_volume(scan)
    kept = [path for path in (practice / "measured").iterdir() if files.hashes[scan.file] in path.name]
    assert len(kept) == 1
    blob = record.store.path_of(files.hashes[scan.file])
    hidden = blob.rename(blob.with_suffix(".hidden"))
    assert wiring.case_of_record(record, "DEMO-1").scan_volume(scan) == measured  # without a look at the scan
    hidden.rename(blob)
    for damage in (b"{", b"[]", b'{"enclosed_mm3": null, "under_mm3": "9", "plan_mm2": 1}', b'{"under_mm3": 1.0}'):
        kept[0].write_bytes(damage)
        assert wiring.case_of_record(record, "DEMO-1").scan_volume(scan) == measured
    record.close()
