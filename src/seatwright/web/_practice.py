"""The practice record as the page uses it: opened once, asked by code, told to others when it changes."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from seatwright import wiring
from seatwright.case import Bench, Equipment, Person, Skill
from seatwright.errors import ConflictError
from seatwright.files import bench_to_toml
from seatwright.record import Record, is_record_folder
from seatwright.workflows.bench_file import BenchCase, keep_bench
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock, EventLog
from seatwright.workflows.practice_log import load_whole, log_events
from seatwright.workflows.record_ports import EarlierBench

if TYPE_CHECKING:
    from seatwright.workflows.entry import Desk, DraftStore

__all__ = ["Practice"]

_FIRST_BENCH = Bench(
    schema=1,
    person=(Person(id="bench", role="whoever is at the bench", skills=tuple(Skill)),),
    equipment=(Equipment(id="mixer-1", kind="vacuum_mixer"), Equipment(id="vibrator-1", kind="vibrator")),
)
"""Bench of a practice's first case, until its own is entered: one pair of hands, one mixer. Judgement."""

_LARGEST_LOG = 50_000_000  # judgement: some 200,000 events


@dataclass(slots=True)
class Practice:
    """One practice.

    Parameters
    ----------
    folder : Path
        Of the record; made where there is none yet.
    clock : Clock
        Tells the moment at which cases are looked at and things happen.
    writing : Clock
        Tells when it is written down: the machine's own, which the record never lets run backwards.
    """

    folder: Path
    clock: Clock
    writing: Clock = field(default_factory=wiring.SystemClock)
    _record: Record | None = field(default=None)

    @property
    def record(self) -> Record:
        """The open record."""
        if self._record is None:
            is_there = is_record_folder(self.folder)
            made = (
                wiring.open_record(self.folder)
                if is_there
                else wiring.create_record(self.folder, by="page", database=None)
            )
            self._record = made
        return self._record

    @property
    def drafts(self) -> "DraftStore":
        """Plans that are being entered."""
        return wiring.drafts_of_record(self.record)

    def desk(self, by: str) -> "Desk":
        """Return the desk at which somebody enters plans."""
        from seatwright.workflows.entry import Desk  # noqa: PLC0415 - the day at the bench needs none

        return Desk(self.record, self.drafts, by, self.writing)

    def source(self, code: str) -> CaseSource:
        """Return where a case is read from."""
        return wiring.case_of_record(self.record, code)

    def log(self, bundle: CaseBundle) -> EventLog:
        """Return the log of a case that was read."""
        return wiring.log_of_record(self.record, bundle, self.writing)

    def load(self, code: str) -> CaseBundle:
        """Read a case with its whole log."""
        return load_whole(self.source(code), clock=self.clock)

    def content_of(self, code: str) -> str:
        """Return the SHA-256 of all that a case holds: documents and log byte for byte, scans by their own.

        Raises
        ------
        UnknownCase
            The record has no such case.
        """
        files, mark = self.record.files(code), sha256()
        files.require()
        for name in ("case.toml", "bench.toml", "log.jsonl"):
            data = files.read(name, max_bytes=_LARGEST_LOG) if files.has(name) else b""
            mark.update(f"{name} {len(data)}\n".encode() + data)
        mark.update(json.dumps(sorted(files.hashes.items())).encode())
        return mark.hexdigest()

    def write_down(self, code: str, event: Mapping[str, object], *, by: str) -> None:
        """Log that something happened to a case just now."""
        log_events(
            self.record, lambda: self.source(code), [json.dumps(event)], by=by, at=self.clock.now(), clock=self.writing
        )

    def bench_toml(self, code: str) -> bytes:
        """Return the bench that goes with a case: its own, else that of the case changed last, else a first one."""
        found = code if self.record.find(code) else self._latest_code()
        if found is None:
            return bench_to_toml(_FIRST_BENCH)
        return self.record.files(found).read("bench.toml", max_bytes=1_000_000)

    def benches(self) -> tuple[EarlierBench, ...]:
        """Return every bench that the case changed last had, the present one first; none before there is a case."""
        code = self._latest_code()
        return () if code is None else self.record.benches_of(code)

    def keep_bench(self, bench_toml: bytes, *, by: str) -> tuple[str, ...]:
        """Give every case at the bench this bench, else the case changed last; return their codes.

        Raises
        ------
        ConflictError
            There is no case yet, or one was changed by somebody else meanwhile.
        """
        latest = self._latest_code()
        codes = [code for code, _, _ in self.standing_at_bench()]
        cases = []
        for code in dict.fromkeys([*codes, *([latest] if latest else [])]):
            stored = self.record.find(code)
            if stored is not None:
                plan = self.record.files(code).read("case.toml", max_bytes=1_000_000)
                cases.append(BenchCase(self.load(code), plan, stored.version))
        if not cases:
            raise ConflictError("no case is in the record yet", hint="begin a case first: its bench is kept with it")
        return keep_bench(self.record, cases, bench_toml, by=by, clock=self.writing)

    def standing_at_bench(self) -> tuple[tuple[str, int, int], ...]:
        """Return the cases with an impression that is out of the mouth and not separated: code, version, events."""
        return self.record.list_standing()

    def _latest_code(self) -> str | None:
        latest = self.record.find_latest()
        return None if latest is None else latest.code

    def close(self) -> None:
        """Give the database back."""
        if self._record is not None:
            self._record.close()
            self._record = None
