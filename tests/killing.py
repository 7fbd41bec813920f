"""A process that writes to a record until it is killed, and the account of what it was told is on the disk.

The writer is a fork, so that a hundred of them take seconds; it opens the record anew, as a program of its own would.
It says what it begins and what was acknowledged through a pipe; the parent kills it at a random moment in between.
"""

import json
import os
import signal
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from tests.examples import demo_bench, demo_case, demo_events

from seatwright.case import PhotoTaken
from seatwright.errors import InputError
from seatwright.files import FilesCaseSource, bench_to_toml, case_to_toml, events_to_jsonl
from seatwright.record import Record, open_record, verify_record
from seatwright.workflows.practice import import_case, read_files
from seatwright.workflows.practice_log import Photo, keep_photo, log_events
from seatwright.workflows.record_lists import PageWish

__all__ = ["Account", "MemoryCase", "bring", "check_account", "kill_a_writer"]

LOGGED_CASE = "LOGGED"
SCAN_BYTES = 20_000


@dataclass(frozen=True)
class MemoryCase:
    """Raw files of a case held in memory; implements `CaseFiles`."""

    title: str
    files: Mapping[str, bytes]

    def require(self) -> None: ...

    def has(self, name: str) -> bool:
        return name in self.files

    def check(self, name: str) -> tuple[str, str] | None:
        return None if name in self.files else (f"{name} is missing", "")

    def read(self, name: str, *, max_bytes: int) -> bytes:
        if name not in self.files:
            raise InputError("is missing")
        return self.files[name]


def make_case(code: str, *, scan_bytes: int) -> MemoryCase:
    """Return the example case with stand-ins for its scans, all of them its own."""
    case = demo_case().model_copy(update={"code": code, "as_of": None})
    rng = np.random.default_rng(sum(code.encode()))
    files = {
        "case.toml": case_to_toml(case),
        "bench.toml": bench_to_toml(demo_bench()),
        "log.jsonl": events_to_jsonl(demo_events()),
        **{scan.file: code.encode() + rng.bytes(scan_bytes) for scan in case.scan},
        **{region.mesh: code.encode() for region in case.region if region.mesh},
    }
    return MemoryCase(code, files)


class _Clock:
    def __init__(self) -> None:
        self._start = datetime(2026, 3, 20, 8, 0, tzinfo=UTC)
        self._since = time.monotonic_ns()

    def now(self) -> datetime:
        return self._start + timedelta(microseconds=(time.monotonic_ns() - self._since) // 1000)


CLOCK = _Clock()
"""Runs on over all writers, as a machine's clock does."""


def bring(record: Record, code: str, *, scan_bytes: int = SCAN_BYTES) -> None:
    """Import a case that is made in memory."""
    files = make_case(code, scan_bytes=scan_bytes)
    import_case(record, files, FilesCaseSource(files), by="lead", reason="", clock=CLOCK)


@dataclass
class Account:
    """What the writers said, over all kills."""

    n_kills: int = 0
    n_between: int = 0
    """Kills after an action began and before it was acknowledged."""
    acknowledged: list[dict[str, object]] = field(default_factory=list)


def _write_until_killed(folder: Path, number: int, say: Callable[[str, Mapping[str, object]], None]) -> None:
    record = open_record(folder)
    turn = 0
    while True:
        turn += 1
        kind = ("log", "import", "photo", "log")[turn % 4]
        name = f"K{number}-{turn}"
        say("begin", {"kind": kind, "name": name})
        if kind == "import":
            bring(record, name)
            say("done", {"kind": kind, "name": name})
            continue

        def source() -> FilesCaseSource:
            return FilesCaseSource(record.files(LOGGED_CASE))

        if kind == "log":
            event = json.dumps({"what": "decided", "decision": name, "reason": "test"})
            receipt = log_events(record, source, [event], by="lead", at=None, clock=CLOCK)
        else:
            photo = Photo(name.encode() * 500, "jpg", name)
            receipt = keep_photo(record, source, photo, by="lead", at=None, clock=CLOCK)
        say("done", {"kind": kind, "name": name, "n_events": receipt.n_events})


def kill_a_writer(folder: Path, account: Account, rng: np.random.Generator, *, within_s: float = 0.06) -> None:
    """Start a writer, let it acknowledge a few actions, and kill it (signal 9) a random moment later."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)

        def say(word: str, what: Mapping[str, object]) -> None:
            os.write(writing, (json.dumps({"word": word, **what}) + "\n").encode())

        try:
            _write_until_killed(folder, account.n_kills, say)
        except BaseException as error:  # told to the parent, which fails the test
            say("failed", {"error": f"{type(error).__name__}: {error}"})
        os._exit(1)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        said = [pipe.readline() for _ in range(int(rng.integers(2, 9)))]
        time.sleep(float(rng.uniform(0, within_s)))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        said += pipe.readlines()
    words = [json.loads(line) for line in said if line]
    failed = [word for word in words if word["word"] == "failed"]
    assert not failed, failed
    account.n_kills += 1
    account.n_between += words[-1]["word"] == "begin"
    account.acknowledged += [word for word in words if word["word"] == "done"]


def check_account(record: Record, account: Account) -> None:
    """Fail unless every acknowledged write is there, and nothing is there by half."""
    verified = verify_record(record.database, record.store)
    assert verified.damages == ()
    logged = FilesCaseSource(record.files(LOGGED_CASE)).load(now=CLOCK.now(), clock=CLOCK)
    told = {event.seq: getattr(event, "decision", "") or getattr(event, "about", "") for event in logged.events}
    files = read_files(record, LOGGED_CASE)
    for done in account.acknowledged:
        if done["kind"] == "import":
            assert record.find(str(done["name"])) is not None, f"{done} is lost"
        else:
            assert told.get(int(str(done["n_events"]))) == done["name"], f"{done} is lost"
    photos = [event for event in logged.events if isinstance(event, PhotoTaken)]
    assert all(files[photo.file] == photo.about.encode() * 500 for photo in photos)
    page = record.list_cases(PageWish(1000), text="K")
    for case in page.rows:
        assert read_files(record, case.code) == make_case(case.code, scan_bytes=SCAN_BYTES).files
    assert page.next == ""
