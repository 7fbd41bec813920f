"""What the timetable answers: who does what when, how good that is, and what does not fit."""

from dataclasses import dataclass
from datetime import datetime

from seatwright.findings import Finding
from seatwright.pour._result import Band

__all__ = ["Goal", "Late", "Miss", "Overstep", "Placed", "Remedy", "Timetable", "Wait"]


@dataclass(frozen=True, slots=True)
class Placed:
    """One task in its place."""

    id: str
    case: str
    impression: str
    what: str
    who: str
    """Empty where no hands are needed."""
    equipment: tuple[str, ...]
    start: datetime
    end: datetime
    units: tuple[int, ...] = ()
    steps: tuple[str, ...] = ()
    is_fixed: bool = False
    """Done, running, or too close to be moved."""


@dataclass(frozen=True, slots=True)
class Goal:
    """One goal of the plan, in the order in which they count."""

    name: str
    unit: str
    value: int
    bound: int
    """No timetable can be better than this, the goals before it kept."""

    @property
    def is_proven(self) -> bool:
        """Whether nothing better exists."""
        return self.value <= self.bound


@dataclass(frozen=True, slots=True)
class Late:
    """A pour that comes after its window."""

    case: str
    impression: str
    pour_end: datetime
    window_end: datetime
    by_min: float
    band: Band
    error_um: int | None
    what_to_do: str = ""


@dataclass(frozen=True, slots=True)
class Wait:
    """A stretch in which an impression lies untouched, and how it must be kept."""

    case: str
    impression: str
    start: datetime
    end: datetime
    keep: str


@dataclass(frozen=True, slots=True)
class Overstep:
    """A longest time that cannot be kept any more."""

    lag: str
    first: str
    second: str
    by_min: float
    why: str


@dataclass(frozen=True, slots=True)
class Miss:
    """Chance that a window or a longest time is missed, from the spread of durations."""

    what: str
    """Impression or lag."""
    kind: str
    """``window`` or ``lag``."""
    chance: float
    u_chance: float
    """Standard uncertainty of the simulation."""
    reserve_min: float
    """Held back for it in the plan."""
    n_runs: int


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change that was tried, and what it does for the late pours, or for the chance of missing a window."""

    change: str
    n_late: int
    is_proven: bool
    helps: bool
    detail: str = ""
    about: str = ""
    """``case/impression`` whose chance of a miss it was tried for; empty: the late pours."""


@dataclass(frozen=True, slots=True)
class Timetable:
    """Who does what when."""

    now: datetime
    tasks: tuple[Placed, ...]
    waits: tuple[Wait, ...]
    goals: tuple[Goal, ...]
    late: tuple[Late, ...]
    oversteps: tuple[Overstep, ...]
    proven: bool
    """Every goal proven optimal in its turn."""
    objective: int
    """Late pours, error and makespan as one number, an earlier one outweighing all later ones; seconds when alone."""
    bound: int
    seed: int
    n_workers: int
    solver_s: float
    misses: tuple[Miss, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    hands_needed: int | None = None
    """Fewest pairs of hands, each able to do everything, with which no pour is late; None: not counted, or none."""
    changes: tuple[str, ...] = ()
    """What is different from the timetable before, one line each."""
    findings: tuple[Finding, ...] = ()

    def task(self, task_id: str) -> Placed:
        """Return one placed task; KeyError when there is none."""
        for task in self.tasks:
            if task.id == task_id:
                return task
        raise KeyError(task_id)

    def goal(self, name: str) -> Goal:
        """Return one goal; KeyError when there is none."""
        for goal in self.goals:
            if goal.name == name:
                return goal
        raise KeyError(name)
