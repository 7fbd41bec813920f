"""The scheduling problem as plain data: tasks, lags, people, equipment, pour windows.

Owns the vocabulary that model, checker, replan and simulation share. Refuses to know dentistry: where tasks and
lags come from stands in `_build`. All times are whole seconds after `Problem.origin`, which is UTC.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from seatwright.case import Duration
from seatwright.findings import COMMON_PRACTICE, Source
from seatwright.pour._result import Band

__all__ = ["AgeBand", "Edge", "Lag", "Machine", "Pin", "Problem", "Task", "Window", "Worker"]


class Edge(StrEnum):
    """Which end of a task a lag counts from."""

    START = "start"
    END = "end"


@dataclass(frozen=True, slots=True)
class Pin:
    """Where a task stands already: started, finished, or too close to be moved."""

    start_s: int
    end_s: int
    who: str = ""
    equipment: tuple[str, ...] = ()
    is_fact: bool = True
    """Done or running; False: only about to start, and kept where it was."""
    is_timed: bool = False
    """Start and end were both logged, so its length is a measurement."""


@dataclass(frozen=True, slots=True)
class Task:
    """One uninterrupted piece of work, as one touch starts and finishes it.

    Attributes
    ----------
    id : str
        Unique; ``case/impression/step/units``.
    what : str
        As a person reads it.
    duration_s : int
        Planned length, > 0.
    skill : str
        What the person must be able to do; empty while no hands are needed (contact, hardening).
    needs : tuple of str
        Kinds of equipment and places, each used from start to end.
    spread : Duration or None
        Low, typical, high minutes, for the simulation; None: exact.
    not_before_s : int
        Earliest start.
    pin : Pin or None
    """

    id: str
    what: str
    duration_s: int
    case: str = ""
    impression: str = ""
    units: tuple[int, ...] = ()
    steps: tuple[str, ...] = ()
    skill: str = ""
    needs: tuple[str, ...] = ()
    spread: Duration | None = None
    not_before_s: int = 0
    pin: Pin | None = None


@dataclass(frozen=True, slots=True)
class Lag:
    """Time between two edges of two tasks: at least `min_s`, at most `max_s`."""

    id: str
    first: str
    second: str
    first_at: Edge = Edge.END
    second_at: Edge = Edge.START
    min_s: int | None = 0
    max_s: int | None = None
    why: str = ""
    source: Source = COMMON_PRACTICE


@dataclass(frozen=True, slots=True)
class Worker:
    """Somebody at the bench; `breaks_s` are (from, to) pairs in which no hands are there."""

    id: str
    skills: frozenset[str]
    breaks_s: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Machine:
    """One thing, or one place, that one task at a time can use; places are not shown as equipment."""

    id: str
    kind: str
    is_place: bool = False


@dataclass(frozen=True, slots=True)
class AgeBand:
    """A stretch of an impression's age with one forecast error; `error_um` None where no number is supported."""

    since_s: int
    until_s: int | None
    band: Band
    error_um: int | None


@dataclass(frozen=True, slots=True)
class Window:
    """Until when one impression wants its stone, and what each later stretch costs.

    Attributes
    ----------
    task : str
        The pour; its end counts.
    out_s : int or None
        When the impression left the mouth; negative before `origin`. None: at the end of `out_task`.
    out_task : str
        Planned taking of the impression, where `out_s` is None.
    bands : tuple of AgeBand
        Contiguous from age 0, the last without end.
    weight : int
        How much losing this one matters against the others, > 0.
    reserve_s : int
        Held back from the end of the window against slow work.
    """

    task: str
    case: str
    impression: str
    out_s: int | None
    bands: tuple[AgeBand, ...]
    out_task: str = ""
    weight: int = 1
    reserve_s: int = 0

    def band_at(self, age_s: int) -> AgeBand:
        """Return the band an age falls into: (since, until], the first from 0."""
        for band in self.bands:
            if band.until_s is None or age_s <= band.until_s:
                return band
        return self.bands[-1]

    def window_s(self) -> int | None:
        """Return the age at which the window closes; None: never."""
        until = None
        for band in self.bands:
            if band.band is not Band.WITHIN:
                break
            until = band.until_s
        return until if self.bands[0].band is Band.WITHIN else 0


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything that a timetable is made from."""

    origin: datetime
    tasks: tuple[Task, ...]
    lags: tuple[Lag, ...] = ()
    workers: tuple[Worker, ...] = ()
    machines: tuple[Machine, ...] = ()
    windows: tuple[Window, ...] = ()
    grid_s: int = 1
    """Times are planned on this grid, rounded to the safe side."""
    coarse_grid_s: int = 0
    """Preferred to it where all work is in multiples of it and no window is lost; 0: none."""

    def task(self, task_id: str) -> Task:
        """Return one task; KeyError when there is none."""
        for task in self.tasks:
            if task.id == task_id:
                return task
        raise KeyError(task_id)

    def at(self, offset_s: int) -> datetime:
        """Return the moment so many seconds after the origin."""
        return self.origin + timedelta(seconds=offset_s)

    def offset_s(self, moment: datetime) -> int:
        """Return whole seconds from the origin to a moment."""
        return round((moment - self.origin).total_seconds())

    def open_lags(self) -> tuple[Lag, ...]:
        """Return the lags that can still be kept: what leads to a fact, or ties two pinned tasks, is settled."""
        pins = {task.id: task.pin for task in self.tasks if task.pin}
        facts = {name for name, pin in pins.items() if pin.is_fact}
        return tuple(
            lag for lag in self.lags if lag.second not in facts and not (lag.first in pins and lag.second in pins)
        )

    def horizon_s(self) -> int:
        """Return a time by which everything can be done one after the other, breaks and waits included.

        Notes
        -----
        Safe: in a serial schedule each task waits at most for every minimum lag, every break and the latest release
        once.
        """
        work = sum(task.duration_s for task in self.tasks)
        waits = sum(max(lag.min_s or 0, 0) for lag in self.lags)
        breaks = sum(until - since for worker in self.workers for since, until in worker.breaks_s)
        last_break = max((until for worker in self.workers for _, until in worker.breaks_s), default=0)
        fixed = max((task.pin.end_s for task in self.tasks if task.pin), default=0)
        release = max((task.not_before_s for task in self.tasks), default=0)
        return max(fixed, release, last_break, 0) + work + waits + breaks
