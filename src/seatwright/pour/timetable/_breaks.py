"""From the bench's people, breaks and clock to workers with seconds.

Owns wall-clock time: everything after it counts in UTC seconds, so a clock change in the middle of a day costs nothing.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from seatwright.case import Bench, Break, Person
from seatwright.errors import CaseError, Fault
from seatwright.pour.timetable._problem import Worker

__all__ = ["TAKE_SKILL", "bench_zone", "workers_of"]

TAKE_SKILL = "take impressions"
"""What a dentist may do at the chair; no bench skill stands for it."""
_DAYS_AHEAD = 2  # judgement: a bench timetable ends the day after it begins at the latest


def bench_zone(bench: Bench) -> ZoneInfo:
    """Return the zone of the bench's clock; CaseError for a name that is in no database."""
    try:
        return ZoneInfo(bench.time_zone)
    except (ZoneInfoNotFoundError, ValueError) as error:
        hint = "use a name of the IANA database, such as Europe/Berlin"
        what = f"'{bench.time_zone}' is no known time zone"
        raise CaseError(what, hint=hint, faults=[Fault("bench.toml: time_zone", what, hint)]) from error


def workers_of(bench: Bench, *, origin: datetime) -> tuple[Worker, ...]:
    """Return the people of a bench with their breaks as seconds after `origin`.

    Raises
    ------
    CaseError
        A break of somebody unknown, one that ends before it begins, one at a time that the clock skips on one of these
        days.
    """
    zone = bench_zone(bench)
    faults = list(_break_faults(bench))
    first = origin.astimezone(zone).date()
    spans: list[tuple[Break, tuple[int, int]]] = []
    for entry in bench.breaks:
        for ahead in range(_DAYS_AHEAD):
            day = first + timedelta(days=ahead)
            skipped = [t for t in (entry.start, entry.end) if not _exists(day, t, zone)]
            faults += [
                Fault("bench.toml: break", f"{t:%H:%M} does not exist on {day}: the clock skips it", "move the break")
                for t in skipped
            ]
            since = datetime.combine(day, entry.start, zone)
            until = datetime.combine(day, entry.end, zone).replace(fold=1)
            spans.append((entry, (_seconds(since, origin), _seconds(until, origin))))
    if faults:
        raise CaseError("the breaks of the bench cannot be read", hint=faults[0].hint, faults=faults)
    return tuple(_worker(person, spans) for person in bench.person)


def _seconds(moment: datetime, origin: datetime) -> int:
    return round((moment.astimezone(UTC) - origin.astimezone(UTC)).total_seconds())


def _exists(day: date, at: time, zone: ZoneInfo) -> bool:
    local = datetime.combine(day, at, zone)
    return local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == local.replace(tzinfo=None)


def _break_faults(bench: Bench) -> Iterator[Fault]:
    people = {person.id for person in bench.person}
    for index, entry in enumerate(bench.breaks):
        where = f"bench.toml: break[{index}]"
        if entry.person is not None and entry.person not in people:
            yield Fault(where, f"'{entry.person}' is nobody of this bench", "use an id of a person, or leave it out")
        if entry.end <= entry.start:
            yield Fault(where, "it ends before it begins", "swap its times")


def _worker(person: Person, spans: list[tuple[Break, tuple[int, int]]]) -> Worker:
    skills = {skill.value for skill in person.skills}
    if person.role.strip().lower() == "dentist":
        skills.add(TAKE_SKILL)
    mine = sorted(span for entry, span in spans if entry.person in (None, person.id) and span[1] > 0)
    merged: list[tuple[int, int]] = []
    for since, until in mine:
        if merged and since <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], until))
        else:
            merged.append((since, until))
    return Worker(person.id, frozenset(skills), tuple(merged))
