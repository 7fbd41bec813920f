"""Wrote ``schema_0003/`` with the version whose newest schema is 0003; kept to show how. Never run again.

Usage: ``PYTHONPATH=src:. python tests/golden/records/make_schema_0003.py FOLDER``, in a checkout of that version.
"""

import io
import sqlite3
import sys
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from PIL import Image
from tests.examples import demo_bench, demo_case, demo_events

from seatwright import record_wiring
from seatwright.files import FilesCaseSource, bench_to_toml, case_to_toml, events_to_jsonl
from seatwright.record import Accounts, Drafts, Passwords, Record, create_record
from seatwright.workflows.accounts import Access, add_account, set_disabled
from seatwright.workflows.entry import Draft
from seatwright.workflows.practice import import_case
from seatwright.workflows.practice_log import Photo, keep_photo, log_events
from seatwright.workflows.rights import Role

EVENTS = (
    '{"what": "material_used", "material": "resin gel", "lot": "G-7", "used_for": "die", "units": [43]}',
    (
        '{"what": "corrected", "corrects": 8, "reason": "misread the label", "instead": {"seq": 8, '
        '"at": "2026-03-20T08:00:00Z", "by": "technician", "what": "material_used", "material": "resin gel", '
        '"lot": "G-9", "used_for": "die", "units": [43]}}'
    ),
    '{"what": "measured", "quantity": "distance 33 to 43", "value": 24.31, "unit": "mm", "u": 0.02}',
    '{"what": "outcome", "outcome": "margin_chipped", "units": [43], "note": "facial"}',
)


@dataclass
class Clock:
    at: datetime = datetime(2026, 3, 20, 8, 0, tzinfo=UTC)

    def now(self) -> datetime:
        self.at += timedelta(minutes=1)
        return self.at


def bring(record: Record, clock: Clock, code: str, remark: bytes) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        case = demo_case().model_copy(update={"code": code, "as_of": None})
        (folder / "case.toml").write_bytes(remark + case_to_toml(case))
        (folder / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
        (folder / "log.jsonl").write_bytes(events_to_jsonl(demo_events()))
        for name in [scan.file for scan in case.scan] + [r.mesh for r in case.region if r.mesh]:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(f"stands for {name}\n".encode())
        files, source, base = record_wiring.open_case_files(folder)
        import_case(record, files, source, by="lead", reason="", clock=clock, base=base)


def bring_people(record: Record, clock: Clock) -> None:
    accounts = Accounts(record.database)
    for name, role in (("dentist", Role.DENTIST), ("technician", Role.TECHNICIAN)):
        add_account(accounts, Passwords(), name, role, "correct horse battery", by="lead", now=clock.now())
    accounts.tell(Access.SIGNED_IN, account="technician", address="192.0.2.7", now=clock.now())
    set_disabled(accounts, "technician", disabled=True, by="dentist", now=clock.now())


def main(target: Path) -> None:
    clock = Clock()
    record = create_record(target, now=clock.now(), by="lead")
    bring(record, clock, "GOLD-1", b"# written by hand\r\n")
    bring(record, clock, "GOLD-2", b"")
    for event in EVENTS:
        log_events(
            record, lambda: FilesCaseSource(record.files("GOLD-1")), [event], by="technician", at=None, clock=clock
        )
    picture = io.BytesIO()
    Image.new("RGB", (8, 8), "gray").save(picture, "PNG")
    keep_photo(
        record,
        lambda: FilesCaseSource(record.files("GOLD-1")),
        Photo(picture.getvalue(), "png", "margin of 43", (43,)),
        by="technician",
        at=None,
        clock=clock,
    )
    draft = Draft(
        code="GOLD-3", revision=1, base_version=0, document={"title": "entered by half"}, steps=(), last=0, by="lead",
        changed_at=clock.now(),
    )  # fmt: skip
    Drafts(record.database).save_draft(draft)
    bring_people(record, clock)
    record.close()
    with sqlite3.connect(target / "record.sqlite") as database:
        database.execute("PRAGMA journal_mode = DELETE")
    database.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
