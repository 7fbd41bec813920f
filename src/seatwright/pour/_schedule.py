"""A list schedule of step cards over people and equipment, and the bound that no order of work can beat.

Owns tasks, precedence, hands, one thing of equipment at a time. Knows no impression material and no clock: minutes
from now. It is a forecast of minutes, not a timetable: greedy, the task with the longest work behind it first.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from seatwright.case import Duration, Person, Skill

__all__ = ["Task", "WorkTime", "schedule_work"]

_MOST_HANDS = 3  # judgement: more people than this only get in each other's way at one impression
_AT_TRAY = 2  # judgement: two people can hold and work on one tray


@dataclass(frozen=True, slots=True)
class Task:
    """One piece of work; `needs` are indices of tasks that must be finished first."""

    duration: Duration
    skill: Skill
    attended: bool
    equipment: tuple[str, ...]
    needs: tuple[int, ...]
    tray: str = ""
    """Tray it is done at; empty when it is done elsewhere on the bench."""


@dataclass(frozen=True, slots=True)
class WorkTime:
    """Minutes until the last task is done, the bound below which no order can come, and the people it took."""

    minutes: Duration
    bound: Duration
    n_people: int
    ends: tuple[Duration, ...]
    """End of each task, in the order of the tasks, from the same orders of work as `minutes`."""


@dataclass(frozen=True, slots=True)
class _Placed:
    task: int
    after: tuple[int, ...]
    """Tasks that must be finished first, by precedence or because they hold the same hands or thing."""


def schedule_work(tasks: Sequence[Task], people: Sequence[Person], equipment: Mapping[str, int]) -> WorkTime | None:
    """Minutes of work with the best choice of up to three of these people; None when a skill is missing.

    Parameters
    ----------
    tasks : sequence of Task
    people : sequence of Person
        Who may be asked. More people never give more minutes: every smaller group is tried as well.
    equipment : mapping
        How many of each kind there are; a kind that is not named counts as one.

    Returns
    -------
    WorkTime or None
        For each pace (shortest, typical, longest) the best group's minutes. The order of work is fixed at the typical
        pace and timed at all three, so that a slower pace never comes out shorter.

    Notes
    -----
    List scheduling is within a factor of two of the best order for equal hands without equipment [1]_; `bound` shows
    what is left.

    References
    ----------
    .. [1] Graham RL. Bounds for certain multiprocessing anomalies. Bell Syst Tech J 1966;45:1563-81 (from memory).
    """
    asked = {task.skill for task in tasks}
    if not asked <= {skill for person in people for skill in person.skills}:
        return None
    groups = _groups(people, asked)
    best: list[tuple[int, list[Duration]]] = []
    for group in groups:
        order = _order(tasks, group, equipment)
        best.append((len(group), _retime(tasks, order)))
    spans = [(n, _last(ends)) for n, ends in best]
    minutes = Duration(
        min(s.low_min for _, s in spans), min(s.typical_min for _, s in spans), min(s.high_min for _, s in spans)
    )
    n_people = min(n for n, s in spans if s.typical_min <= minutes.typical_min + 1e-9)
    ends = next(ends for n, ends in best if n == n_people and _last(ends).typical_min <= minutes.typical_min + 1e-9)
    return WorkTime(minutes, _bound(tasks, people, equipment), n_people, tuple(ends))


def _groups(people: Sequence[Person], asked: set[Skill]) -> list[tuple[Person, ...]]:
    """Return one group of each make-up by skill that can do all the work, small groups first."""
    seen: set[tuple[tuple[str, ...], ...]] = set()
    groups = []
    for n in range(1, min(len(people), max(_MOST_HANDS, _fewest(people, asked))) + 1):
        for group in combinations(people, n):
            key = tuple(sorted(tuple(sorted(s.value for s in p.skills if s in asked)) for p in group))
            if key in seen or not asked <= {s for p in group for s in p.skills}:
                continue
            seen.add(key)
            groups.append(group)
    return groups


def _fewest(people: Sequence[Person], asked: set[Skill]) -> int:
    """Return the size of the smallest group that can do all the work."""
    sizes = range(1, len(people) + 1)
    fits = (n for n in sizes for g in combinations(people, n) if asked <= {s for p in g for s in p.skills})
    return next(fits, 1)


def _tails(tasks: Sequence[Task]) -> list[float]:
    """Return for each task the typical minutes of the longest chain that starts with it."""
    tails = [task.duration.typical_min for task in tasks]
    for index in range(len(tasks) - 1, -1, -1):
        for need in tasks[index].needs:
            tails[need] = max(tails[need], tasks[need].duration.typical_min + tails[index])
    return tails


class _Slots:
    """Hands, trays and things: when each is free, and which task held it last."""

    def __init__(self) -> None:
        self.free: defaultdict[str, float] = defaultdict(float)
        self.last: dict[str, int] = {}

    def earliest(self, keys: Sequence[str]) -> str:
        return min(keys, key=self.free.__getitem__)  # the first of those that are free as early

    def take(self, key: str, task: int, until: float) -> None:
        self.free[key] = until
        self.last[key] = task


def _order(tasks: Sequence[Task], group: Sequence[Person], equipment: Mapping[str, int]) -> list[_Placed]:
    """Place tasks one by one: of those whose needs are placed, the one that starts first; the longest tail on ties."""
    tails, slots, ends = _tails(tasks), _Slots(), dict[int, float]()
    choices = [_choices(task, group, equipment) for task in tasks]
    waiting, placed = set(range(len(tasks))), list[_Placed]()
    while waiting:
        chosen: tuple[float, float, int, list[str]] | None = None
        for index in sorted(waiting):
            needs = tasks[index].needs
            if not waiting.isdisjoint(needs):
                continue
            held = [slots.earliest(keys) for keys in choices[index]]
            start = max([0.0, *(ends[n] for n in needs), *(slots.free[key] for key in held)])
            if chosen is None or (start, -tails[index]) < chosen[:2]:
                chosen = (start, -tails[index], index, held)
        assert chosen is not None, "tasks need each other in a circle"  # noqa: S101
        start, _, index, held = chosen
        after = {*tasks[index].needs, *(slots.last[key] for key in held if key in slots.last)}
        ends[index] = start + tasks[index].duration.typical_min
        for key in held:
            slots.take(key, index, ends[index])
        placed.append(_Placed(index, tuple(sorted(after))))
        waiting.discard(index)
    return placed


def _choices(task: Task, group: Sequence[Person], equipment: Mapping[str, int]) -> list[list[str]]:
    """Return, for each thing that the task holds, the slots it could take; people with fewest skills first."""
    choices = [[f"{kind}/{i}" for i in range(max(equipment.get(kind, 1), 1))] for kind in task.equipment]
    if task.attended:
        able = sorted((p for p in group if task.skill in p.skills), key=lambda p: (len(p.skills), p.id))
        choices.append([f"person/{p.id}" for p in able])
        if task.tray:
            choices.append([f"tray/{task.tray}/{i}" for i in range(_AT_TRAY)])
    return choices


def _retime(tasks: Sequence[Task], order: Sequence[_Placed]) -> list[Duration]:
    """Return each task's end at the three paces, the order of work kept."""
    ends: dict[int, Duration] = {}
    for item in order:
        start = _last([ends[index] for index in item.after])
        ends[item.task] = start.plus(tasks[item.task].duration)
    return [ends[index] for index in range(len(tasks))]


