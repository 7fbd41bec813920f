"""What ``seatwright record ...`` does: open the record, call one workflow, print."""

from collections.abc import Sequence
from pathlib import Path

from seatwright import record_wiring, wiring
from seatwright.cli import _show
from seatwright.cli._moment import parse_now
from seatwright.errors import InputError
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.practice import export_case, import_case
from seatwright.workflows.practice_log import Photo, keep_photo, log_events

__all__ = ["run_export", "run_import", "run_init", "run_log", "run_photo"]


def _print(kind: str, result: object) -> None:
    _show.print_json(make_envelope(f"record-{kind}", inputs=(), result=result, findings=()))


def run_init(folder: Path, *, by: str, database: str | None, as_json: bool) -> int:
    """Run `seatwright record init`."""
    record = wiring.create_record(folder, by=by, database=database)
    if as_json:
        _print("init", {"record": record.place.record_id, "folder": str(folder)})
    else:
        _show.say(f"An empty practice record is in {folder}.")
    return 0


def run_import(folder: Path, case: Path, *, by: str, reason: str, as_json: bool) -> int:
    """Run `seatwright record import`."""
    record = wiring.open_record(folder)
    files, source, base = record_wiring.open_case_files(case)
    done = import_case(record, files, source, by=by, reason=reason, clock=wiring.SystemClock(), base=base)
    record_wiring.measure_ahead(record, done.code)
    if as_json:
        _print("import", done)
    elif done.receipt is None:
        _show.say(f"{done.code}: the record has all of it already.")
    else:
        parts = [
            f"version {done.receipt.version}" if done.revised else "",
            f"{done.n_events} events" if done.n_events else "",
            f"{len(done.files)} files" if done.files else "",
        ]
        word = "new" if done.is_new else "added"
        _show.say(f"{done.code}: {word}: {', '.join(part for part in parts if part)}. It is on the disk.")
        _show.say(f"From now on it is {folder / done.code}, wherever a command takes a case.")
    return 0


def run_export(folder: Path, code: str, out: Path, *, as_json: bool) -> int:
    """Run `seatwright record export`."""
    target = out.resolve()
    written = export_case(wiring.open_record(folder), code, target.name, store=wiring.folder_store(target.parent))
    if as_json:
        _print("export", {"code": code, "folder": written})
    else:
        _show.say(f"{code} is in {written}")
    return 0


def run_log(folder: Path, code: str, texts: Sequence[str], *, by: str, at: str | None, as_json: bool) -> int:
    """Run `seatwright record log`."""
    record = wiring.open_record(folder)
    receipt = log_events(
        record,
        lambda: wiring.open_case(folder / code),
        texts,
        by=by,
        at=parse_now(at, option="--at"),
        clock=wiring.SystemClock(),
    )
    if as_json:
        _print("log", receipt)
    else:
        _show.say(f"{code}: event {receipt.n_events} is on the disk.")
    return 0


def run_photo(
    folder: Path, code: str, file: Path, *, about: str, units: str, by: str, at: str | None, as_json: bool
) -> int:
    """Run `seatwright record photo`."""
    record = wiring.open_record(folder)
    try:
        teeth = tuple(int(unit) for unit in units.split(",") if unit.strip())
    except ValueError as error:
        raise InputError(f"--units {units!r} are no tooth numbers", hint="such as 43,44") from error
    data, suffix = record_wiring.read_photo(file)
    receipt = keep_photo(
        record,
        lambda: wiring.open_case(folder / code),
        Photo(data, suffix, about, teeth),
        by=by,
        at=parse_now(at, option="--at"),
        clock=wiring.SystemClock(),
    )
    if as_json:
        _print("photo", receipt)
    else:
        _show.say(f"{code}: the photo is on the disk, with event {receipt.n_events}.")
    return 0
