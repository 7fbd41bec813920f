"""Timetables in words: what changed and why, what to do about what does not fit."""

from collections.abc import Iterator
from datetime import datetime, timedelta, tzinfo

from seatwright.findings import COMMON_PRACTICE, JUDGEMENT, Finding, Severity, Source, SourceKind
from seatwright.pour._result import Band
from seatwright.pour.timetable._problem import Edge, Problem
from seatwright.pour.timetable._timetable import Late, Miss, Overstep, Placed, Remedy, Timetable

__all__ = ["explain_changes", "explain_next", "find_findings"]

_STILL = timedelta(seconds=59)  # judgement: a shift below a minute is none


def explain_changes(problem: Problem, before: Timetable, after: Timetable, *, zone: tzinfo) -> tuple[str, ...]:
    """Return one line for every task that got another time, person or machine, with the reason."""
    was = {row.id: row for row in before.tasks}
    lines = []
    for row in after.tasks:
        old = was.get(row.id)
        if old is None:
            lines.append(f"new: {_name(row)} at {row.start.astimezone(zone):%H:%M}")
            continue
        changes = list(_changes(old, row, zone))
        if changes and not _is_past(row, after.now):
            lines.append(f"{_name(row)}: {', '.join(changes)}{_reason(problem, after, row, zone)}")
    return tuple(lines)


def _is_past(row: Placed, now: datetime) -> bool:
    return row.is_fixed and row.start <= now


def _changes(old: Placed, new: Placed, zone: tzinfo) -> Iterator[str]:
    shift = new.start - old.start
    if abs(shift) > _STILL:
        minutes = abs(shift.total_seconds()) / 60
        way = "later" if shift > timedelta(0) else "earlier"
        yield f"{old.start.astimezone(zone):%H:%M} -> {new.start.astimezone(zone):%H:%M}, {minutes:.0f} min {way}"
    if old.who != new.who:
        yield f"{new.who or 'nobody'} instead of {old.who or 'nobody'}"
    if set(old.equipment) != set(new.equipment) and new.equipment:
        yield f"on {', '.join(new.equipment)}"


def _name(row: Placed) -> str:
    return f"{row.what} ({row.case} {row.impression})" if row.impression else row.what


def _reason(problem: Problem, timetable: Timetable, row: Placed, zone: tzinfo) -> str:
    """Name what ends just when this begins: the step, the hands or the thing it waited for."""
    rows = {r.id: r for r in timetable.tasks}
    close = timedelta(seconds=problem.grid_s)
    for lag in problem.lags:
        if lag.second == row.id and lag.min_s is not None and lag.first in rows:
            first = rows[lag.first]
            reached = (first.end if lag.first_at is Edge.END else first.start) + timedelta(seconds=lag.min_s)
            mine = row.start if lag.second_at is Edge.START else row.end
            if timedelta(0) <= mine - reached <= close:
                wait = f" {lag.min_s / 60:.0f} min after" if lag.min_s else ""
                return f"; it waits for{wait} {first.what} ({first.end.astimezone(zone):%H:%M})"
    for other in timetable.tasks:
        shared = [row.who] if row.who and row.who == other.who else []
        shared += sorted(set(row.equipment) & set(other.equipment))
        if shared and other.id != row.id and timedelta(0) <= row.start - other.end <= close:
            return f"; {shared[0]} is busy with {other.what} until {other.end.astimezone(zone):%H:%M}"
    if row.start - timetable.now <= close:
        return "; it can begin now"
    return "; it fits better there"


def explain_next(timetable: Timetable, who: str, *, now: datetime) -> Placed | None:
    """Return what a person is to do now or next; None when nothing is left."""
    mine = [row for row in timetable.tasks if row.who == who and row.end > now and not _is_done(row, now)]
    return min(mine, key=lambda row: row.start, default=None)


def _is_done(row: Placed, now: datetime) -> bool:
    return row.is_fixed and row.end <= now


