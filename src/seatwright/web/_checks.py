"""What was computed of each case and for which state of it: each work by itself, then the papers from what there is.

Begun when asked, kept until the case reads otherwise: on the disk, so that the server's memory does not grow with what
it has looked at. The lock here is never held while the pool is asked: the pool calls back with its own lock held.
"""

import itertools
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from seatwright.errors import Cancelled, SeatwrightError
from seatwright.jobs import JobState, JobView, WorkerPool
from seatwright.jobs.tasks import DossierAnswer, DossierOrder, PartAnswer, PartOrder, ShelvedParts
from seatwright.record import Shelf
from seatwright.web._hub import Change, Hub
from seatwright.workflows.parts import Part
from seatwright.workflows.ports import Clock

__all__ = ["PAPERS", "WORKS", "Checked", "Checks"]

PAPERS = "papers"
WORKS = (*(part.value for part in Part), PAPERS)
"""Every work, in the order of the job."""
_KEPT = 8  # judgement: cases that a practice looks at in an hour
_TASKS = "seatwright.jobs.tasks"
_FIRST = tuple(part.value for part in Part if part is not Part.FORECAST)
_WAITS_FOR_CAST = Cancelled("it rests on the cast check, which is not there", hint="compute the cast check first")


@dataclass(frozen=True, slots=True)
class Checked:
    """How the works on one state of a case stand; `answer` is None until its papers are done.

    `turn` tells one beginning from the next, so that what an older one brings is let go.
    """

    code: str
    content: str
    """SHA-256 of all that it was computed from; see `Practice.content_of`."""
    turn: int
    place: Path
    """Folder that everything computed of it lies below."""
    works: Mapping[str, JobView]
    parts: ShelvedParts = field(default_factory=dict)
    answer: DossierAnswer | None = None

    def is_of(self, content: str) -> bool:
        """Whether it was computed of a case that reads like this."""
        return self.content == content

    @property
    def is_over(self) -> bool:
        """Whether nothing more comes by itself."""
        return all(work.state.is_over for work in self.works.values())

    @property
    def is_done(self) -> bool:
        """Whether all of it is there."""
        return all(work.state is JobState.DONE for work in self.works.values())


