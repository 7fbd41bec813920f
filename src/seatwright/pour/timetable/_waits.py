"""How each impression is kept while nobody works on it."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from seatwright.pour.timetable._problem import Problem
from seatwright.pour.timetable._timetable import Placed, Wait

__all__ = ["find_waits"]

_LEAST = timedelta(minutes=1)  # judgement: shorter pauses are part of the work
_AWAY = ("weigh", "mix", "take")


def find_waits(
    problem: Problem, tasks: tuple[Placed, ...], keep: Mapping[tuple[str, str], tuple[str, str]], *, now: datetime
) -> tuple[Wait, ...]:
    """Return every pause of an impression, from `now` on, with how it must be kept meanwhile.

    Parameters
    ----------
    problem : Problem
    tasks : tuple of Placed
    keep : mapping of (case, impression) to (str, str)
        How it is kept before and after the pour; an impression that is not named needs nothing.
    """
    waits: list[Wait] = []
    for window in problem.windows:
        words = keep.get((window.case, window.impression))
        if words is None:
            continue
        rows = sorted(
            (
                t
                for t in tasks
                if (t.case, t.impression) == (window.case, window.impression) and not set(_AWAY) & set(t.steps)
            ),
            key=lambda t: (t.start, t.end),
        )
        out = _out_at(problem, window.out_s, window.out_task, tasks)
        reached = out
        for row in rows:
            if row.start - reached >= _LEAST and row.start > now:
                poured = any(t.id == window.task and t.end <= reached for t in rows)
                waits.append(Wait(window.case, window.impression, reached, row.start, words[1] if poured else words[0]))
            reached = max(reached, row.end)
    return tuple(sorted(waits, key=lambda wait: (wait.start, wait.impression)))


def _out_at(problem: Problem, out_s: int | None, out_task: str, tasks: tuple[Placed, ...]) -> datetime:
    if out_s is not None:
        return problem.at(out_s)
    return next(t.end for t in tasks if t.id == out_task)
