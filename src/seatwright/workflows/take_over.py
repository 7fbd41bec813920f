"""A colleague takes a step over: whoever began it, or was to begin it, goes home.

The log says who took what over from whom, and that the step is theirs from then on; the time when it began stays.
"""

from datetime import datetime
from functools import partial

from seatwright.case import Decided
from seatwright.errors import ConflictError
from seatwright.pour.timetable import Placed
from seatwright.workflows._take_back import TAKEN_OVER
from seatwright.workflows._touches import events_of_start
from seatwright.workflows.today import LiveDay, TaskRow

__all__ = ["offer_steps", "take_over"]


def offer_steps(day: LiveDay, who: str, *, now: datetime) -> tuple[TaskRow, ...]:
    """Return the rows of colleagues whose running or next step these hands have learned."""
    skills = next((worker.skills for worker in day.problem.workers if worker.id == who), frozenset())
    needed = {task.id: task.skill for task in day.problem.tasks}
    return tuple(
        row
        for row in day.view(now=now).people
        if row.who != who and (task := row.now or row.next) is not None and needed.get(task.id) in skills
    )


def take_over(day: LiveDay, task: str, who: str, *, now: datetime, by: str = "") -> None:
    """Log that `who` does a colleague's step from now on, written down by `by`, and plan again.

    Raises
    ------
    ConflictError
        The step is no colleague's running or next one any more, these hands have not learned it, or they are at a
        step of their own.
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
    target, by = _step(found), by or who
    seq = day.record.next_seq(target.case)
    said = f"{who} takes over from {found.who}: {target.what} ({target.impression})"
    told = Decided(seq=seq, at=now, by=by, decision=said, reason=TAKEN_OVER, about=target.impression)
    begun = events_of_start(target, partial(day.record.units_of, target), seq=seq + 1, at=now, by=by)
    day.write_down(target.case, (told, *begun), now=now, said=f"{said}.", hands=who)


def _step(row: TaskRow) -> Placed:
    step = row.now or row.next
    if step is None:
        raise TypeError("a row without a step is offered to nobody")
    return step
