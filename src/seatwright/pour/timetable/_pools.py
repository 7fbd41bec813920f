"""Who and what is interchangeable: people of equal skill and breaks, equipment of one kind.

A pool of equals needs a count, not names, which lets the solver prove optima sooner; names are dealt out afterwards.
Once anything is pinned to a name, everybody stands alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from seatwright.pour.timetable._problem import Problem, Task

__all__ = ["WHO", "Pool", "deal_names", "options_for", "pools_of", "roles_of"]

WHO = "who"
"""Role of the person in a task; every other role is a kind of equipment or place."""


@dataclass(frozen=True, slots=True)
class Pool:
    """Members that can stand in for each other; `role` is `WHO` or a kind of equipment."""

    role: str
    members: tuple[str, ...]
    skills: frozenset[str] = frozenset()
    breaks_s: tuple[tuple[int, int], ...] = ()

    @property
    def id(self) -> str:
        """Name of the pool."""
        return f"{self.role}:{'+'.join(self.members)}"


def pools_of(problem: Problem, *, one_by_one: bool) -> tuple[Pool, ...]:
    """Return the pools of people, then of equipment, in the order of the bench."""
    groups: dict[tuple[object, ...], list[str]] = {}
    for worker in problem.workers:
        alone = worker.id if one_by_one else ""
        groups.setdefault((WHO, worker.skills, worker.breaks_s, alone), []).append(worker.id)
    people = tuple(
        Pool(WHO, tuple(names), worker.skills, worker.breaks_s)
        for names in groups.values()
        for worker in problem.workers
        if worker.id == names[0]
    )
    kinds: dict[tuple[str, str], list[str]] = {}
    for machine in problem.machines:
        alone = machine.id if one_by_one and not machine.is_place else ""
        kinds.setdefault((machine.kind, alone), []).append(machine.id)
    return people + tuple(Pool(kind, tuple(names)) for (kind, _), names in kinds.items())


def roles_of(task: Task) -> tuple[str, ...]:
    """Return what a task needs: a person where it needs hands, then each kind of equipment."""
    return ((WHO,) if task.skill else ()) + task.needs


def options_for(task: Task, role: str, pools: Sequence[Pool]) -> tuple[Pool, ...]:
    """Return the pools that can fill a role of a task."""
    return tuple(p for p in pools if p.role == role and (role != WHO or task.skill in p.skills))


def deal_names(
    pool: Pool, spans_s: Mapping[str, tuple[int, int]], wished: Mapping[str, str] | None = None
) -> dict[str, str]:
    """Give each task of a pool a member so that nobody does two at once.

    Parameters
    ----------
    pool : Pool
    spans_s : mapping of str to (int, int)
        Start and end of each task; at no moment more tasks than members.
    wished : mapping of str to str, optional
        Member that did the work before it on the same impression, taken where free.

    Returns
    -------
    dict of str to str

    Notes
    -----
    First come, first served in the order of starts: optimal for interval graphs.

    Examples
    --------
    >>> deal_names(Pool("who", ("a", "b")), {"t1": (0, 10), "t2": (5, 15), "t3": (10, 20)})
    {'t1': 'a', 't2': 'b', 't3': 'a'}
    """
    free_at = dict.fromkeys(pool.members, -(10**9))
    dealt: dict[str, str] = {}
    for task, (start_s, end_s) in sorted(spans_s.items(), key=lambda item: (item[1], item[0])):
        free = [name for name in pool.members if free_at[name] <= start_s]
        wish = (wished or {}).get(task, "")
        last = dealt.get(wish, "")
        name = last if last in free else free[0]
        dealt[task] = name
        free_at[name] = end_s
    return dealt
