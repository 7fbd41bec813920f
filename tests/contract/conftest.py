"""The record on both databases: every test of this folder runs on SQLite and on PostgreSQL."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import create_engine, make_url, text
from tests.examples import demo_bench, demo_case, demo_events
from tests.postgres_server import require_server_programs, running_server

from seatwright import record_wiring
from seatwright.files import bench_to_toml, case_to_toml, events_to_jsonl
from seatwright.record import Record, create_record, open_record
from seatwright.workflows.practice import Imported, import_case

START = datetime(2026, 3, 20, 8, 0, tzinfo=UTC)


@dataclass(slots=True)
class SetClock:
    """A clock that a test sets; each look moves it on by a second."""

    at: datetime = START

    def now(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """Address of a PostgreSQL server: the one named by SEATWRIGHT_POSTGRES_URL, or one started here."""
    if url := os.environ.get("SEATWRIGHT_POSTGRES_URL"):
        yield url
        return
    with running_server(require_server_programs()) as server:
        yield server.url


@pytest.fixture(params=["sqlite", "postgres"])
def new_address(request: pytest.FixtureRequest) -> Iterator[Callable[[], str | None]]:
    """Give the address of a new, empty database with each call; None stands for a file in the record's folder."""
    if request.param == "sqlite":
        yield lambda: None
        return
    url = make_url(request.getfixturevalue("postgres_url"))
    engine = create_engine(url.set(drivername="postgresql+psycopg"))
    schemas: list[str] = []

    def make() -> str:
        schemas.append(f"record_{uuid4().hex}")
        with engine.begin() as connection:
            connection.execute(text(f"CREATE SCHEMA {schemas[-1]}"))
        return url.update_query_dict({"options": f"-csearch_path={schemas[-1]}"}).render_as_string(hide_password=False)

    yield make
    with engine.begin() as connection:
        for schema in schemas:
            connection.execute(text(f"DROP SCHEMA {schema} CASCADE"))
    engine.dispose()


@dataclass(slots=True)
class Practice:
    """An empty record, a clock, and ways to put the example case into it."""

    folder: Path
    record: Record
    clock: SetClock
    work: Path

    def write_folder(self, name: str = "case", *, code: str = "DEMO-7", **other: object) -> Path:
        """Write the example case, with two stand-ins for its scans, as a folder."""
        folder = self.work / name
        case = demo_case().model_copy(update={"code": code, "as_of": None, **other})
        folder.mkdir()
        (folder / "case.toml").write_bytes(case_to_toml(case))
        (folder / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
        (folder / "log.jsonl").write_bytes(events_to_jsonl(demo_events()))
        named = [scan.file for scan in case.scan] + [r.mesh for r in case.region if r.mesh]
        for name_inside in named:
            path = folder / name_inside
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(f"scan {name_inside}\r\n\0".encode())
        return folder

    def bring(self, folder: Path, *, by: str = "lead", reason: str = "") -> Imported:
        """Import a case folder."""
        files, source, base = record_wiring.open_case_files(folder)
        return import_case(self.record, files, source, by=by, reason=reason, clock=self.clock, base=base)

    def reopen(self) -> Record:
        """Open the record anew, as another process would."""
        return open_record(self.folder)


@pytest.fixture
def practice(new_address: Callable[[], str | None], tmp_path: Path) -> Iterator[Practice]:
    clock = SetClock()
    folder = tmp_path / "practice"
    record = create_record(folder, now=clock.now(), by="lead", database=new_address())
    yield Practice(folder, record, clock, tmp_path)
    record.close()
