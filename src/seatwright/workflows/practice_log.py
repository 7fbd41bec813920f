"""What happens to a case of the practice record, written down: checked first, and nothing of it or all of it.

Owns numbering and the second try when others write at the same moment. Knows neither folders nor databases.
"""

import hashlib
import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime

from seatwright.case import Event, PhotoTaken, fold_events, parse_event, stand_case, write_event
from seatwright.errors import CaseError, ConflictError, InputError
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock
from seatwright.workflows.record_ports import Change, KeptFile, LoggedLine, PracticeRecord, Receipt

__all__ = ["Photo", "RecordLog", "keep_photo", "load_whole", "log_events", "open_record_log"]

_MAX_ATTEMPTS = 100  # judgement: each loss means that another writer won, so that all get their turn


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo as it was given: its bytes, the kind of file (``jpg``), and what it shows."""

    data: bytes
    suffix: str
    about: str = ""
    units: tuple[int, ...] = ()


def load_whole(source: CaseSource, *, clock: Clock) -> CaseBundle:
    """Read a case with its whole log: as of the present; a stored example of a later day as of its own moment.

    Raises
    ------
    CaseError
        With every fault found.
    """
    try:
        return source.load(now=clock.now(), clock=clock)
    except CaseError:
        return source.load(now=None, clock=clock)


class RecordLog:
    """The log of a case in the record; implements `workflows.ports.EventLog`.

    Parameters
    ----------
    record : PracticeRecord
    bundle : CaseBundle
        The case as it was read; what somebody else changes afterwards is a conflict.
    version : int
        Version of the documents that were read.
    clock : Clock
        Tells when an event is recorded; when it happened stands in the event.
    """

    def __init__(self, record: PracticeRecord, bundle: CaseBundle, *, version: int, clock: Clock) -> None:
        self._record = record
        self._case = bundle.case
        self._events = bundle.events
        self._standing = stand_case(bundle.case, bundle.state, bundle.events)
        self._version = version
        self._clock = clock
        self.receipt: Receipt | None = None
        """Of the latest append."""

    def append(self, *events: Event, files: Sequence[KeptFile] = ()) -> None:
        """Add events, with files that they name, all of them or none; they are on the disk when this returns.

        Raises
        ------
        CaseError
            The log would not add up.
        ConflictError
            Somebody else changed the case.
        """
        if not events:
            return
        now = self._clock.now()
        log = (*self._events, *events)
        state = fold_events(log, self._case, now=max(now, *(event.at for event in events)))
        standing = stand_case(self._case, state, log)
        change = Change(
            case=self._case,
            standing=standing if standing != self._standing else None,
            by=events[-1].by,
            after_version=self._version,
            after_events=len(self._events),
            files=files,
            lines=tuple(LoggedLine(event, f"{write_event(event)}\n".encode()) for event in events),
        )
        self.receipt = self._record.commit(change, now=now)
        self._events, self._standing = log, standing


def open_record_log(record: PracticeRecord, bundle: CaseBundle, *, clock: Clock) -> RecordLog:
    """Return the log of a case that was read from the record.

    Raises
    ------
    ConflictError
        Its documents are no longer those that were read.
    """
    hashes = {file.name: file.sha256 for file in bundle.inputs}
    code = bundle.case.code
    version = record.version_of(code, case_sha256=hashes["case.toml"], bench_sha256=hashes.get("bench.toml"))
    if version is None:
        raise ConflictError(f"case {code} was changed by somebody else", hint="read the case again")
    return RecordLog(record, bundle, version=version, clock=clock)


def log_events(
    record: PracticeRecord,
    open_source: Callable[[], CaseSource],
    texts: Sequence[str],
    *,
    by: str,
    at: datetime | None,
    clock: Clock,
) -> Receipt:
    """Write down what happened to a case, each event given as JSON text; number, time and person are filled in.

    Parameters
    ----------
    record : PracticeRecord
    open_source : callable
        Reads the case anew; called again when somebody else wrote at the same moment.
    texts : sequence of str
        At least one.
    by : str
    at : datetime, optional
        When it happened, where the text does not say; the present moment otherwise.
    clock : Clock

    Raises
    ------
    InputError
        A text is no event.
    CaseError
        The log would not add up.
    ConflictError
        Others wrote at the same moment, again and again.
    """
    if not texts:
        raise InputError("no event is given", hint="give at least one")

    def read(bundle: CaseBundle) -> list[Event]:
        moment, n = at or clock.now(), len(bundle.events)
        return [_read_event(text, seq=n + i, at=moment, by=by) for i, text in enumerate(texts, start=1)]

    return _append(record, open_source, read, clock=clock)


def keep_photo(
    record: PracticeRecord,
    open_source: Callable[[], CaseSource],
    photo: Photo,
    *,
    by: str,
    at: datetime | None,
    clock: Clock,
) -> Receipt:
    """Keep a photo with its case, byte for byte, and write down that it was taken.

    Raises
    ------
    CaseError
        A unit is none of the case's, or the log would not add up.
    """
    sha256 = hashlib.sha256(photo.data).hexdigest()
    kept = record.keep(f"photos/{sha256[:16]}.{photo.suffix}", photo.data)

    def tell(bundle: CaseBundle) -> list[Event]:
        return [
            PhotoTaken(
                seq=len(bundle.events) + 1,
                at=at or clock.now(),
                by=by,
                file=kept.path,
                sha256=sha256,
                about=photo.about,
                units=photo.units,
            )
        ]

    return _append(record, open_source, tell, clock=clock, files=(kept,))


def _append(
    record: PracticeRecord,
    open_source: Callable[[], CaseSource],
    make_events: Callable[[CaseBundle], list[Event]],
    *,
    clock: Clock,
    files: Sequence[KeptFile] = (),
) -> Receipt:
    """Add the events made from the case as it is; read it anew when somebody else wrote in between."""
    for _ in range(_MAX_ATTEMPTS):
        bundle = load_whole(open_source(), clock=clock)
        log = open_record_log(record, bundle, clock=clock)
        with suppress(ConflictError):
            log.append(*make_events(bundle), files=files)
        if log.receipt is not None:
            return log.receipt
    raise ConflictError(
        f"others wrote to the case {_MAX_ATTEMPTS} times in between", hint="try again; nothing was written"
    )


def _read_event(text: str, *, seq: int, at: datetime, by: str) -> Event:
    where = f"event {text[:40]!r}"
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"{where} is not JSON", hint='write it like {"what": "rinsed", "impression": "p1"}') from error
    if isinstance(data, dict):
        data = {"seq": seq, "at": at.isoformat(), "by": by, **data}
    event, faults = parse_event(data, file="event")
    if event is None:
        raise InputError(f"{where} is no event", hint="docs/reference/event.schema.json lists them", faults=faults)
    return event
