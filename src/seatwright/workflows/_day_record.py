"""What is known of the day so far: logs, dies, clocks, what is held back; and the problem that follows from it.

Owns everything that a touch changes before anybody plans. Knows no keys and no screen.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from seatwright.case import CaseState, Event, StepCard, fold_events
from seatwright.dies import DieResult, choose_dies
from seatwright.findings import Finding
from seatwright.pour import ImpressionPhase, PourResult, assess_pour
from seatwright.pour.timetable import Fact, Placed, Problem, build_problem, read_facts
from seatwright.workflows._bench_works import cards_of, works_of
from seatwright.workflows._take_back import Slip, recent_touches
from seatwright.workflows.plan import Plan
from seatwright.workflows.ports import EventLog
from seatwright.workflows.timetable import BenchDay

__all__ = ["DayRecord"]


@dataclass(slots=True)
class DayRecord:
    """The day as logged.

    Parameters
    ----------
    day : BenchDay
        As it began.
    logs : mapping of str to EventLog
        One per case code.
    """

    day: BenchDay
    logs: Mapping[str, EventLog]
    holds: tuple[Finding, ...] = field(init=False)
    pours: dict[str, PourResult] = field(init=False)
    _events: dict[str, tuple[Event, ...]] = field(init=False)
    _dies: dict[str, DieResult] = field(init=False)
    _cards: dict[tuple[str, str, str, int], StepCard] = field(init=False)
    _hands: dict[tuple[str, int], str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        plans = {plan.bundle.case.code: plan for plan in self.day.plans}
        self._events = {code: plan.bundle.events for code, plan in plans.items()}
        self.pours = {code: plan.pour for code, plan in plans.items()}
        self._dies = {code: plan.dies for code, plan in plans.items()}
        self._cards, self.holds = dict(self.day.cards), self.day.holds

    def plan(self, code: str) -> Plan:
        """Return the plan of a case."""
        return next(plan for plan in self.day.plans if plan.bundle.case.code == code)

    def facts(self, now: datetime) -> tuple[Fact, ...]:
        """Return everything known of every step up to `now`."""
        return tuple(
            fact
            for plan in self.day.plans
            for fact in read_facts(plan.bundle.case, self._events_by_hands(plan.bundle.case.code), now=now)
        )

    def _events_by_hands(self, code: str) -> tuple[Event, ...]:
        """Return a log in which a step is by the hands that the plan gave it to, whoever wrote it down."""
        known = self._hands
        return tuple(
            event.model_copy(update={"by": known[code, event.seq]}) if (code, event.seq) in known else event
            for event in self._events[code]
        )

    def state(self, code: str, now: datetime) -> CaseState:
        """Return where a case stands."""
        return fold_events(self._events[code], self.plan(code).bundle.case, now=now)

    @property
    def cards(self) -> Mapping[tuple[str, str, str, int], StepCard]:
        """Every step card by case, impression, step and unit."""
        return self._cards

    def next_seq(self, code: str) -> int:
        """Return the number of the next line in a case's log."""
        return len(self._events[code]) + 1

    def add(self, code: str, events: tuple[Event, ...], *, hands: str = "") -> None:
        """Log events; nothing is known here that could not be written. `hands` did them, whoever writes it down."""
        self.logs[code].append(*events)
        self._hands.update({(code, event.seq): hands for event in events if hands and event.by != hands})
        self._events[code] = (*self._events[code], *events)

    def recent_touches(self, now: datetime) -> tuple[Slip, ...]:
        """Return what can be taken back at `now`, of all cases, the latest first."""
        found = [slip for code, events in self._events.items() for slip in recent_touches(code, events, now=now)]
        return tuple(sorted(found, key=lambda slip: slip.until, reverse=True))

    def units_of(self, row: Placed, step: str) -> tuple[int, ...]:
        """Return the units of a row on which one of its steps is done: a separator, say, is not for all."""
        known = tuple(unit for unit in row.units if (row.case, row.impression, step, unit) in self._cards)
        return known or row.units

    def choose_dies_again(self, code: str, now: datetime) -> None:
        """Let the die table see a count: a crown that is not there gets no die."""
        self._dies[code] = choose_dies(self.plan(code).bundle.case, self.state(code, now))

    def problem(self, now: datetime) -> Problem:
        """Return the day's problem with clocks, counts and dies as they stand now; names and reserves stay."""
        works, holds = [], []
        for plan in self.day.plans:
            bundle, code = plan.bundle, plan.bundle.case.code
            cards = self._dies[code].cards_by_impression()
            state = self.state(code, now)
            self.pours[code] = assess_pour(bundle.case, state, bundle.bench, die_cards=cards, now=now)
            over = frozenset(c.impression for c in plan.pour.impressions if c.phase is ImpressionPhase.SEPARATED)
            mine, held = works_of(bundle, self.pours[code], cards, left_out=over)
            works += mine
            holds += held
        self.holds, self._cards = tuple(holds), {**self.day.cards, **cards_of(works)}
        fresh = build_problem(works, self.day.bench, now=self.day.problem.origin)
        reserves = {(w.case, w.impression): w.reserve_s for w in self.day.problem.windows}
        windows = tuple(replace(w, reserve_s=reserves.get((w.case, w.impression), 0)) for w in fresh.windows)
        return replace(fresh, windows=windows)
