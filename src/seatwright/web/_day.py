"""The bench's live day, held once for all browsers: read from the record, touched, planned again, told.

Each touch names what it means (a task, an impression), never a key or a place on somebody's screen: screens may be a
moment old.
"""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo

from seatwright.case import StepCard, Storage
from seatwright.errors import ConflictError
from seatwright.pour.timetable import Placed
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock, EventLog
from seatwright.workflows.take_over import offer_steps, take_over
from seatwright.workflows.timetable import PlanSettings, plan_bench_day
from seatwright.workflows.today import CountEntry, LiveDay, LiveView, TaskRow

__all__ = ["BenchCases", "DayKeeper", "DayView"]

_SETTINGS = PlanSettings(limit_s=2.0, n_runs=0, remedies_s=0.0)


@dataclass(frozen=True, slots=True)
class BenchCases:
    """How the day reads what it is about.

    Attributes
    ----------
    standing : callable
        Cases at the bench now: code, version of the plan, number of events.
    source, log : callable
        Of one case.
    """

    standing: Callable[[], tuple[tuple[str, int, int], ...]]
    source: Callable[[str], CaseSource]
    log: Callable[[str, CaseBundle], EventLog]


@dataclass(frozen=True, slots=True)
class DayView:
    """The live view with the zone that its times are shown in; `live` is None on a day without work."""

    now: datetime
    live: LiveView | None = None
    zone: tzinfo | None = None
    problem: str = ""


@dataclass(slots=True)
class DayKeeper:
    """Builds the day when first asked, and again after somebody else wrote into the record.

    Parameters
    ----------
    cases : BenchCases
    clock : Clock
    """

    cases: BenchCases
    clock: Clock
    _live: LiveDay | None = None
    _built: bool = False
    _known: tuple[tuple[str, int, int], ...] = ()
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def forget(self) -> None:
        """Read everything anew at the next look."""
        with self._lock:
            self._live, self._built = None, False

    def is_stale(self) -> bool:
        """Whether somebody else (a command, another server) wrote about a case at the bench since the last look."""
        with self._lock:
            return self._built and self.cases.standing() != self._known

    def view(self) -> DayView:
        """Return what every screen shows now; plans anew where a step is overdue."""
        with self._lock:
            live, now = self._ready(), self.clock.now()
            if live is None:
                return DayView(now)
            live.tick(now=now)
            return DayView(now, live.view(now=now), live.day.zone)

    def touch(self, task: str, *, by: str = "") -> str:
        """Start or finish the task of this id, and return what was done; empty `by` stands for the row's own hands.

        Raises
        ------
        ConflictError
            It is no longer the next or the running task of its person: somebody else was faster.
        """
        with self._lock:
            live, now = self._require(), self.clock.now()
            view = live.view(now=now)
            for row in (*view.people, *view.idle):
                target = row.now or row.next
                if target is not None and target.id == task:
                    if row.counts:
                        raise ConflictError(f"{target.what} ends with the count", hint="say of each crown where it is")
                    return self._press(live, row.key, now, by)
        raise ConflictError("this step was started or finished already", hint="look at the page as it is now")

    def offers(self, who: str) -> tuple[TaskRow, ...]:
        """Return the steps of colleagues that these hands could take over."""
        with self._lock:
            return offer_steps(self._require(), who, now=self.clock.now())

    def take_over(self, task: str, who: str, *, by: str = "", every: bool = False) -> str:
        """Log that these hands do a colleague's step from now on, or all that run with it; return what was done."""
        with self._lock:
            live, now = self._require(), self.clock.now()
            self._guard(lambda: take_over(live, task, who, now=now, by=by, every=every))
            return live.message

    def keep(self, case: str, impression: str, storage: Storage, *, by: str = "") -> str:
        """Log how an impression is kept from now on, and return what was done."""
        with self._lock:
            live, now = self._require(), self.clock.now()
            if not any((row.case, row.impression) == (case, impression) for row in live.view(now=now).clocks):
                raise ConflictError(f"impression {impression} waits no longer", hint="look at the page as it is now")
            self._guard(lambda: live.keep(case, impression, storage, now=now, by=by or "bench"))
            return live.message

    def take_back(self, case: str, seq: int, *, by: str = "") -> str:
        """Log that a fresh touch did not happen, and return what was done."""
        with self._lock:
            live, now = self._require(), self.clock.now()
            self._guard(lambda: live.take_back(case, seq, now=now, by=by or "bench"))
            return live.message

    def plan_again(self) -> str:
        """Plan again, moving what is close too, and return what came of it."""
        with self._lock:
            live, now = self._require(), self.clock.now()
            live.plan_again(now=now)
            return live.message

    def begin_count(self, case: str, impression: str) -> CountEntry:
        """Return a count of the crowns that the impression lifts, none of them judged yet.

        Raises
        ------
        ConflictError
            It is no pick-up whose crowns wait to be counted.
        """
        with self._lock:
            live = self._require()
            clocks = live.view(now=self.clock.now()).clocks
            if not any((row.case, row.impression) == (case, impression) and row.is_pick_up for row in clocks):
                raise ConflictError(
                    f"{impression[:40]!r} is no pick-up whose crowns are counted now",
                    hint="look at the bench as it is now",
                )
            planned = live.record.plan(case).bundle.case.impression_by_id(impression)
            return CountEntry.begin(case, impression, planned.lifts)

    def hands(self) -> tuple[str, ...]:
        """Return who works at the bench, by code."""
        with self._lock:
            return tuple(row.who for row in self._require().view(now=self.clock.now()).people)

    def count(self, entry: CountEntry) -> str:
        """Log where each crown was found, and return what follows.

        Raises
        ------
        InputError
            A crown is not judged yet.
        """
        with self._lock:
            live, now = self._require(), self.clock.now()
            self._guard(lambda: live.log_count(entry, now=now))
            return live.message

    def cards_of(self, task: Placed) -> tuple[StepCard, ...]:
        """Return the step cards of a task, in order."""
        with self._lock:
            cards = self._require().record.cards
            keys = [(task.case, task.impression, step, unit) for step in task.steps for unit in task.units or (0,)]
            return tuple(cards[key] for key in keys if key in cards)

    def _press(self, live: LiveDay, key: str, now: datetime, by: str) -> str:
        self._guard(lambda: live.press(key, now=now, by=by))
        return live.message

    def _guard(self, act: Callable[[], object]) -> None:
        """Do it; a log that others wrote into makes the day stale, to be read anew."""
        try:
            act()
        except ConflictError:
            self._live, self._built = None, False
            raise
        self._known = self.cases.standing()

    def _require(self) -> LiveDay:
        live = self._ready()
        if live is None:
            raise ConflictError("nothing is at the bench any more", hint="look at the page as it is now")
        return live

    def _ready(self) -> LiveDay | None:
        standing = self.cases.standing()
        if not self._built or standing != self._known:
            self._live = self._build([code for code, *_ in standing])
            self._built, self._known = True, standing
        return self._live

    def _build(self, codes: Sequence[str]) -> LiveDay | None:
        """Plan from the bench's clock: the moment that a stored case is looked at plays no part here."""
        if not codes:
            return None
        sources = [self.cases.source(code) for code in codes]
        day = plan_bench_day(sources, now=self.clock.now(), clock=self.clock, settings=_SETTINGS)
        logs: Mapping[str, EventLog] = {
            plan.bundle.case.code: self.cases.log(plan.bundle.case.code, plan.bundle) for plan in day.plans
        }
        return LiveDay(day, logs)
