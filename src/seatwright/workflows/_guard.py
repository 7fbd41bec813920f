"""Touches that are probably not meant: a second one at once, a step far too early, an end far too soon.

Owns asking once more. A touch that is asked about is logged when the same key comes again within half a minute.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from seatwright.pour.timetable import Placed, Problem
from seatwright.workflows._live_rows import TaskRow

__all__ = ["Guard"]

_BOUNCE = timedelta(seconds=0.8)  # judgement: a wet glove touches twice within less
_ASKED = timedelta(seconds=30)  # judgement: later the question is forgotten
_EARLY = timedelta(minutes=2)  # judgement: nearer to its time nobody needs to be asked
_SHARE = 0.5  # judgement: half of a step's shortest time is too short to have done it


@dataclass(slots=True)
class Guard:
    """Remembers the last touch and the last question."""

    _touched: tuple[str, datetime] | None = None
    _asked: tuple[str, datetime] | None = None

    def objection(self, row: TaskRow, problem: Problem, *, now: datetime) -> str:
        """Return why a touch is not taken yet, empty when it is; the same key again overrules all but a bounce."""
        before, self._touched = self._touched, (row.key, now)
        if before is not None and before[0] == row.key and now - before[1] < _BOUNCE:
            return f"{row.key} touched twice: the second touch is not counted."
        asked, self._asked = self._asked, None
        if asked is not None and asked[0] == row.key and now - asked[1] <= _ASKED:
            return ""
        doubt = _doubt_end(row, problem, now) if row.now else _doubt_start(row, problem, now)
        if not doubt:
            return ""
        self._asked = (row.key, now)
        return f"{doubt} Touch it again to log it all the same."


def _doubt_end(row: TaskRow, problem: Problem, now: datetime) -> str:
    if row.now is None or row.running_since is None:
        return ""
    spread = next((task.spread for task in problem.tasks if task.id == row.now.id), None)
    since = now - row.running_since
    if spread is None or since >= timedelta(minutes=spread.low_min * _SHARE):
        return ""
    seconds = round(since.total_seconds())
    return f"{row.now.what} began {seconds // 60}:{seconds % 60:02d} ago; its shortest is {spread.low_min:g} min."


def _doubt_start(row: TaskRow, problem: Problem, now: datetime) -> str:
    if row.next is None:
        return ""
    waits_for = _unfinished_before(row.next, problem)
    if waits_for:
        return f"{row.next.what} ({row.next.impression}) waits for {waits_for}."
    early = row.next.start - now
    if early > _EARLY:
        return f"{row.next.what} ({row.next.impression}) is planned in {early / timedelta(minutes=1):.0f} min only."
    return ""


def _unfinished_before(row: Placed, problem: Problem) -> str:
    """Return the first step that must be before this one and was not even begun."""
    tasks = {task.id: task for task in problem.tasks}
    for lag in problem.lags:
        first = tasks.get(lag.first)
        if lag.second != row.id or lag.min_s is None or first is None:
            continue
        if first.pin is None or not first.pin.is_fact:
            return first.what
    return ""
