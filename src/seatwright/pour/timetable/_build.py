"""From impressions, step cards and the bench to a scheduling problem.

Owns which task waits for which. The numbers of lags stand in `_lags`, the batches in `_batches`.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from seatwright.case import Bench, Duration, StepCard
from seatwright.pour.timetable._batches import Run, batch_dies, name_of_run, run_duration
from seatwright.pour.timetable._breaks import TAKE_SKILL, workers_of
from seatwright.pour.timetable._history import Fact
from seatwright.pour.timetable._impression_work import ImpressionWork
from seatwright.pour.timetable._lags import LAG_ROWS, LagRow
from seatwright.pour.timetable._pins import pin_facts
from seatwright.pour.timetable._problem import Edge, Lag, Machine, Problem, Task, Window
from seatwright.pour.timetable._validate import require_sound

__all__ = ["build_problem", "recall_problem"]

GRID_S = 30  # judgement: nobody starts to the second; typical durations are rounded up to half minutes
COARSE_GRID_S = 60  # judgement: where all work is in whole minutes, so are its starts
AT_TRAY = 2  # judgement: two people can hold and work on one tray
AT_BENCH = ("weigh", "mix")
"""Steps done away from the tray."""
_TAKE = Duration(5.0, 7.0, 10.0)  # judgement: load, seat and hold a tray until the material has set
_SESSION_MIN = 45.0  # judgement: impressions of one visit lie no farther apart


def build_problem(
    works: Sequence[ImpressionWork],
    bench: Bench,
    *,
    now: datetime,
    facts: Sequence[Fact] = (),
    session_min: float = _SESSION_MIN,
) -> Problem:
    """Return the sound problem of all impressions at `now`; what the log says is done or running is pinned.

    Times count from the full minute at or before `now`.

    Raises
    ------
    CaseError
        See `require_sound`.
    """
    problem = recall_problem(works, bench, now=now, facts=facts, session_min=session_min)
    require_sound(problem)
    return problem


def recall_problem(
    works: Sequence[ImpressionWork],
    bench: Bench,
    *,
    now: datetime,
    facts: Sequence[Fact] = (),
    session_min: float = _SESSION_MIN,
) -> Problem:
    """Return the problem as `build_problem` does, unchecked: of a day that is over, only to learn from."""
    tasks: list[Task] = []
    lags: list[Lag] = []
    windows: list[Window] = []
    origin = now.replace(second=0, microsecond=0)  # a day is counted in the minutes of the clock on the wall
    workers = workers_of(bench, origin=origin)
    may_take = any(TAKE_SKILL in worker.skills for worker in workers)
    for work in works:
        part = _Part(work, origin, may_take=may_take)
        part.add_all()
        tasks += part.tasks
        lags += part.lags
        windows.append(part.window())
    lags += _session_lags(works, session_min)
    machines = _machines(works, bench)
    day = tuple(tasks), tuple(lags), workers, machines, tuple(windows)
    problem = Problem(origin, *day, grid_s=GRID_S, coarse_grid_s=COARSE_GRID_S)
    return pin_facts(problem, facts, now=now)


def _machines(works: Sequence[ImpressionWork], bench: Bench) -> tuple[Machine, ...]:
    things = [Machine(entry.id, entry.kind) for entry in bench.equipment]
    for work in works:
        tray = _tray(work)
        things += [Machine(f"{tray} #{i + 1}", tray, is_place=True) for i in range(AT_TRAY)]
    for case in dict.fromkeys(work.case for work in works):
        things.append(Machine(f"chair {case}", f"chair {case}", is_place=True))
    return tuple(things)


def _on_grid(duration: Duration) -> int:
    return GRID_S * max(1, math.ceil(duration.typical_min * 60 / GRID_S - 1e-9))


def _tray(work: ImpressionWork) -> str:
    return f"tray {work.case}/{work.impression}"


def _session_lags(works: Sequence[ImpressionWork], session_min: float) -> list[Lag]:
    planned = [work for work in works if work.out_at is None]
    lags = []
    for first in planned:
        for second in planned:
            if first is not second and first.case == second.case:
                names = f"{first.case}/{first.impression}/take", f"{second.case}/{second.impression}/take"
                why = "one visit: the patient waits in the chair"
                lags.append(Lag("one-visit", *names, Edge.START, Edge.END, None, round(session_min * 60), why))
    return lags


class _Part:
    """Tasks and lags of one impression."""

    def __init__(self, work: ImpressionWork, origin: datetime, *, may_take: bool) -> None:
        self.work = work
        self.may_take = may_take
        self.out_s = None if work.out_at is None else round((work.out_at - origin).total_seconds())
        self.tasks: list[Task] = []
        self.lags: list[Lag] = []

    def add_all(self) -> None:
        work = self.work
        if work.out_at is None:
            self._add_take()
        die_units = {card.tooth for card in work.die_cards if card.id == "flash-and-dry"}
        own = [c for c in work.own_cards if not (c.id == "dry-crown" and c.tooth in die_units)]
        split = next((i for i, card in enumerate(own) if card.id == "box"), len(own))
        opening = self._add_chain([c for c in own[:split] if c.tooth == 0], after=self._ids("take"))
        drying = [c for c in own[:split] if c.tooth != 0]
        ends = self._add_dies([*drying, *work.die_cards], after=opening[-1:] or self._ids("take"))
        boxed = self._add_chain([c for c in own[split:] if c.id == "box"], after=ends or opening[-1:])
        before_pour = boxed or ends or opening[-1:] or self._ids("take")
        weighed = self._add_chain([c for c in own if c.id == "weigh"], after=())
        mixed = self._add_chain([c for c in own if c.id == "mix"], after=(*before_pour, *weighed))
        poured = self._add_chain([c for c in own if c.id == "pour"], after=mixed or (*before_pour, *weighed))
        based = self._add_chain([c for c in own if c.id == "pour-base"], after=poured)
        self._add_chain([c for c in own if c.id == "separate"], after=based or poured)
        for row in LAG_ROWS:
            self._apply(row)
        self._add_separation()
        self._add_pour_from()

    def window(self) -> Window:
        work = self.work
        pour = self._with_step("pour")[0].id
        taken = self._ids("take")
        return Window(
            pour,
            work.case,
            work.impression,
            self.out_s,
            work.bands,
            out_task=taken[0] if taken else "",
            weight=work.weight,
        )

    def _name(self, step: str, units: Sequence[int] = ()) -> str:
        tail = "/" + "+".join(str(u) for u in units) if units else ""
        return f"{self.work.case}/{self.work.impression}/{step}{tail}"

    def _ids(self, step: str) -> tuple[str, ...]:
        return tuple(task.id for task in self._with_step(step))

    def _with_step(self, step: str) -> list[Task]:
        return [task for task in self.tasks if step in task.steps]

    def _add_take(self) -> None:
        self.tasks.append(
            Task(
                self._name("take"),
                f"take {self.work.impression}",
                _on_grid(_TAKE),
                self.work.case,
                self.work.impression,
                steps=("take",),
                skill=TAKE_SKILL if self.may_take else "",
                needs=(f"chair {self.work.case}",),
                spread=_TAKE,
            )
        )

    def _add_task(self, run: Run, *, after: Iterable[str]) -> str:
        step, words = name_of_run(run.cards)
        units = tuple(unit for unit in run.units if unit)
        duration = run_duration(run.cards)
        is_away = not run.is_attended or step in AT_BENCH
        task = Task(
            self._name(step, units),
            words if words.startswith("stops under") else f"{words} {', '.join(str(u) for u in units)}".strip(),
            _on_grid(duration),
            self.work.case,
            self.work.impression,
            units,
            run.steps,
            skill=run.cards[0].skill.value if run.is_attended else "",
            needs=run.equipment if is_away else (*run.equipment, _tray(self.work)),
            spread=duration,
            not_before_s=0 if step in AT_BENCH else max(self.out_s or 0, 0),
        )
        self.tasks.append(task)
        self.lags += [Lag("order", before, task.id, why="one after the other") for before in after]
        return task.id

    def _add_chain(self, cards: Sequence[StepCard], *, after: Sequence[str]) -> tuple[str, ...]:
        """Add cards of the whole impression one after the other; return the last one's id, if any."""
        last = tuple(after)
        added = False
        for card in cards:
            last = (self._add_task(Run((0,), (card,)), after=last),)
            added = True
        return last if added else ()

    def _add_dies(self, cards: Sequence[StepCard], *, after: Sequence[str]) -> tuple[str, ...]:
        ends: list[str] = []
        for chain in batch_dies(_by_unit(cards)):
            last = tuple(after)
            for run in chain:
                last = (self._add_task(run, after=last),)
            ends += last
        return tuple(ends)

    def _apply(self, row: LagRow) -> None:
        if row.wet_only and not self.work.is_wet:
            return
        for first in self.tasks:
            if not set(row.first) & set(first.steps):
                continue
            second_step = next((s for s in row.second if self._followers(first, s)), None)
            if second_step is None:
                continue
            longest = row.max_min
            if row.id == "working-time" and self.work.working_time_min is not None:
                longest = self.work.working_time_min
            for second in self._followers(first, second_step):
                self.lags.append(
                    Lag(
                        row.id,
                        first.id,
                        second.id,
                        row.first_at,
                        row.second_at,
                        None if row.min_min is None else round(row.min_min * 60),
                        None if longest is None else round(longest * 60),
                        row.why,
                        row.source,
                    )
                )

    def _followers(self, first: Task, step: str) -> list[Task]:
        """Return other tasks with this step that are on the same units, or on the whole impression."""
        return [
            task
            for task in self._with_step(step)
            if task.id != first.id and (not first.units or not task.units or set(first.units) & set(task.units))
        ]

    def _add_separation(self) -> None:
        for pour in self._with_step("pour"):
            for apart in self._with_step("separate"):
                since, until = (round(m * 60) for m in self.work.separate_min)
                why = "earlier the stone is weak, later the surface suffers"
                self.lags.append(Lag("separation", pour.id, apart.id, min_s=since, max_s=until, why=why))

    def _add_pour_from(self) -> None:
        if not self.work.pour_from_min:
            return
        wait_s = round(self.work.pour_from_min * 60)
        why = "the maker wants this wait before the stone"
        for pour in self._with_step("pour"):
            for taken in self._ids("take"):
                self.lags.append(Lag("pour-from", taken, pour.id, min_s=wait_s, why=why))
            if self.out_s is not None:
                due_s = self.out_s + wait_s
                index = self.tasks.index(pour)
                self.tasks[index] = replace(pour, not_before_s=max(due_s, 0))


def _by_unit(cards: Sequence[StepCard]) -> list[StepCard]:
    """Return the cards unit by unit, drying first, in the order in which units first appear."""
    units = dict.fromkeys(card.tooth for card in cards)
    return [card for unit in units for card in cards if card.tooth == unit]
