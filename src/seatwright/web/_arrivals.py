"""Scans that were brought and wait for a person's word: on the disk in the record's own area, read by a worker.

Nothing of them is part of a case before they are kept; what nobody keeps is taken away.
"""

import secrets
import threading
import time
from collections import OrderedDict
from dataclasses import dataclass, field, replace

from seatwright.errors import ConflictError, InputError, RecordError
from seatwright.files import check_arrival_name
from seatwright.jobs import JobState, JobView, WorkerPool
from seatwright.jobs.scan_tasks import ArrivalOrder, ArrivedScan
from seatwright.record import Arriving, Record, free_bytes
from seatwright.web._hub import Change, Hub
from seatwright.web._settings import ServeSettings

__all__ = ["Arrival", "Arrivals"]

_AT_ONCE = 6  # judgement: both scans of three cases
_FORGOTTEN_S = 3600.0  # judgement: nobody thinks longer about a scan
_SPARE_BYTES = 500_000_000  # judgement: what the record itself needs to go on
_TASK = "seatwright.jobs.scan_tasks:read_scan"


@dataclass(frozen=True, slots=True)
class Arrival:
    """A scan that was brought.

    Attributes
    ----------
    id : str
    code : str
        Case that it was brought to.
    name : str
        As the browser calls it: shown, never a path.
    suffix : str
    file : Arriving
    begun_s : float
        On a clock that only runs forwards.
    job : JobView or None
        The reading of it; None while it comes in.
    scan : ArrivedScan or None
        What it looks like, once it is read.
    """

    id: str
    code: str
    name: str
    suffix: str
    file: Arriving
    begun_s: float
    job: JobView | None = None
    scan: ArrivedScan | None = None

    @property
    def is_busy(self) -> bool:
        """Whether it is still coming in or being read."""
        return self.job is None or not self.job.state.is_over


@dataclass(slots=True)
class Arrivals:
    """All scans that wait."""

    settings: ServeSettings
    pool: WorkerPool
    hub: Hub
    _known: OrderedDict[str, Arrival] = field(default_factory=OrderedDict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def begin(self, record: Record, code: str, name: str, n_bytes: int) -> Arrival:
        """Make room for a scan whose bytes come next; `n_bytes` as the browser states it, 0 when it does not.

        Raises
        ------
        InputError
            The name is none of a surface file, or the file is too large.
        ConflictError
            Too many scans wait already.
        RecordError
            The disk has no room for it.
        """
        suffix = check_arrival_name(name)
        self.check_size(name, n_bytes)
        if free_bytes(record) < n_bytes + _SPARE_BYTES:
            raise RecordError("the disk of the record has no room for this scan", hint="free some space, then retry")
        with self._lock:
            self._make_room()
            made = Arrival(secrets.token_hex(8), code, name, suffix, record.receive(), time.monotonic())
            self._known[made.id] = made
        return made

    def check_size(self, name: str, n_bytes: int) -> None:
        """Refuse a file that is larger than what is taken."""
        if n_bytes > self.settings.max_upload_bytes:
            raise InputError(
                f"{name}: {n_bytes / 1e6:.0f} MB; at most {self.settings.max_upload_bytes / 1e6:.0f} MB are taken",
                hint="export it as binary, thin it out, or cut away what is not needed",
            )

    def read(self, arrival: Arrival) -> None:
        """Let a worker read what has come in."""
        if not arrival.file.n_bytes:
            self.drop(arrival.id)
            raise InputError(f"{arrival.name}: the file is empty", hint="copy or export the scan again")
        order = self.order_of(arrival)

        def changed(view: JobView) -> None:
            with self._lock:
                known = self._known.get(arrival.id)
                if known is None:
                    return
                scan = view.result if isinstance(view.result, ArrivedScan) else None
                self._known[arrival.id] = replace(known, job=replace(view, result=None), scan=scan)
            if view.state in (JobState.FAILED, JobState.CANCELLED):
                known.file.discard()  # what cannot be kept takes no room
            self.hub.tell(Change("job", {"key": f"scan-{arrival.id}"}))

        self.pool.submit(_TASK, order, on_change=changed, time_limit_s=self.settings.read_limit_s)

    def order_of(self, arrival: Arrival) -> ArrivalOrder:
        """Return how a worker is asked to read a scan."""
        limits = self.settings.max_upload_bytes, self.settings.max_triangles
        return ArrivalOrder(arrival.file.path, arrival.name, *limits)

    def get(self, code: str, arrival_id: str) -> Arrival | None:
        """Return a scan that was brought to a case; None when it is gone."""
        with self._lock:
            known = self._known.get(arrival_id)
        return known if known is not None and known.code == code else None

    def drop(self, arrival_id: str) -> None:
        """Stop reading a scan and take it away; one that is gone already is no error."""
        with self._lock:
            known = self._known.pop(arrival_id, None)
        if known is not None:
            if known.job is not None and not known.job.state.is_over:
                self.pool.cancel(known.job.id)
            known.file.discard()

    def close(self) -> None:
        """Take all away."""
        for arrival_id in list(self._known):
            self.drop(arrival_id)

    def _make_room(self) -> None:
        now = time.monotonic()
        for known in list(self._known.values()):
            if now - known.begun_s > _FORGOTTEN_S or not (known.is_busy or known.scan):
                self.drop(known.id)
        if len(self._known) >= _AT_ONCE:
            raise ConflictError(f"{_AT_ONCE} scans wait to be kept already", hint="keep or put away one of them first")