def _last(ends: Sequence[Duration]) -> Duration:
    """Return the latest end at each pace; zero when there is none."""
    return Duration(
        max((d.low_min for d in ends), default=0.0),
        max((d.typical_min for d in ends), default=0.0),
        max((d.high_min for d in ends), default=0.0),
    )


def _bound(tasks: Sequence[Task], people: Sequence[Person], equipment: Mapping[str, int]) -> Duration:
    """Return the greatest of: the longest chain, hands' work over all hands able, each thing's work over its number."""
    chain: list[Duration] = []
    for task in tasks:
        chain.append(_last([chain[n] for n in task.needs]).plus(task.duration))
    bounds = [_last(chain)]
    attended = [task for task in tasks if task.attended]
    for skill in {task.skill for task in attended}:
        able = sum(skill in person.skills for person in people)
        bounds.append(_sum(task for task in attended if task.skill is skill).scaled(1 / max(able, 1)))
    bounds.append(_sum(attended).scaled(1 / max(len(people), 1)))
    for kind in {kind for task in tasks for kind in task.equipment}:
        load = _sum(task for task in tasks if kind in task.equipment)
        bounds.append(load.scaled(1 / max(equipment.get(kind, 1), 1)))
    return _last(bounds)


def _sum(tasks: Iterable[Task]) -> Duration:
    total = Duration(0.0, 0.0, 0.0)
    for task in tasks:
        total = total.plus(task.duration)
    return total
