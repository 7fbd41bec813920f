"""What was computed of each case, and for which state of it: begun when asked, kept until the case changes."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from seatwright.errors import SeatwrightError
from seatwright.jobs import JobState, JobView, WorkerPool
from seatwright.jobs.tasks import DossierAnswer, DossierOrder
from seatwright.web._hub import Change, Hub
from seatwright.workflows.ports import Clock
from seatwright.workflows.record_ports import StoredCase

__all__ = ["Checked", "Checks"]

_KEPT = 8  # judgement: cases that a practice looks at in an hour
_TASK = "seatwright.jobs.tasks:compute_dossier"


@dataclass(frozen=True, slots=True)
class Checked:
    """How the work on one state of a case stands; `answer` is None until it is done."""

    code: str
    version: int
    n_events: int
    job: JobView
    answer: DossierAnswer | None = None

    def is_of(self, case: StoredCase) -> bool:
        """Whether it was computed of the case as it is now."""
        return (self.version, self.n_events) == (case.version, case.n_events)


@dataclass(slots=True)
class Checks:
    """Work on cases, one piece per case.

    Parameters
    ----------
    record : Path
    pool : WorkerPool
    hub : Hub
    clock : Clock
    """

    record: Path
    pool: WorkerPool
    hub: Hub
    clock: Clock
    _known: OrderedDict[str, Checked] = field(default_factory=OrderedDict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def known(self, code: str) -> Checked | None:
        """Return the latest work on a case; None when there is none."""
        with self._lock:
            return self._known.get(code)

    def begin(self, case: StoredCase) -> Checked:
        """Begin the work on a case as it is now, unless it runs or is done."""
        with self._lock:
            known = self._known.get(case.code)
            if known is not None and known.is_of(case) and known.job.state is not JobState.FAILED:
                return known
            if known is not None and not known.job.state.is_over:
                self.pool.cancel(known.job.id)
            order = DossierOrder(self.record, case.code, self.clock.now(), f"/cases/{case.code}/files/")
            begun = Checked(case.code, case.version, case.n_events, JobView("", _TASK))
            self._known[case.code] = begun
            self._known.move_to_end(case.code)
            while len(self._known) > _KEPT:
                self._known.popitem(last=False)
            try:
                job = self.pool.submit(_TASK, order, on_change=self._listener(begun))
            except SeatwrightError:
                del self._known[case.code]  # nothing was begun that could be waited for or stopped
                raise
            if not self._known[case.code].job.id:
                self._known[case.code] = replace(begun, job=self.pool.view(job))
            return self._known[case.code]

    def cancel(self, code: str) -> None:
        """Stop the work on a case."""
        with self._lock:
            known = self._known.get(code)
        if known is not None and not known.job.state.is_over:
            self.pool.cancel(known.job.id)

    def _listener(self, begun: Checked) -> Callable[[JobView], None]:
        def changed(view: JobView) -> None:
            with self._lock:
                known = self._known.get(begun.code)
                if known is None or (known.version, known.n_events) != (begun.version, begun.n_events):
                    return
                answer = view.result if isinstance(view.result, DossierAnswer) else None
                self._known[begun.code] = replace(known, job=replace(view, result=None), answer=answer)
            self.hub.tell(Change("job", {"key": begun.code, "fraction": round(view.fraction, 3), "what": view.what}))

        return changed