@dataclass(slots=True)
class Checks:
    """Works on cases.

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
    _shelf: Shelf = field(init=False)
    _known: OrderedDict[str, Checked] = field(default_factory=OrderedDict)
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _turns: "itertools.count[int]" = field(default_factory=lambda: itertools.count(1))

    def __post_init__(self) -> None:
        """Name the place of the results; nothing is made there before the first."""
        self._shelf = Shelf(self.record)

    def close(self) -> None:
        """Let go of everything that was computed; no work may run any more."""
        self._shelf.close()

    def known(self, code: str) -> Checked | None:
        """Return how the works on a case stand; None when none were begun."""
        with self._lock:
            return self._known.get(code)

    def begin(self, code: str, content: str) -> Checked:
        """Begin the works on a case as it is now, unless they run or were done, stopped or refused already."""
        with self._lock:
            old = self._known.get(code)
            if old is not None and old.is_of(content):
                return old
            works = {work: JobView("", work) for work in WORKS}
            made = Checked(code, content, next(self._turns), self._shelf.make_place(), works)
            self._known[code] = made
            self._known.move_to_end(code)
            let_go = [self._known.popitem(last=False)[1] for _ in range(len(self._known) - _KEPT)]
        for gone in [*let_go, *([old] if old is not None else [])]:
            self._stop(gone, WORKS)
            self._shelf.drop(gone.place)
        try:
            for work in _FIRST:
                self._submit(made, work)
        except SeatwrightError:
            with self._lock:  # nothing was begun that could be waited for or stopped
                if self._known.get(code, made).turn == made.turn:
                    self._known.pop(code, None)
            self._shelf.drop(made.place)
            raise
        return self.known(code) or made

    def again(self, code: str, content: str, work: str) -> Checked:
        """Begin one work anew, with the papers and with what rests on it."""
        known = self.begin(code, content)
        if work not in WORKS or not known.works[work].state.is_over:
            return known
        afresh = {work, PAPERS} | ({Part.FORECAST.value} if work == Part.CAST.value else set())
        with self._lock:
            known = self._known[code]
            works = {name: JobView("", name) if name in afresh else view for name, view in known.works.items()}
            self._known[code] = known = replace(known, works=works)
        if work in _FIRST:
            self._submit(known, work)
        else:
            self._go_on(known)
        return self.known(code) or known

    def cancel(self, code: str, work: str = "") -> None:
        """Stop one work on a case, or all of them."""
        known = self.known(code)
        self._stop(known, (work,) if work in WORKS else WORKS)

    def _stop(self, known: Checked | None, works: tuple[str, ...]) -> None:
        if known is None:
            return
        for work in works:  # what was not begun yet is not begun any more, whatever ends now
            self._end_unbegun(known, work, Cancelled("stopped before it began"))
        for work in works:
            job = known.works[work]
            if not job.state.is_over and job.id:
                self.pool.cancel(job.id)
        now = self.known(known.code)
        if now is not None and now.turn == known.turn:
            self._go_on(now)

    def _end_unbegun(self, known: Checked, work: str, error: Cancelled) -> None:
        with self._lock:
            now = self._known.get(known.code)
            if now is None or now.turn != known.turn or now.works[work].id or now.works[work].state.is_over:
                return
            view = JobView("", work, JobState.CANCELLED, error=error)
            self._known[known.code] = replace(now, works={**now.works, work: view})

    def _submit(self, known: Checked, work: str) -> None:
        now = self.clock.now()
        order: object
        if work == PAPERS:
            base = f"/cases/{known.code}/files/"
            order = DossierOrder(self.record, known.code, now, base, known.parts, known.place)
        else:
            order = PartOrder(self.record, known.code, now, Part(work), known.parts, known.place)
        task = f"{_TASKS}:{'compute_dossier' if work == PAPERS else 'compute_part'}"
        job = self.pool.submit(task, order, on_change=self._listener(known, work))
        with self._lock:
            here = self._known.get(known.code)
            if here is not None and here.turn == known.turn and not here.works[work].id:
                view = replace(here.works[work], id=job)
                self._known[known.code] = replace(here, works={**here.works, work: view})

    def _listener(self, begun: Checked, work: str) -> Callable[[JobView], None]:
        def changed(view: JobView) -> None:
            with self._lock:
                known = self._known.get(begun.code)
                if known is None or known.turn != begun.turn:
                    return
                before, known = known, replace(known, works={**known.works, work: replace(view, result=None)})
                if isinstance(view.result, PartAnswer):
                    known = replace(known, parts={**known.parts, view.result.part.value: view.result.value})
                elif isinstance(view.result, DossierAnswer):
                    known = replace(known, answer=view.result)
                self._known[begun.code] = known
            if known.answer is not before.answer and before.answer is not None:
                self._shelf.drop(before.answer.folder)
            if view.state.is_over:
                self._go_on(known)
            self.hub.tell(Change("job", {"key": begun.code, "fraction": round(view.fraction, 3), "what": view.what}))

        return changed

    def _go_on(self, known: Checked) -> None:
        """Begin what waited for what is over now: the forecast for the cast check, the papers for everything."""
        cast, forecast = known.works[Part.CAST.value], known.works[Part.FORECAST.value]
        if _is_unbegun(forecast) and cast.state is JobState.DONE:
            self._submit(known, Part.FORECAST.value)
            return
        if _is_unbegun(forecast) and cast.state.is_over:
            self._end_unbegun(known, Part.FORECAST.value, _WAITS_FOR_CAST)
            known = self.known(known.code) or known
        others = [view for work, view in known.works.items() if work != PAPERS]
        if _is_unbegun(known.works[PAPERS]) and all(view.state.is_over for view in others):
            self._submit(known, PAPERS)


def _is_unbegun(view: JobView) -> bool:
    return not view.id and not view.state.is_over
