"""A colleague takes steps over: whoever began them, or was to begin them, goes home.

The log says who took what over from whom, and that each step is theirs from then on; the time when it began stays.
"""

from datetime import datetime
from functools import partial

from seatwright.case import Decided, Event
from seatwright.errors import ConflictError
from seatwright.pour.timetable import Placed
from seatwright.workflows._take_back import TAKEN_OVER
from seatwright.workflows._touches import events_of_start
from seatwright.workflows.today import LiveDay, TaskRow

__all__ = ["offer_steps", "running_with", "take_over"]


def offer_steps(day: LiveDay, who: str, *, now: datetime) -> tuple[TaskRow, ...]:
    """Return the rows of colleagues whose running or next step these hands have learned."""
    return tuple(
        row
        for row in day.view(now=now).people
        if row.who != who and (task := row.now or row.next) is not None and _has_learned(day, who, task)
    )


def running_with(row: TaskRow) -> tuple[Placed, ...]:
    """Return all steps of a row that run on the impression of the one shown; none where none runs."""
    if row.now is None:
        return ()
    of = (row.now.case, row.now.impression)
    return (row.now, *(step for step in row.beside if (step.case, step.impression) == of))


def take_over(day: LiveDay, task: str, who: str, *, now: datetime, by: str = "", every: bool = False) -> None:
    """Log that `who` does a colleague's step from now on, written down by `by`, and plan again.

    With `every`, all that the colleague has running on the same impression, in one decision.

    Raises
    ------
    ConflictError
        The step is no colleague's running or next one any more, these hands have not learned it, or they are at a
        step of their own. Then nothing is taken over.
    """
    mine = next((row for row in day.view(now=now).people if row.who == who), None)
    if mine is None or mine.now is not None:
        what = "is no one at the bench" if mine is None or mine.now is None else f"is at a step, {mine.now.what}"
        raise ConflictError(f"{who[:40]!r} {what}", hint="finish it, or give it to somebody else first")
    found = next((row for row in offer_steps(day, who, now=now) if _step(row).id == task), None)
    if found is None:
        raise ConflictError(
            "this step can be taken over no longer, or asks for other skills",
            hint="look at the page as it is now; skills are kept with the bench itself",
        )
    steps = running_with(found) if every and found.now is not None else (_step(found),)
    if strange := [step.what for step in steps if not _has_learned(day, who, step)]:
        raise ConflictError(
            f"{who[:40]!r} has not learned {', '.join(strange)}: nothing is taken over",
            hint="take the others over one by one; skills are kept with the bench itself",
        )
    _write_down(day, found.who, steps, who, now=now, by=by or who)


def _write_down(day: LiveDay, giver: str, steps: tuple[Placed, ...], who: str, *, now: datetime, by: str) -> None:
    case, impression = steps[0].case, steps[0].impression
    seq = day.record.next_seq(case)
    said = f"{who} takes over from {giver}: {'; '.join(step.what for step in steps)} ({impression})"
    events: list[Event] = [Decided(seq=seq, at=now, by=by, decision=said, reason=TAKEN_OVER, about=impression)]
    for step in steps:
        events += events_of_start(step, partial(day.record.units_of, step), seq=seq + len(events), at=now, by=by)
    day.write_down(case, tuple(events), now=now, said=f"{said}.", hands=who)


def _has_learned(day: LiveDay, who: str, step: Placed) -> bool:
    skills = next((worker.skills for worker in day.problem.workers if worker.id == who), frozenset())
    return {task.id: task.skill for task in day.problem.tasks}.get(step.id) in skills


def _step(row: TaskRow) -> Placed:
    step = row.now or row.next
    if step is None:
        raise TypeError("a row without a step is offered to nobody")
    return step
