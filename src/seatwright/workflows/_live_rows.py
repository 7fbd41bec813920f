"""Rows of the live view: who is at what, and how each impression stands at this minute."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from seatwright.case import Case, CaseState, ImpressionRole, Storage
from seatwright.findings import Finding
from seatwright.pour import Band, CostStep, ImpressionClock, ImpressionPhase
from seatwright.pour.timetable import Late, Placed, Timetable
from seatwright.workflows._count_entry import CountEntry
from seatwright.workflows._take_back import Slip

__all__ = ["ClockRow", "LiveView", "TaskRow", "clock_row", "say_headline", "task_row"]

_COUNT = "count-crowns"


@dataclass(frozen=True, slots=True)
class TaskRow:
    """What one person, or one step without hands, is at."""

    key: str
    who: str
    """Empty for a step without hands."""
    now: Placed | None
    running_since: datetime | None
    next: Placed | None
    touch: str
    """What the key does."""
    after: Placed | None = None
    """What comes after `next`."""
    beside: tuple[Placed, ...] = ()
    """Further steps of theirs that run, beside `now`."""

    @property
    def counts(self) -> bool:
        """Whether it ends with a count in which every crown is judged by itself."""
        return self.now is not None and self.now.steps == (_COUNT,)


@dataclass(frozen=True, slots=True)
class ClockRow:
    """One impression that waits for its stone, or in which stone sets."""

    key: str
    case: str
    impression: str
    phase: ImpressionPhase
    storage: Storage | None
    age_min: float | None
    minutes_left: float | None
    band: Band
    error_um: tuple[float, float] | None
    """Change over the longest span and its standard uncertainty; None where no number is supported."""
    pour_at: datetime | None
    is_pick_up: bool = False
    is_wet: bool = True
    """Whether it is a hydrocolloid, to be kept moist."""


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
    holds: tuple[str, ...] = ()
    """What forbids to go on with an impression, each with what to do."""
    count: CountEntry | None = None
    """A count of crowns that is being entered; the keys belong to it until it is logged or left."""
    slips: tuple[Slip, ...] = ()
    """Touches that can be taken back now, the latest first."""
    advice: tuple[str, ...] = ()
    """What to do about each pour that is or will be late."""

    @property
    def is_grave(self) -> bool:
        """Whether something is held, or late."""
        return bool(self.holds or self.advice)


def say_headline(timetable: Timetable, holds: Sequence[Finding], zone: tzinfo, *, now: datetime) -> str:
    """Return the day in one sentence: what is held, what is or will be late, else when all is done."""
    held = ", ".join(sorted({finding.about for finding in holds}))
    before = f"{held} is held. " if held else ""
    if timetable.late:
        return before + " ".join(_say_late(timetable.late, now))
    if not timetable.tasks:
        return f"{before}Nothing else is left to do." if held else "Nothing is left to do."
    end = max(row.end for row in timetable.tasks).astimezone(zone)
    return f"{before}Every {'other ' if held else ''}pour in its window; done at {end:%H:%M}."


def _say_late(late: Sequence[Late], now: datetime) -> Iterator[str]:
    for is_past, words in ((True, "Past its window"), (False, "Will miss its window")):
        rows = [row for row in late if (row.window_end <= now) is is_past]
        if rows:
            names = ", ".join(f"{row.impression} {'' if is_past else 'by '}{row.by_min:.0f} min" for row in rows)
            yield f"{words}: {names}."


def task_row(key: str, who: str, rows: Sequence[Placed], running: Mapping[str, datetime]) -> TaskRow:
    """Return what one person is at and what comes next; `rows` are theirs that are not done, by start."""
    under_way = [row for row in rows if row.id in running]
    now = under_way[0] if under_way else None
    following, after = (*(row for row in rows if row.id not in running), None, None)[:2]
    touch = ""
    if now is not None:
        touch = "count: where is each crown?" if now.steps == (_COUNT,) else f"done: {now.what}"
    elif following is not None:
        touch = f"start: {following.what}"
    return TaskRow(key, who, now, running[now.id] if now else None, following, touch, after, tuple(under_way[1:]))


def clock_row(case: Case, clock: ImpressionClock, state: CaseState, timetable: Timetable, *, now: datetime) -> ClockRow:
    """Return one impression's clock at `now`: its age, the minutes left, the band and the cost it has reached."""
    there = state.impressions.get(clock.impression)
    planned_as = case.impression_by_id(clock.impression)
    storage = there.spells[-1].storage if there and there.spells else None
    age_min = None if clock.out_at is None else (now - clock.out_at) / timedelta(minutes=1)
    waiting = clock.phase is ImpressionPhase.WAITING
    left = clock.window_min - age_min if waiting and age_min is not None else None
    step = _step_at(clock.steps, age_min if waiting and age_min is not None else 0.0)
    poured = there.poured_at if there else None
    planned = [
        r.end for r in timetable.tasks if (r.case, r.impression) == (case.code, clock.impression) and "pour" in r.steps
    ]
    return ClockRow(
        key="",
        case=case.code,
        impression=clock.impression,
        phase=clock.phase,
        storage=storage,
        age_min=age_min,
        minutes_left=left,
        band=step.band if waiting else clock.band,
        error_um=_cost(step),
        pour_at=poured or (planned[0] if planned else None),
        is_pick_up=planned_as.role is ImpressionRole.PICK_UP,
        is_wet=planned_as.material.is_hydrocolloid,
    )


def _step_at(steps: Sequence[CostStep], age_min: float) -> CostStep:
    return next((s for s in steps if s.until_min is None or age_min <= s.until_min), steps[-1])


def _cost(step: CostStep) -> tuple[float, float] | None:
    if step.bias_percent is None or not step.spans:
        return None
    widest = max(step.spans, key=lambda span: span.span_mm)
    return widest.change_um.value, widest.change_um.u
