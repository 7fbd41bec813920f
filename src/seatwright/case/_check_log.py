"""Whether a log can have happened: numbering, times, names, order of things. Pure; time is passed in."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

from seatwright.case._check_delivery import path_fault
from seatwright.case._document import Case
from seatwright.case._effective import check_corrections, effective_lines
from seatwright.case._events import (
    CrownsCounted,
    CrownsDried,
    DieTried,
    Disinfected,
    Event,
    ImpressionOut,
    MaterialUsed,
    OutcomeSeen,
    PhotoTaken,
    Poured,
    Separated,
    StepFinished,
    StepStarted,
)
from seatwright.case._faults import closest_hint, find_unknown, located
from seatwright.case._terms import ImpressionRole
from seatwright.errors import Fault

__all__ = ["check_log"]

_Line = tuple[int, Event]
_MAX_FAULTS = 100  # judgement: nobody mends more at once


def check_log(
    events: Sequence[Event],
    case: Case | None,
    *,
    now: datetime,
    lines: Sequence[int] | None = None,
    file: str = "log.jsonl",
) -> tuple[Fault, ...]:
    """Return everything in a log that cannot be so; empty when it adds up.

    Parameters
    ----------
    events : sequence of Event
        In the order logged, one per line.
    case : Case or None
        The plan that the events belong to; None when it cannot be read, so that names are not checked.
    now : datetime
        Timezone-aware; no event may be later.
    lines : sequence of int, optional
        Line that each event stands on, when some lines could not be read; what hangs on those is then not judged.
    file : str
        Name that each fault's place begins with.

    Returns
    -------
    tuple of Fault
        `where` reads like ``log.jsonl: line 7: impression``; lines count from 1.
    """
    numbered = list(zip(lines or range(1, len(events) + 1), events, strict=True))
    is_whole = [line for line, _ in numbered] == list(range(1, len(events) + 1))
    faults = [*_check_numbers(numbered), *_check_times(numbered, now)]
    faults += [Fault(_at(line, f.where), f.what, f.hint) for line, f in check_corrections(numbered)]
    truly = effective_lines(numbered)
    if case is not None:
        faults += _check_names(truly, case)
    if is_whole:
        faults += _check_order(truly, case)
    ordered = located(sorted(faults, key=lambda fault: _line_of(fault.where)), file)
    n_more = len(ordered) - _MAX_FAULTS
    if n_more <= 0:
        return ordered
    return (*ordered[:_MAX_FAULTS], Fault(file, f"{n_more} more faults are not shown", "mend those above first"))


def _line_of(where: str) -> int:
    return int(where.removeprefix("line ").split(":")[0])


def _at(line: int, field: str) -> str:
    return f"line {line}: {field}"


def _check_numbers(numbered: Sequence[_Line]) -> Iterator[Fault]:
    expected, last_line = 1, 0
    seen: dict[int, int] = {}
    for line, event in numbered:
        n_unread = line - last_line - 1
        if expected < event.seq <= expected + n_unread:
            expected = event.seq
        last_line = line
        if event.seq in seen:
            yield Fault(
                _at(line, "seq"),
                f"number {event.seq} stands twice: line {seen[event.seq]} has it too",
                "if the line was written twice, remove one; else number it next in turn",
            )
        elif event.seq < expected:
            yield Fault(
                _at(line, "seq"), f"number {event.seq} comes after {expected - 1}", "put the lines in order of seq"
            )
        elif event.seq > expected:
            lost = (
                f"number {expected} is" if event.seq == expected + 1 else f"numbers {expected} to {event.seq - 1} are"
            )
            yield Fault(
                _at(line, "seq"),
                f"{lost} missing before {event.seq}",
                "a line was lost: restore it from the original log",
            )
        seen.setdefault(event.seq, line)
        expected = max(expected, event.seq + 1)


def _check_times(numbered: Sequence[_Line], now: datetime) -> Iterator[Fault]:
    latest: datetime | None = None
    is_told = False
    for line, event in numbered:
        if latest is not None and event.at < latest:
            yield Fault(
                _at(line, "at"),
                f"{_shown(event.at)} lies before the line above, {_shown(latest)}",
                "log in order of time; correct the time or the order",
            )
        if event.at > now and not is_told:
            is_told = True
            n_more = sum(other.at > now for _, other in numbered) - 1
            more = f", and {n_more} more lines are" if n_more else ""
            yield Fault(
                _at(line, "at"),
                f"{_shown(event.at)} is in the future{more}: it is {_shown(now)} now",
                "correct the time or its offset from UTC; check the clock; or state the moment to look at with --now",
            )
        latest = event.at if latest is None else max(latest, event.at)


def _check_names(numbered: Sequence[_Line], case: Case) -> Iterator[Fault]:
    impressions = [i.id for i in case.impression]
    dies = [d.id for d in case.returned_die]
    units = [u.tooth for u in case.unit]
    for line, event in numbered:
        name = getattr(event, "impression", None)
        if name is not None and name not in impressions:
            hint = closest_hint(name, impressions, noun="impression")
            yield Fault(_at(line, "impression"), f"there is no impression {name}", hint)
        if isinstance(event, DieTried):
            if event.die not in dies:
                hint = closest_hint(event.die, dies, noun="returned die")
                yield Fault(_at(line, "die"), f"there is no returned die {event.die}", hint)
            if event.tooth not in units:
                hint = closest_hint(event.tooth, units, noun="unit")
                yield Fault(_at(line, "tooth"), f"{event.tooth} is no unit of this case", hint)
        if isinstance(event, PhotoTaken) and (wrong := path_fault(event.file)):
            yield Fault(_at(line, "file"), f"{event.file!r} {wrong}", "name a place inside the case")
        if isinstance(event, CrownsDried | StepStarted | StepFinished | MaterialUsed | PhotoTaken | OutcomeSeen):
            yield from find_unknown(_at(line, "units"), event.units, units, noun="unit")
        if isinstance(event, CrownsCounted):
            yield from _check_count(event, line, case)


def _check_count(event: CrownsCounted, line: int, case: Case) -> Iterator[Fault]:
    units = [u.tooth for u in case.unit]
    lists = {name: getattr(event, name) for name in ("seated", "in_tray", "loose", "left_on_tooth", "cores_in_crown")}
    for name, teeth in lists.items():
        yield from find_unknown(_at(line, name), teeth, units, noun="unit")
        for j, tooth in enumerate(teeth):
            if tooth in teeth[:j]:
                yield Fault(_at(line, f"{name}[{j}]"), f"{tooth} stands twice in this list", "count again")
    inside = {"in_tray": "seated", "left_on_tooth": "seated", "loose": "in_tray", "cores_in_crown": "in_tray"}
    for name, outer in inside.items():
        for tooth in sorted(set(lists[name]) - set(lists[outer])):
            yield Fault(
                _at(line, name), f"{tooth} is in {name}, but not in {outer}", f"add it to {outer}, or remove it here"
            )
    for tooth in sorted(set(event.in_tray) & set(event.left_on_tooth)):
        yield Fault(
            _at(line, "left_on_tooth"),
            f"{tooth} is in the tray and on its tooth",
            "keep it in the one list that is true",
        )
    planned = next((p for p in case.impression if p.id == event.impression), None)
    if planned is not None and planned.role is not ImpressionRole.PICK_UP:
        yield Fault(
            _at(line, "impression"), f"{planned.id} is no pick-up: it lifts no crowns", "name the pick-up impression"
        )
    elif planned is not None:
        for tooth in sorted(set(event.seated) - set(planned.lifts) & set(units)):
            yield Fault(
                _at(line, "seated"),
                f"{planned.id} is not planned to lift {tooth}",
                "add the unit to its lifts in the case, or remove it here",
            )


def _check_order(numbered: Sequence[_Line], case: Case | None) -> Iterator[Fault]:
    """Yield what cannot come in this order; impressions that the case does not know are told elsewhere."""
    known = None if case is None else {impression.id for impression in case.impression}
    has_base = known if case is None else {i.id for i in case.impression if i.pour.base_stone is not None}
    out: dict[str, datetime] = {}
    full: dict[str, int] = {}
    for line, event in numbered:
        name = getattr(event, "impression", None)
        if (
            name is None
            or isinstance(event, StepStarted | StepFinished | MaterialUsed)
            or (known is not None and name not in known)
        ):
            continue
        if isinstance(event, ImpressionOut):
            if name in out:
                yield Fault(
                    _at(line, "what"),
                    f"{name} left the mouth twice",
                    "a second impression has its own id; plan it with replaces",
                )
            out.setdefault(name, event.at)
            continue
        of_pour = list(_check_pour(event, line, full=full, may_have_base=has_base is None or name in has_base))
        if name not in out:
            yield Fault(
                _at(line, "what"),
                f"{event.what}, but {name} has not left the mouth yet",
                "log impression_out first, with its time",
            )
            continue  # the cause is told; what follows from it is not
        yield from _check_contact(event, line, out[name])
        yield from of_pour


def _check_contact(event: Event, line: int, out_at: datetime) -> Iterator[Fault]:
    if isinstance(event, Disinfected):
        start = event.at - timedelta(minutes=event.contact_min)
        if start < out_at <= event.at:
            yield Fault(
                _at(line, "contact_min"),
                f"contact would begin {_shown(start)}, before the impression left the mouth {_shown(out_at)}",
                "`at` is when contact ended; correct the time or the minutes",
            )


def _check_pour(event: Event, line: int, *, full: dict[str, int], may_have_base: bool) -> Iterator[Fault]:
    """Yield order faults of pouring; `full` counts the mixes in each impression that holds stone, and is updated.

    A second pour before separation is the base, where a base is planned.
    """
    if isinstance(event, Poured):
        name = event.impression
        full[name] = full.get(name, 0) + 1
        if full[name] > (2 if may_have_base else 1):
            yield Fault(
                _at(line, "what"),
                f"{name} is poured again before it was separated",
                "plan its base in the case (base_stone), or log a further mix as step_finished; log separated before a "
                "second cast",
            )
    if isinstance(event, Separated):
        if event.impression not in full:
            yield Fault(
                _at(line, "what"),
                f"{event.impression} is separated, but holds no stone",
                "log poured first, with its time",
            )
        full.pop(event.impression, None)


def _shown(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
