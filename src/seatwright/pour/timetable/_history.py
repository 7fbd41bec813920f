"""From the log to facts: which step was started and finished when, and by whom.

Owns reading events as work done. Refuses to plan.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from seatwright.case import (
    Case,
    CrownsCounted,
    CrownsDried,
    Disinfected,
    Event,
    ImpressionOut,
    Poured,
    Rinsed,
    Separated,
    StepFinished,
    StepStarted,
    effective_events,
)

__all__ = ["Fact", "merge_facts", "read_facts"]


@dataclass(frozen=True, slots=True)
class Fact:
    """What is known of one step on one unit; `unit` is 0 for the whole impression."""

    case: str
    impression: str
    step: str
    unit: int
    started: datetime | None = None
    finished: datetime | None = None
    by: str = ""


def read_facts(case: Case, events: Sequence[Event], *, now: datetime) -> tuple[Fact, ...]:
    """Return the facts of one case's log up to `now`, one per impression, step and unit, as corrected."""
    truly = [event for event in effective_events(events) if event.at <= now]
    return merge_facts(fact for event in _with_bases(truly) for fact in _facts_of(case, event))


def _with_bases(events: Iterable[Event]) -> Iterator[Event]:
    """Yield the events, with a second pour before separation told as what it is: the base."""
    holds_stone: set[str] = set()
    for event in events:
        if isinstance(event, Separated):
            holds_stone.discard(event.impression)
        if isinstance(event, Poured) and event.impression in holds_stone:
            yield StepFinished(seq=event.seq, at=event.at, by=event.by, impression=event.impression, step="pour-base")
            continue
        if isinstance(event, Poured):
            holds_stone.add(event.impression)
        yield event


def merge_facts(facts: Iterable[Fact]) -> tuple[Fact, ...]:
    """Join what is told of the same step at different times: the first start, the last end, the hands begun with last.

    A step that is begun again by somebody else was taken over: it has gone on since it was begun first.
    """
    known: dict[tuple[str, str, str, int], Fact] = {}
    for fact in facts:
        key = (fact.case, fact.impression, fact.step, fact.unit)
        before = known.get(key)
        if before is None:
            known[key] = fact
            continue
        known[key] = replace(
            before,
            started=before.started or fact.started,
            finished=fact.finished or before.finished,
            by=before.by if before.started and not fact.started else fact.by,
        )
    return tuple(known.values())


def _facts_of(case: Case, event: Event) -> list[Fact]:
    if isinstance(event, StepStarted | StepFinished):
        return _step_facts(case, event)
    whole: dict[type, str] = {
        ImpressionOut: "take",
        Rinsed: "rinse",
        Disinfected: "disinfect",
        CrownsCounted: "count-crowns",
        Poured: "pour",
        Separated: "separate",
    }
    step = whole.get(type(event))
    if step is not None and isinstance(
        event, ImpressionOut | Rinsed | Disinfected | CrownsCounted | Poured | Separated
    ):
        started = event.at - timedelta(minutes=event.contact_min) if isinstance(event, Disinfected) else None
        return [Fact(case.code, event.impression, step, 0, started, event.at, event.by)]
    if isinstance(event, CrownsDried):
        return [Fact(case.code, event.impression, "dry-crown", unit, None, event.at, event.by) for unit in event.units]
    return []


def _step_facts(case: Case, event: StepStarted | StepFinished) -> list[Fact]:
    started = event.at if isinstance(event, StepStarted) else None
    finished = event.at if isinstance(event, StepFinished) else None
    facts = []
    for unit in event.units or (0,):
        impression = event.impression
        if impression is None:
            pick_up = case.pick_up_of(unit) if unit else None
            impression = pick_up.id if pick_up else ""
        facts.append(Fact(case.code, impression, event.step, unit, started, finished, event.by))
    return facts
