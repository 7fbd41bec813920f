"""What all requests share: the practice, its day, the workers and who listens."""

from dataclasses import dataclass

from seatwright.jobs import WorkerPool
from seatwright.web._arrivals import Arrivals
from seatwright.web._checks import Checks
from seatwright.web._day import DayKeeper
from seatwright.web._hub import Hub
from seatwright.web._people import People
from seatwright.web._practice import Practice
from seatwright.web._settings import ServeSettings
from seatwright.workflows.ports import Clock

__all__ = ["PageState"]

_WAKE = "seatwright.jobs.surface_tasks:wake"


@dataclass(slots=True)
class PageState:
    """What all requests share."""

    settings: ServeSettings
    clock: Clock
    hub: Hub
    pool: WorkerPool
    at_hand: WorkerPool
    """For what somebody waits for with a finger on the screen: it never stands behind a check that takes seconds."""
    practice: Practice
    day: DayKeeper
    checks: Checks
    arrivals: Arrivals
    people: People | None = None
    """Who signs in; None on a page for this machine alone."""

    def wake_worker(self) -> None:
        """Have one worker read the libraries that the first surface needs."""
        self.at_hand.submit(_WAKE, self.settings.data)