def find_findings(problem: Problem, timetable: Timetable) -> tuple[Finding, ...]:
    """Return what the person must know: lost windows, oversteps, thin reserves, an unproven plan."""
    found = [_late_finding(timetable, late) for late in timetable.late]
    found += [_overstep_finding(over) for over in timetable.oversteps]
    found += [
        _miss_finding(timetable, miss)
        for miss in timetable.misses
        if miss.chance > 0.05 and not _is_late(timetable, miss)
    ]
    if not timetable.proven:
        gaps = ", ".join(f"{g.name} {g.value} {g.unit}, at best {g.bound}" for g in timetable.goals if not g.is_proven)
        what = f"The plan is good but not proven best: {gaps}."
        found.append(Finding("timetable-unproven", Severity.NOTE, what, "the time for the search was up"))
    del problem
    return tuple(found)


def _overstep_finding(over: Overstep) -> Finding:
    do = "Bring a second pair of hands, or repeat the step before it."
    about = over.second.split("/")[1] if "/" in over.second else over.second
    return Finding(f"timetable-{over.lag}", Severity.WARNING, _overstep_words(over), over.why, do, JUDGEMENT, about)


def _overstep_words(over: Overstep) -> str:
    second, first = over.second.split("/", 1)[-1], over.first.split("/", 2)[-1]
    return f"{second} comes {over.by_min:.0f} min too late after {first}."


def _is_late(timetable: Timetable, miss: Miss) -> bool:
    return any(miss.what == f"{late.case}/{late.impression}" for late in timetable.late)


def _late_finding(timetable: Timetable, late: Late) -> Finding:
    severity = Severity.STOP if late.band is Band.BEYOND else Severity.WARNING
    passed = late.window_end <= timetable.now
    when = "is past already" if passed else "cannot be met"
    what = f"{late.impression}: its window {when}; stone would be in {late.by_min:.0f} min after it."
    do = late.what_to_do or _advice(late, timetable.remedies)
    why = "no source supports this age" if late.band is Band.BEYOND else f"forecast error {late.error_um or '?'} µm"
    return Finding("timetable-late", severity, what, why, do, Source(SourceKind.MEASURED, "timetable"), late.impression)


def _advice(late: Late, remedies: tuple[Remedy, ...]) -> str:
    helping = [remedy for remedy in remedies if remedy.helps and not remedy.about]
    enough = [remedy.change for remedy in helping if remedy.n_late == 0]
    if enough:
        return f"In time with: {'; or '.join(enough[:3])}."
    if helping:
        return f"Better, but not enough, with: {'; or '.join(remedy.change for remedy in helping[:3])}."
    if late.band is Band.BEYOND:
        return "Take it again; keep it out of this round."
    return "Pour it last, or take it again."


def _miss_finding(timetable: Timetable, miss: Miss) -> Finding:
    severity = Severity.CAUTION if miss.chance < 0.2 else Severity.WARNING
    what = f"{miss.what}: missed in {100 * miss.chance:.0f} of 100 such days."
    held = f"; {miss.reserve_min:.0f} min are held back" if miss.reserve_min else ""
    why = f"from the spread of durations, {miss.n_runs} simulated runs{held}"
    if miss.kind == "lag":
        is_visit = miss.what.startswith("one-visit")
        do = "Have somebody free when it ends, or begin the step before it later."
        do = "Tell the patient that the visit may last longer." if is_visit else do
        return Finding("timetable-risk-lag", severity, what, why, do, COMMON_PRACTICE)
    about = [remedy for remedy in timetable.remedies if remedy.about == miss.what]
    helping = [f"{remedy.change} ({remedy.detail})" for remedy in about if remedy.helps]
    do = "Pour it first, without a pause."
    if helping:
        do = f"Less often with: {'; or '.join(helping[:3])}."
    elif about:
        do = f"{do} Tried without success: {', '.join(remedy.change for remedy in about)}."
    return Finding("timetable-risk-window", severity, what, why, do, COMMON_PRACTICE, miss.what.split("/")[-1])
