"""The log as things truly were: every correction put in the place of what it corrects. Pure."""

from collections.abc import Iterator, Sequence

from seatwright.case._events import Corrected, Event
from seatwright.errors import Fault

__all__ = ["check_corrections", "effective_events", "effective_lines"]

_Line = tuple[int, Event]


def effective_events(events: Sequence[Event]) -> tuple[Event, ...]:
    """Return what happened once every correction is taken into account, by time.

    Parameters
    ----------
    events : sequence of Event
        The log as it stands.

    Returns
    -------
    tuple of Event
        Without corrections; the events themselves where nothing was corrected. Events of one moment keep their order.
    """
    return tuple(event for _, event in effective_lines([(0, event) for event in events]))


def effective_lines(numbered: Sequence[_Line]) -> Sequence[_Line]:
    """Return `effective_events` with the line that each stands on; a corrected one has its correction's line."""
    if not any(isinstance(event, Corrected) for _, event in numbered):
        return numbered
    content: dict[int, tuple[int, Event | None]] = {}
    for line, event in numbered:
        if not isinstance(event, Corrected):
            content[event.seq] = (line, event)
        elif event.corrects is None:
            content[event.seq] = (line, event.instead)
        elif event.corrects in content:
            content[event.corrects] = (line, event.instead)
    kept = [(line, event) for line, event in content.values() if event is not None]
    return sorted(kept, key=lambda pair: pair[1].at)


def check_corrections(numbered: Sequence[_Line]) -> Iterator[tuple[int, Fault]]:
    """Yield the line and the fault of every correction that cannot be; `where` is the field alone."""
    content: set[int] = set()
    """Numbers that a correction may name: plain events, and events written in later."""
    repeated: set[int] = set()
    for line, event in numbered:
        if not isinstance(event, Corrected):
            content.add(event.seq)
            continue
        target = event.corrects
        if target is None:
            content.add(event.seq)
        else:
            repeated.add(event.seq)
        if target is None and event.instead is None:
            yield line, Fault("instead", "is missing", "say what happened, or name the event that was wrong")
        if target in repeated:
            yield line, Fault("corrects", f"{target} is itself a correction", "name the event that it corrects")
        elif target is not None and target not in content:
            yield line, Fault("corrects", f"there is no earlier event {target}", "name the number that was wrong")
        if event.instead is not None:
            yield from ((line, fault) for fault in _check_instead(event, event.instead, target))


def _check_instead(event: Corrected, instead: Event, target: int | None) -> Iterator[Fault]:
    number = event.seq if target is None else target
    if instead.seq != number:
        yield Fault("instead.seq", f"is {instead.seq}, but it stands for event {number}", f"write {number}")
    if instead.at > event.at:
        yield Fault("instead.at", "lies after the correction itself", "correct the time")
