"""The timetable before, pushed later as far as the facts demand: same hands, and as far as can be the same order.

Owns a quick first proposal by placing one task after the other. The search betters it; without time it is the answer.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from seatwright.pour.timetable._goals import length_s
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._pools import WHO, roles_of
from seatwright.pour.timetable._problem import Edge, Lag, Problem, Task

__all__ = ["repair_places"]

_NEVER = 10**9  # definition: later than any day
_TIGHT_S = 900  # judgement: what must follow within a quarter of an hour is placed together
_TRIES = 40  # judgement: starts tried for a pair that must stay together


def repair_places(problem: Problem, keep: Mapping[str, Keep]) -> dict[str, Keep]:
    """Return where every task comes when the old order is kept as far as it can be.

    Tasks are placed one by one: first what a longest time runs for, then by old start. Each goes into the first gap of
    its old hands and things, of others only when it would come too late. What opens a short longest time (a mix) is
    placed together with what must follow.
    """
    day = _Day(problem, keep)
    while day.left:
        task = day.most_urgent()
        if task is None:
            return {**keep, **day.placed}
        day.place(task)
    return day.placed


@dataclass(slots=True)
class _Day:
    """What is placed so far, and when everybody and everything is busy."""

    problem: Problem
    keep: Mapping[str, Keep]
    placed: dict[str, Keep] = field(default_factory=dict)
    left: dict[str, Task] = field(default_factory=dict)
    busy: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    lengths: dict[str, int] = field(default_factory=dict)
    into: dict[str, list[Lag]] = field(default_factory=dict)
    out_of: dict[str, list[Lag]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for worker in self.problem.workers:
            self.busy[worker.id] = list(worker.breaks_s)
        for task in self.problem.tasks:
            self.lengths[task.id] = length_s(task)
            if task.pin is None:
                self.left[task.id] = task
                continue
            self.placed[task.id] = Keep(task.pin.start_s, task.pin.who, task.pin.equipment)
            for name in filter(None, (task.pin.who, *task.pin.equipment)):
                self.busy.setdefault(name, []).append((task.pin.start_s, task.pin.end_s))
        for lag in self.problem.open_lags():
            self.into.setdefault(lag.second, []).append(lag)
            self.out_of.setdefault(lag.first, []).append(lag)

    def most_urgent(self) -> Task | None:
        ready = [task for task in self.left.values() if self._is_ready(task)]
        return min(ready, key=lambda task: (self._latest(task), self._was(task), task.id), default=None)

    def place(self, task: Task) -> None:
        follower = self._tight_follower(task)
        slots = self._slots(task)
        first = next(slots)
        slot = first
        if follower is not None:
            for _ in range(_TRIES):
                self._put(task, slot)
                if self._fits(follower):
                    break
                self._take_back(task)
                slot = next(slots, first)
            else:
                self._put(task, first)
            self.place(follower)
            return
        self._put(task, slot)

    def _is_ready(self, task: Task) -> bool:
        if any(lag.first in self.left for lag in self.into.get(task.id, ())):
            return False
        follower = self._tight_follower(task, whole=False)
        return follower is None or all(
            lag.first == task.id or lag.first not in self.left for lag in self.into.get(follower.id, ())
        )

    def _tight_follower(self, task: Task, *, whole: bool = True) -> Task | None:
        """Return what must follow soon; with `whole`, only when nothing else is waited for."""
        for lag in self.out_of.get(task.id, ()):
            if lag.max_s is None or lag.max_s > _TIGHT_S or lag.second not in self.left:
                continue
            others = [e.first for e in self.into[lag.second] if e.first != task.id and e.first in self.left]
            if not (whole and others):
                return self.left[lag.second]
        return None

    def _was(self, task: Task) -> int:
        return self.keep[task.id].start_s if task.id in self.keep else 0

    def _earliest(self, task: Task) -> int:
        """Return the least start by shortest times."""
        least = task.not_before_s
        for lag in self.into.get(task.id, ()):
            if lag.min_s is not None and lag.first in self.placed:
                least = max(least, self._edge(lag) + lag.min_s - self._own(lag))
        return least

    def _latest(self, task: Task) -> int:
        """Return the last start that keeps every longest time that runs."""
        ends = [
            self._edge(lag) + lag.max_s - self._own(lag)
            for lag in self.into.get(task.id, ())
            if lag.max_s is not None and lag.first in self.placed
        ]
        return min(ends, default=_NEVER)

    def _edge(self, lag: Lag) -> int:
        return self.placed[lag.first].start_s + (self.lengths[lag.first] if lag.first_at is Edge.END else 0)

    def _own(self, lag: Lag) -> int:
        return self.lengths[lag.second] if lag.second_at is Edge.END else 0

    def _slots(self, task: Task) -> Iterator[Keep]:
        """Yield places by time: with the old names in time, then with any names in time, then late."""
        earliest, latest = self._earliest(task), self._latest(task)
        lower = max(earliest, min(self._was(task), latest))
        for start in (lower, earliest) if earliest < lower else (lower,):
            yield from self._free(task, start, latest, old_names=True)
            yield from self._free(task, start, latest, old_names=False)
        yield from self._free(task, earliest, _NEVER, old_names=True)
        yield from self._free(task, earliest, _NEVER, old_names=False)

    def _fits(self, task: Task) -> bool:
        return next(self._slots(task)).start_s <= self._latest(task)

    def _free(self, task: Task, lower: int, latest: int, *, old_names: bool) -> Iterator[Keep]:
        choices = {role: tuple(self._candidates(task, role, old_names=old_names)) for role in roles_of(task)}
        names = {name for listed in choices.values() for name in listed}
        ends = {end for name in names for _, end in self.busy.get(name, ()) if end > lower}
        for start in sorted({lower, *ends}):
            if start > latest:
                return
            found = {role: self._first_free(listed, start, task.duration_s) for role, listed in choices.items()}
            if all(found.values()):
                things = tuple(name for role, name in found.items() if role != WHO)
                yield Keep(start, found.get(WHO, ""), things)

    def _candidates(self, task: Task, role: str, *, old_names: bool) -> Iterable[str]:
        old = {self.keep[task.id].who, *self.keep[task.id].equipment} if task.id in self.keep else set()
        if role == WHO:
            able = [worker.id for worker in self.problem.workers if task.skill in worker.skills]
        else:
            able = [machine.id for machine in self.problem.machines if machine.kind == role]
        mine = [name for name in able if name in old]
        return mine if old_names and mine else [*mine, *(name for name in able if name not in old)]

    def _first_free(self, names: Iterable[str], start: int, length: int) -> str:
        for name in names:
            if all(end <= start or begin >= start + length for begin, end in self.busy.get(name, ())):
                return name
        return ""

    def _put(self, task: Task, slot: Keep) -> None:
        self.placed[task.id] = slot
        del self.left[task.id]
        for name in filter(None, (slot.who, *slot.equipment)):
            self.busy.setdefault(name, []).append((slot.start_s, slot.start_s + task.duration_s))

    def _take_back(self, task: Task) -> None:
        slot = self.placed.pop(task.id)
        self.left[task.id] = task
        for name in filter(None, (slot.who, *slot.equipment)):
            self.busy[name].remove((slot.start_s, slot.start_s + task.duration_s))
