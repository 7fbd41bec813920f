"""What one touch writes into the log: the events of a batch of steps, begun or done."""

from collections.abc import Callable
from datetime import datetime, timedelta

from seatwright.case import (
    Case,
    Disinfected,
    Event,
    ImpressionOut,
    Poured,
    Rinsed,
    Separated,
    StepFinished,
    StepStarted,
    Storage,
    StorageChanged,
)
from seatwright.pour.timetable import Placed

__all__ = ["UnitsOf", "event_of_storage", "events_of_finish", "events_of_start", "next_storage"]


UnitsOf = Callable[[str], tuple[int, ...]]
"""The units of a row on which one of its steps is done: a separator, say, is not for all."""


def events_of_start(row: Placed, units_of: UnitsOf, *, seq: int, at: datetime, by: str) -> tuple[Event, ...]:
    """Return one started event for each step of the row, with its units."""
    return tuple(
        StepStarted(seq=seq + i, at=at, by=by, impression=row.impression, step=step, units=units_of(step))
        for i, step in enumerate(row.steps)
    )


def events_of_finish(
    case: Case, row: Placed, units_of: UnitsOf, *, seq: int, at: datetime, by: str, started: datetime | None
) -> tuple[Event, ...]:
    """Return the events that finish a row; steps with a happening of their own are told as that happening."""
    events: list[Event] = []
    for step in row.steps:
        number = seq + len(events)
        own = _happening(case, row.impression, step, number, at=at, by=by, started=started)
        finished = StepFinished(seq=number, at=at, by=by, impression=row.impression, step=step, units=units_of(step))
        events.append(own or finished)
    return tuple(events)


def _happening(
    case: Case, name: str, step: str, seq: int, *, at: datetime, by: str, started: datetime | None
) -> Event | None:
    impression = case.impression_by_id(name)
    if step == "take":
        return ImpressionOut(seq=seq, at=at, by=by, impression=name)
    if step == "rinse":
        return Rinsed(seq=seq, at=at, by=by, impression=name)
    if step == "disinfect":
        contact_min = (at - (started or at)) / timedelta(minutes=1)
        return Disinfected(
            seq=seq, at=at, by=by, impression=name, method="spray", contact_min=max(contact_min, 0.0), bagged=True
        )
    if step == "pour":
        return Poured(seq=seq, at=at, by=by, impression=name, stone=impression.pour.stone)
    if step == "separate":
        return Separated(seq=seq, at=at, by=by, impression=name)
    return None


def event_of_storage(impression: str, storage: Storage, *, seq: int, at: datetime, by: str) -> StorageChanged:
    """Return the event that an impression is kept another way from now on."""
    return StorageChanged(seq=seq, at=at, by=by, impression=impression, storage=storage)


def next_storage(before: Storage | None, *, is_wet: bool, into_box: bool) -> Storage | None:
    """Return how an impression is kept after one touch; None where it must not be kept that way.

    A hydrocolloid is wrapped or unwrapped, or goes into the humid box; an elastomer is laid aside dry or taken up.
    """
    if not is_wet:
        return None if into_box else (Storage.DRY if before is not Storage.DRY else Storage.OPEN_AIR)
    if into_box:
        return Storage.HUMID_BOX
    return Storage.DAMP_WRAP if before in (Storage.OPEN_AIR, Storage.DRY) else Storage.OPEN_AIR
