"""The live day: one touch starts or finishes a batch, a slip makes a new timetable, clocks tick.

Owns what the person at the bench can do and sees. Knows no terminal: keys come in as characters, the view goes out as
a value.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from seatwright.case import Event, Storage, fold_events
from seatwright.errors import InputError
from seatwright.pour import ImpressionPhase, PourResult, assess_pour
from seatwright.pour.timetable import (
    Fact,
    Placed,
    PlanOptions,
    Problem,
    Timetable,
    bring_work,
    build_problem,
    read_facts,
    replan,
)
from seatwright.workflows._live_rows import ClockRow, TaskRow, clock_row, task_row
from seatwright.workflows._touches import UnitsOf, event_of_storage, events_of_finish, events_of_start
from seatwright.workflows.plan import Plan
from seatwright.workflows.ports import EventLog
from seatwright.workflows.timetable import BenchDay, keep_of

__all__ = ["ClockRow", "LiveDay", "LiveView", "TaskRow"]

_PEOPLE_KEYS = "123456789"
_IDLE_KEYS = "mnoprstuvwxyz"
_IMPRESSION_KEYS = "abcdefghijkl"
_OVERDUE = timedelta(minutes=1)
_REPLAN_EACH = timedelta(seconds=30)
_REPLAN_S = 0.6


@dataclass(frozen=True, slots=True)
class LiveView:
    """All that the screen shows at one moment."""

    now: datetime
    headline: str
    people: tuple[TaskRow, ...]
    idle: tuple[TaskRow, ...]
    clocks: tuple[ClockRow, ...]
    changes: tuple[str, ...]
    message: str


@dataclass(slots=True)
class LiveDay:
    """A day at the bench. Every touch is logged before anything else happens.

    Parameters
    ----------
    day : BenchDay
        The timetable to begin with.
    logs : mapping of str to EventLog
        One log per case code.
    """

    day: BenchDay
    logs: Mapping[str, EventLog]
    timetable: Timetable = field(init=False)
    problem: Problem = field(init=False)
    changes: tuple[str, ...] = ()
    message: str = ""
    _events: dict[str, tuple[Event, ...]] = field(init=False)
    _base: Problem = field(init=False)
    _pours: dict[str, PourResult] = field(init=False)
    _last_replan: datetime = field(init=False)
    _last_seen: datetime = field(init=False)

    def __post_init__(self) -> None:
        self.timetable, self.problem, self._base = self.day.timetable, self.day.problem, self.day.problem
        self._events = {plan.bundle.case.code: plan.bundle.events for plan in self.day.plans}
        self._pours = {plan.bundle.case.code: plan.pour for plan in self.day.plans}
        self._last_replan = self._last_seen = self.day.now

    def facts(self, now: datetime) -> tuple[Fact, ...]:
        """Return everything known of every step up to `now`."""
        return tuple(
            fact
            for plan in self.day.plans
            for fact in read_facts(plan.bundle.case, self._events[plan.bundle.case.code], now=now)
        )

    def press(self, key: str, *, now: datetime) -> bool:
        """Do what a key stands for; return False for the key that ends the view.

        Raises
        ------
        InputError
            The clock went backwards.
        ConflictError, RecordError
            See `EventLog.append`; nothing is changed then.
        """
        self._require_forward(now)
        if key == "q":
            return False
        if key == "0":
            self._replan(now)
            self.message = f"Planned again: {len(self.changes) or 'no'} changes."
            return True
        for row in (*self._people(now), *self._idle(now)):
            if row.key == key:
                self._touch(row, now)
                return True
        for clock in self._clocks(now):
            if clock.key == key.lower() and clock.phase is ImpressionPhase.WAITING:
                self._store(clock, now, into_box=key.isupper())
                return True
        self.message = f"'{key}' does nothing now."
        return True

    def tick(self, *, now: datetime) -> None:
        """Let time pass; plan again when a step is overdue by more than a minute."""
        self._require_forward(now)
        if now - self._last_replan >= _REPLAN_EACH and self._is_overdue(now):
            self._replan(now)

    def view(self, *, now: datetime) -> LiveView:
        """Return what the screen shows."""
        return LiveView(
            now,
            self._headline(),
            self._people(now),
            self._idle(now),
            self._clocks(now),
            self.changes,
            self.message,
        )

    def _require_forward(self, now: datetime) -> None:
        if now < self._last_seen:
            raise InputError("the clock went backwards", hint="set the machine's clock right, then start again")
        self._last_seen = now

    def _headline(self) -> str:
        late = self.timetable.late
        if late:
            names = ", ".join(f"{row.impression} {row.by_min:.0f} min" for row in late)
            return f"Past its window: {names}."
        end = max((row.end for row in self.timetable.tasks), default=self.day.now).astimezone(self.day.zone)
        return f"Every pour in its window; done at {end:%H:%M}."

    def _started(self, now: datetime) -> dict[str, datetime]:
        """Return the rows that are running, with their start."""
        running = {}
        facts = {(f.case, f.impression, f.step, f.unit): f for f in self.facts(now)}
        for row in self.timetable.tasks:
            keys = [(row.case, row.impression, step, unit) for step in row.steps for unit in row.units or (0,)]
            found = [facts[key] for key in keys if key in facts]
            open_ones = [fact.started for fact in found if fact.started and not fact.finished]
            if open_ones:
                running[row.id] = min(open_ones)
        return running

    def _rows_left(self, now: datetime) -> list[Placed]:
        done = {task.id for task in self.problem.tasks if task.pin and task.pin.end_s <= self.problem.offset_s(now)}
        running = self._started(now)
        return [row for row in self.timetable.tasks if row.id in running or row.id not in done or not row.is_fixed]

    def _people(self, now: datetime) -> tuple[TaskRow, ...]:
        running = self._started(now)
        left = self._rows_left(now)
        rows = []
        for key, worker in zip(_PEOPLE_KEYS, self._base.workers, strict=False):
            mine = [row for row in left if row.who == worker.id]
            rows.append(task_row(key, worker.id, mine, running))
        return tuple(rows)

    def _idle(self, now: datetime) -> tuple[TaskRow, ...]:
        running = self._started(now)
        soon = now + timedelta(minutes=2)
        idle = [row for row in self._rows_left(now) if not row.who and (row.id in running or row.start <= soon)]
        return tuple(task_row(key, "", [row], running) for key, row in zip(_IDLE_KEYS, idle, strict=False))

    def _touch(self, row: TaskRow, now: datetime) -> None:
        target = row.now or row.next
        if target is None:
            self.message = f"{row.who or 'nobody'} has nothing left."
            return
        case = self._plan(target.case).bundle.case
        seq, by = len(self._events[target.case]) + 1, row.who or "bench"
        units_of = self._units_of(target)
        if row.now is None:
            events = events_of_start(target, units_of, seq=seq, at=now, by=by)
        else:
            events = events_of_finish(case, target, units_of, seq=seq, at=now, by=by, started=row.running_since)
        self._log(target.case, events)
        self.message = f"{'Started' if row.now is None else 'Done'}: {target.what} ({target.impression})."
        self._replan(now)

    def _units_of(self, row: Placed) -> UnitsOf:
        def units_of(step: str) -> tuple[int, ...]:
            known = tuple(u for u in row.units if (row.case, row.impression, step, u) in self.day.cards)
            return known or row.units

        return units_of

    def _store(self, clock: ClockRow, now: datetime, *, into_box: bool) -> None:
        if into_box:
            storage = Storage.HUMID_BOX
        else:
            storage = Storage.DAMP_WRAP if clock.storage in (Storage.OPEN_AIR, Storage.DRY) else Storage.OPEN_AIR
        seq = len(self._events[clock.case]) + 1
        self._log(clock.case, (event_of_storage(clock.impression, storage, seq=seq, at=now, by="bench"),))
        self.message = f"{clock.impression}: {storage.value.replace('_', ' ')} from now on."
        self._replan(now)

    def _log(self, case: str, events: tuple[Event, ...]) -> None:
        self.logs[case].append(*events)
        self._events[case] = (*self._events[case], *events)

    def _plan(self, code: str) -> Plan:
        return next(plan for plan in self.day.plans if plan.bundle.case.code == code)

    def _replan(self, now: datetime) -> None:
        self._base = self._rebuilt(now)
        options = PlanOptions(limit_s=_REPLAN_S, keep=keep_of(self.day.plans), zone=self.day.zone)
        self.problem, self.timetable = replan(self._base, self.timetable, self.facts(now), now=now, options=options)
        self.changes = self.timetable.changes
        self._last_replan = now

    def _rebuilt(self, now: datetime) -> Problem:
        """Return the day's problem with the clocks as they stand now; cards, names and reserves stay."""
        works = []
        for plan in self.day.plans:
            bundle, code = plan.bundle, plan.bundle.case.code
            state = fold_events(self._events[code], bundle.case, now=now)
            cards = plan.dies.cards_by_impression()
            self._pours[code] = assess_pour(bundle.case, state, bundle.bench, die_cards=cards, now=now)
            for impression in bundle.case.current_impressions():
                if any(w.case == code and w.impression == impression.id for w in self.day.problem.windows):
                    clock = self._pours[code].clock(impression.id)
                    mine = cards.get(impression.id, ())
                    works.append(bring_work(bundle.case, impression, bundle.bench, clock=clock, die_cards=mine))
        fresh = build_problem(works, self.day.bench, now=self.day.problem.origin)
        held = {(w.case, w.impression): w.reserve_s for w in self.day.problem.windows}
        windows = tuple(replace(w, reserve_s=held.get((w.case, w.impression), 0)) for w in fresh.windows)
        return replace(fresh, windows=windows)

    def _is_overdue(self, now: datetime) -> bool:
        running = self._started(now)
        for row in self._rows_left(now):
            if row.id in running and now - row.end > _OVERDUE:
                return True
            if row.id not in running and now - row.start > _OVERDUE:
                return True
        return False

    def _clocks(self, now: datetime) -> tuple[ClockRow, ...]:
        rows = []
        for plan in self.day.plans:
            bundle = plan.bundle
            state = fold_events(self._events[bundle.case.code], bundle.case, now=now)
            pour = self._pours[bundle.case.code]
            rows += [clock_row(bundle.case.code, clock, state, self.timetable, now=now) for clock in pour.impressions]
        return tuple(replace(row, key=key) for key, row in zip(_IMPRESSION_KEYS, rows, strict=False))
