"""The live day: one touch starts or finishes a batch, a slip makes a new timetable, clocks tick.

Owns what the person at the bench can do and sees. Knows no terminal: keys come in as characters, the view goes out as
a value.
"""

from collections.abc import Mapping
from dataclasses import InitVar, dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial

from seatwright.case import Event, ImpressionRole, Storage
from seatwright.errors import ConflictError, InputError
from seatwright.pour import ImpressionPhase
from seatwright.pour.timetable import Placed, PlanOptions, Problem, Timetable, replan
from seatwright.workflows._count_entry import CountEntry, Found
from seatwright.workflows._day_record import DayRecord
from seatwright.workflows._guard import Guard
from seatwright.workflows._live_rows import ClockRow, LiveView, TaskRow, clock_row, say_headline, task_row
from seatwright.workflows._take_back import Slip, events_of_taking_back
from seatwright.workflows._touches import event_of_storage, events_of_finish, events_of_start, next_storage
from seatwright.workflows.ports import EventLog
from seatwright.workflows.timetable import BenchDay, keep_of

__all__ = ["ClockRow", "CountEntry", "Found", "LiveDay", "LiveView", "Slip", "TaskRow"]

_PEOPLE_KEYS = "123456789"
_IDLE_KEYS = "mnoprstvwxyz"
_IMPRESSION_KEYS = "abcdefghijkl"
_OVERDUE = timedelta(minutes=1)
_REPLAN_EACH = timedelta(seconds=30)
_REPLAN_S = 0.6
_OFFER_S = 0.3  # together below a second


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
    logs: InitVar[Mapping[str, EventLog]]
    timetable: Timetable = field(init=False)
    problem: Problem = field(init=False)
    changes: tuple[str, ...] = ()
    message: str = ""
    offer: str = ""
    count: CountEntry | None = None
    record: DayRecord = field(init=False)
    _base: Problem = field(init=False)
    _last_replan: datetime = field(init=False)
    _last_seen: datetime = field(init=False)
    _guard: Guard = field(default_factory=Guard)

    def __post_init__(self, logs: Mapping[str, EventLog]) -> None:
        self.record = DayRecord(self.day, logs)
        self.timetable, self.problem, self._base = self.day.timetable, self.day.problem, self.day.problem
        self._last_replan = self._last_seen = self.day.now

    def press(self, key: str, *, now: datetime, by: str = "") -> bool:
        """Do what a key stands for, logged as done `by` (else by the row's hands); False for the key that ends it.

        Raises
        ------
        InputError
            The clock went backwards.
        ConflictError, RecordError
            See `EventLog.append`; nothing is changed then.
        """
        self._require_forward(now)
        if self.count is not None:
            self._press_count(key, now)
            return True
        if key == "q":
            return False
        general = {"0": self.plan_again, "-": self._begin_count, "u": self._take_back_latest}.get(key)
        if general is not None:
            general(now=now)
            return True
        for row in (*self._people(now), *self._idle(now)):
            if row.key == key:
                self._touch(row, now, by)
                return True
        for clock in self._clocks(now):
            if clock.key == key.lower() and clock.phase is ImpressionPhase.WAITING:
                self._store(clock, now, into_box=key.isupper())
                return True
        self.message = f"'{key}' does nothing now."
        return True

    def plan_again(self, *, now: datetime) -> None:
        """Plan again, moving what starts within minutes too."""
        self._require_forward(now)
        self._replan(now, may_move_close=True)
        self.message = f"Planned again, what is close moved too: {len(self.changes) or 'no'} changes."

    def tick(self, *, now: datetime) -> None:
        """Let time pass; plan again when a step is overdue by more than a minute."""
        self._require_forward(now)
        if now - self._last_replan >= _REPLAN_EACH and self._is_overdue(now):
            self._replan(now)

    def view(self, *, now: datetime) -> LiveView:
        """Return what the screen shows."""
        return LiveView(
            now,
            say_headline(self.timetable, self.record.holds, self.day.zone, now=now),
            self._people(now),
            self._idle(now),
            self._clocks(now),
            self.changes,
            " ".join(filter(None, (self.message, self.offer))),
            tuple(f"{finding.what} {finding.do}" for finding in self.record.holds),
            self.count,
            self.record.recent_touches(now),
            advice=tuple(f.do for f in self.timetable.findings if f.id == "timetable-late"),
        )

    def _require_forward(self, now: datetime) -> None:
        if now < self._last_seen:
            raise InputError("the clock went backwards", hint="set the machine's clock right, then start again")
        self._last_seen = now

    def _started(self, now: datetime) -> dict[str, datetime]:
        """Return the rows that are running, with their start."""
        running = {}
        facts = {(f.case, f.impression, f.step, f.unit): f for f in self.record.facts(now)}
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
        running, left = self._started(now), self._rows_left(now)
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

    def _touch(self, row: TaskRow, now: datetime, by: str) -> None:
        target = row.now or row.next
        if target is None:
            self.message = f"{row.who or 'nobody'} has nothing left."
            return
        objection = self._guard.objection(row, self.problem, now=now)
        if objection:
            self.message = objection
            return
        case = self.record.plan(target.case).bundle.case
        if row.now is not None and row.counts:
            lifts = case.impression_by_id(target.impression).lifts
            self.count = CountEntry.begin(target.case, target.impression, lifts, by=by or row.who)
            return
        seq, by = self.record.next_seq(target.case), by or row.who or "bench"
        units_of = partial(self.record.units_of, target)
        if row.now is None:
            events = events_of_start(target, units_of, seq=seq, at=now, by=by)
        else:
            events = events_of_finish(case, target, units_of, seq=seq, at=now, by=by, started=row.running_since)
        said = f"{'Started' if row.now is None else 'Done'}: {target.what} ({target.impression})."
        self.write_down(target.case, events, now=now, said=said, hands=row.who)

    def _begin_count(self, *, now: datetime) -> None:
        """Open the count of the pick-up whose crowns are being counted, else of the first one out of the mouth."""
        running = [row.now for row in self._people(now) if row.now and "count-crowns" in row.now.steps]
        waiting = [(row.case, row.impression) for row in self._clocks(now) if row.phase is ImpressionPhase.WAITING]
        names = [*((row.case, row.impression) for row in running), *waiting]
        for code, name in names:
            impression = self.record.plan(code).bundle.case.impression_by_id(name)
            if impression.role is ImpressionRole.PICK_UP:
                self.count = CountEntry.begin(code, name, impression.lifts)
                self.message = ""
                return
        self.message = "No pick-up is out of the mouth: there are no crowns to count."

    def _press_count(self, key: str, now: datetime) -> None:
        if self.count is None:
            return
        if key == "q":
            self.count, self.message = None, "The count was left; nothing was logged."
        elif self.count.is_logged_by(key):
            self.log_count(self.count, now=now)
        else:
            self.count, self.message = self.count.typed(key)

    def log_count(self, count: CountEntry, *, now: datetime, by: str = "bench") -> None:
        """Log a count of crowns as it is, and plan again."""
        self._require_forward(now)
        event = count.event(seq=self.record.next_seq(count.case), at=now, by=by)
        self.record.add(count.case, (event,))
        self.count = None
        self.message = "Counted: all crowns firm in the tray." if count.is_good else "Counted, and logged as it is."
        if not count.is_good:
            self.record.choose_dies_again(count.case, now)
        self._replan(now)

    def _store(self, clock: ClockRow, now: datetime, *, into_box: bool) -> None:
        is_wet = self.record.plan(clock.case).bundle.case.impression_by_id(clock.impression).material.is_hydrocolloid
        storage = next_storage(clock.storage, is_wet=is_wet, into_box=into_box)
        if storage is None:
            self.message = f"{clock.impression} is no alginate: it is kept dry, never in the humid box."
            return
        self.keep(clock.case, clock.impression, storage, now=now)

    def keep(self, case: str, impression: str, storage: Storage, *, now: datetime, by: str = "bench") -> None:
        """Log how an impression is kept from now on, and plan again."""
        event = event_of_storage(impression, storage, seq=self.record.next_seq(case), at=now, by=by)
        self.write_down(case, (event,), now=now, said=f"{impression}: {storage.value.replace('_', ' ')} from now on.")

    def write_down(self, case: str, events: tuple[Event, ...], *, now: datetime, said: str, hands: str = "") -> None:
        """Log what `hands` did, say it, and plan again."""
        self._require_forward(now)
        self.record.add(case, events, hands=hands)
        self.message = said
        self._replan(now)

    def take_back(self, case: str, seq: int, *, now: datetime, by: str = "bench") -> None:
        """Log that a fresh touch did not happen, and plan again; the touch itself stays in the log.

        Raises
        ------
        ConflictError
            It is too old, or was taken back already.
        CaseError
            Something later rests on it.
        """
        self._require_forward(now)
        slip = next((one for one in self.record.recent_touches(now) if (one.case, one.seq) == (case, seq)), None)
        if slip is None:
            raise ConflictError("this touch can be taken back no longer", hint="write a correction into the record")
        self.record.add(case, events_of_taking_back(slip, seq=self.record.next_seq(case), at=now, by=by))
        self.record.choose_dies_again(case, now)
        self.message = f"Taken back: {slip.said}. It stays in the record, with its correction."
        self._replan(now)

    def _take_back_latest(self, *, now: datetime) -> None:
        if slips := self.record.recent_touches(now):
            self.take_back(slips[0].case, slips[0].seq, now=now)
        else:
            self.message = "No touch of the last five minutes is left to take back."

    def _replan(self, now: datetime, *, may_move_close: bool = False) -> None:
        self._base = self.record.problem(now)
        before, facts = self.timetable, self.record.facts(now)
        options = PlanOptions(
            limit_s=_REPLAN_S,
            keep=keep_of(self.day.plans),
            zone=self.day.zone,
            may_move_close=may_move_close,
            past=self.day.past,
        )
        self.problem, self.timetable = replan(self._base, before, facts, now=now, options=options)
        self.changes, self.offer = self.timetable.changes, ""
        self._last_replan = now
        if len(self.timetable.late) > len(before.late) and not may_move_close:
            freely = replace(options, limit_s=_OFFER_S, may_move_close=True)
            _, other = replan(self._base, before, facts, now=now, options=freely)
            if len(other.late) < len(self.timetable.late):
                self.offer = "Plan again (0) to move what starts within five minutes too: " + (
                    "then every pour is in its window." if not other.late else "then fewer are late."
                )

    def _is_overdue(self, now: datetime) -> bool:
        running = self._started(now)
        ends = (row.end if row.id in running else row.start for row in self._rows_left(now))
        return any(now - end > _OVERDUE for end in ends)

    def _clocks(self, now: datetime) -> tuple[ClockRow, ...]:
        rows = []
        for plan in self.day.plans:
            bundle = plan.bundle
            state = self.record.state(bundle.case.code, now)
            pour = self.record.pours[bundle.case.code]
            current = {impression.id for impression in bundle.case.current_impressions()}
            clocks = [clock for clock in pour.impressions if clock.impression in current]
            rows += [clock_row(bundle.case, clock, state, self.timetable, now=now) for clock in clocks]
        return tuple(replace(row, key=key) for key, row in zip(_IMPRESSION_KEYS, rows, strict=False))
