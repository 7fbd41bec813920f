"""One piece of long work, as seen from outside."""

from dataclasses import dataclass
from enum import StrEnum

from seatwright.errors import SeatwrightError

__all__ = ["JobState", "JobView"]


class JobState(StrEnum):
    """Where a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def is_over(self) -> bool:
        """Whether nothing more will come of it."""
        return self not in (JobState.WAITING, JobState.RUNNING)


@dataclass(frozen=True, slots=True)
class JobView:
    """A job at one moment.

    Attributes
    ----------
    id : str
    task : str
        Place of the function, ``package.module:function``.
    state : JobState
    fraction : float
        Finished part, 0 to 1; never falls.
    what : str
        What is going on, in a few words.
    result : object
        What the task returned, once done.
    error : SeatwrightError or None
        Why it failed or was stopped.
    """

    id: str
    task: str
    state: JobState = JobState.WAITING
    fraction: float = 0.0
    what: str = "waiting for a free worker"
    result: object = None
    error: SeatwrightError | None = None
