"""Cases into the practice record, byte for byte, and out of it again.

Owns what belongs together in one action. Knows neither folders nor databases.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from seatwright.case import Case, Event, PhotoTaken, effective_events, stand_case
from seatwright.errors import CaseError, ConflictError, Fault
from seatwright.workflows.ports import CaseFiles, CaseSource, Clock, FolderStore
from seatwright.workflows.practice_log import load_whole
from seatwright.workflows.record_ports import Change, KeptFile, LoggedLine, PracticeRecord, Receipt, Revision

__all__ = ["Imported", "export_case", "files_of_case", "import_case", "read_files"]

_MAX_BYTES = 2**31 - 1  # judgement: the adapters that read scans have the tighter limit


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import changed; `receipt` is None when the record had all of it already."""

    code: str
    receipt: Receipt | None
    is_new: bool
    revised: bool
    n_events: int
    files: tuple[str, ...]


def files_of_case(case: Case, events: Sequence[Event]) -> tuple[str, ...]:
    """Return the paths of every scan and photo that a case and its log name, once each."""
    named = [scan.file for scan in case.scan] + [region.mesh for region in case.region if region.mesh]
    if case.by_hand is not None:
        named += [name for name in (case.by_hand.distances, case.by_hand.gaps) if name is not None]
    return tuple(dict.fromkeys([*named, *_photos(events)]))


def _photos(events: Sequence[Event]) -> dict[str, str]:
    """Return the SHA-256 of each photo that the log names, by path."""
    return {event.file: event.sha256 for event in effective_events(events) if isinstance(event, PhotoTaken)}


def _require_true_photos(kept: Sequence[KeptFile], photos: Mapping[str, str]) -> None:
    faults = [
        Fault(file.path, "is not the photo that the log tells of", "put the original file back")
        for file in kept
        if photos.get(file.path, file.sha256) != file.sha256
    ]
    if faults:
        raise CaseError("photos were changed", hint=faults[0].hint, faults=faults)


def import_case(
    record: PracticeRecord,
    files: CaseFiles,
    source: CaseSource,
    *,
    by: str,
    reason: str,
    clock: Clock,
    base: tuple[str, str] | None = None,
) -> Imported:
    """Bring a case into the record, byte for byte: documents, log, scans; or what is new in it since.

    Parameters
    ----------
    record : PracticeRecord
    files, source : CaseFiles, CaseSource
        The raw files and what they say; `source` validates them together.
    by, reason : str
        Who brings it, and why the documents changed.
    clock : Clock
    base : pair of str, optional
        SHA-256 of case and bench document that the folder was exported with; None when it was made elsewhere.

    Raises
    ------
    CaseError
        The case is faulty; nothing is recorded.
    ConflictError
        The record's case was changed since the folder was exported, or its log is not the beginning of this one.
    """
    bundle = load_whole(source, clock=clock)
    case = bundle.case
    texts = {name: files.read(name, max_bytes=_MAX_BYTES) for name in ("case.toml", "bench.toml")}
    log = files.read("log.jsonl", max_bytes=_MAX_BYTES) if files.has("log.jsonl") else b""
    stored = record.find(case.code)
    known = record.files(case.code) if stored else None
    old_lines = _lines_of(known) if known else []
    lines = _split_lines(log)
    _require_longer(case.code, old_lines, lines)
    new_lines = tuple(
        LoggedLine(event, raw)
        for event, raw in zip(bundle.events[len(old_lines) :], lines[len(old_lines) :], strict=True)
    )
    is_revised = known is None or any(known.read(n, max_bytes=_MAX_BYTES) != text for n, text in texts.items())
    names = files_of_case(case, bundle.events)
    kept = [record.keep(name, files.read(name, max_bytes=_MAX_BYTES)) for name in names]
    _require_true_photos(kept, _photos(bundle.events))
    hashes = record.file_hashes(case.code) if stored else {}
    kept = [file for file in kept if hashes.get(file.path) != file.sha256]
    if stored and (is_revised or any(file.path in hashes for file in kept)):
        _require_base(record, case.code, stored.version, base)
    if stored and not (is_revised or new_lines or kept):
        return Imported(case.code, None, False, False, 0, ())
    change = Change(
        case=case,
        standing=stand_case(case, bundle.state, bundle.events),
        by=by,
        after_version=stored.version if stored else 0,
        after_events=len(old_lines),
        revision=Revision(texts["case.toml"], texts["bench.toml"], reason) if is_revised else None,
        files=kept,
        lines=new_lines,
    )
    receipt = record.commit(change, now=clock.now())
    return Imported(case.code, receipt, stored is None, is_revised, len(new_lines), tuple(k.path for k in kept))


def read_files(record: PracticeRecord, code: str) -> dict[str, bytes]:
    """Return every file of a case in the record: byte for byte as it came in, new events as canonical lines.

    Raises
    ------
    CaseError
        The record has no such case.
    """
    files = record.files(code)
    files.require()
    names = ["case.toml", "bench.toml", *(["log.jsonl"] if files.has("log.jsonl") else []), *record.file_hashes(code)]
    return {name: files.read(name, max_bytes=_MAX_BYTES) for name in names}


def export_case(record: PracticeRecord, code: str, folder: str, *, store: FolderStore) -> str:
    """Write a case of the record as a folder, whole or not at all; return its path."""
    store.require_free(folder)
    return store.write_whole(folder, read_files(record, code))


def _split_lines(log: bytes) -> list[bytes]:
    """Return the lines of a log with their ends, as they stand."""
    *whole, last = log.split(b"\n")
    return [line + b"\n" for line in whole] + ([last] if last else [])


def _lines_of(files: CaseFiles) -> list[bytes]:
    return _split_lines(files.read("log.jsonl", max_bytes=_MAX_BYTES)) if files.has("log.jsonl") else []


def _require_longer(code: str, old: Sequence[bytes], new: Sequence[bytes]) -> None:
    """Refuse a log that does not begin as the record's does; only the last line's end may have been added."""
    for number, line in enumerate(old, start=1):
        if number > len(new) or new[number - 1].rstrip(b"\r\n") != line.rstrip(b"\r\n"):
            what = "is not the record's" if number <= len(new) else "is missing"
            raise ConflictError(
                f"log.jsonl of case {code}: line {number} {what}; the log is only added to, never changed",
                hint="export the case again, and write a correction as a new event",
                details={"code": code, "line": number},
            )


def _require_base(record: PracticeRecord, code: str, version: int, base: tuple[str, str] | None) -> None:
    if base is None:
        raise ConflictError(
            f"the record has a case {code} already, and this folder's documents differ from it",
            hint="export the case from the record, edit that folder, and import it again",
        )
    found = record.version_of(code, case_sha256=base[0], bench_sha256=base[1])
    if found != version:
        raise ConflictError(
            f"case {code} was changed by somebody else: the folder was exported from version {found or 'unknown'}, "
            f"the record has version {version}",
            hint="export the case again, and make the change in that folder",
        )
