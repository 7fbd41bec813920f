"""Taking back a wrong touch: which one can be, until when, and the correcting events that say it did not happen.

The log is never changed: what was touched stays in it, followed by its correction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from seatwright.case import (
    Corrected,
    CrownsCounted,
    Decided,
    Disinfected,
    Event,
    ImpressionOut,
    Poured,
    Rinsed,
    Separated,
    StepFinished,
    StepStarted,
    StorageChanged,
    tell_event,
)

__all__ = ["TAKEN_OVER", "Slip", "events_of_taking_back", "recent_touches"]

_LASTS = timedelta(minutes=5)  # judgement: a wrong touch is seen when the next step is looked for
_TOUCHES = (
    CrownsCounted,
    Disinfected,
    ImpressionOut,
    Poured,
    Rinsed,
    Separated,
    StepFinished,
    StepStarted,
    StorageChanged,
)
TAKEN_OVER = "taken over at the bench"
"""Why a step has other hands from now on."""
_REASON = "touched by mistake, taken back at the bench"


@dataclass(frozen=True, slots=True)
class Slip:
    """A fresh touch that still stands in a case's log.

    Attributes
    ----------
    case : str
    events : tuple of Event
        All that one touch wrote.
    until : datetime
        When it can be taken back no longer.
    """

    case: str
    events: tuple[Event, ...]
    until: datetime

    @property
    def seq(self) -> int:
        """Number of its first event: what a screen calls it by."""
        return self.events[0].seq

    @property
    def said(self) -> str:
        """What it was, in a few words."""
        return tell_event(self.events[-1])


def recent_touches(case: str, events: Sequence[Event], *, now: datetime) -> tuple[Slip, ...]:
    """Return the touches that can be taken back at `now`, the latest first.

    What was taken back already is passed over, so that several touches go back one by one. Whether others rest on a
    touch is for the log to say: one whose correction would not add up is refused when it is written.
    """
    corrected = {event.corrects for event in events if isinstance(event, Corrected)}
    groups: dict[tuple[datetime, str], list[Event]] = {}
    for event in events:
        if _is_touch(event) and event.seq not in corrected and now - event.at <= _LASTS:
            groups.setdefault((event.at, event.by), []).append(event)
    slips = [Slip(case, tuple(group), at + _LASTS) for (at, _), group in groups.items()]
    return tuple(sorted(slips, key=lambda slip: (slip.until, slip.seq), reverse=True))


def events_of_taking_back(slip: Slip, *, seq: int, at: datetime, by: str) -> tuple[Event, ...]:
    """Return one correction for each event of a touch, the latest first: so the log adds up after each of them."""
    return tuple(
        Corrected(seq=seq + i, at=at, by=by, corrects=event.seq, reason=_REASON)
        for i, event in enumerate(reversed(slip.events))
    )


def _is_touch(event: Event) -> bool:
    return isinstance(event, _TOUCHES) or (isinstance(event, Decided) and event.reason == TAKEN_OVER)
