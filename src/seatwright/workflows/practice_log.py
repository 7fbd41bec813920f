"""What happens to a case of the practice record, written down: checked first, and nothing of it or all of it.

Owns numbering and the second try when others write at the same moment. Knows neither folders nor databases.
"""

import json
from collections.abc import Callable, Sequence
from datetime import datetime

from seatwright.case import Event, fold_events, parse_event, stand_case, write_event
from seatwright.errors import CaseError, ConflictError, InputError
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock
from seatwright.workflows.record_ports import Change, LoggedLine, PracticeRecord, Receipt

__all__ = ["RecordLog", "load_whole", "log_events", "open_record_log"]

_MAX_ATTEMPTS = 100  # judgement: each loss means that another writer won, so that all get their turn


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
        self._version = version
        self._clock = clock
        self.receipt: Receipt | None = None
        """Of the latest append."""

    def append(self, *events: Event) -> None:
        """Add events, all of them or none; they are on the disk when this returns.

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
        change = Change(
            case=self._case,
            standing=stand_case(self._case, state, log),
            by=events[-1].by,
            after_version=self._version,
            after_events=len(self._events),
            lines=tuple(LoggedLine(event, f"{write_event(event)}\n".encode()) for event in events),
        )
        self.receipt = self._record.commit(change, now=now)
        self._events = log


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
    for attempt in range(_MAX_ATTEMPTS):
        bundle = load_whole(open_source(), clock=clock)
        moment = at or clock.now()
        events = [
            _read_event(text, seq=len(bundle.events) + i, at=moment, by=by) for i, text in enumerate(texts, start=1)
        ]
        log = open_record_log(record, bundle, clock=clock)
        try:
            log.append(*events)
        except ConflictError:
            if attempt == _MAX_ATTEMPTS - 1:
                raise
            continue
        if log.receipt is not None:
            return log.receipt
    raise InputError("no event is given", hint="give at least one")


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
