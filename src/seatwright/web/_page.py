"""What all requests share: the practice, its day, the workers and who listens."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from seatwright.web._day import DayKeeper
from seatwright.web._hub import Hub
from seatwright.web._people import People
from seatwright.web._practice import Practice
from seatwright.web._settings import ServeSettings
from seatwright.workflows.ports import Clock

if TYPE_CHECKING:
    from seatwright.jobs import WorkerPool
    from seatwright.web._arrivals import Arrivals
    from seatwright.web._checks import Checks

__all__ = ["PageState"]

_WAKE = "seatwright.jobs.surface_tasks:wake"


@dataclass(slots=True)
class PageState:
    """What all requests share; workers and what they do come with the pages behind the bench (`app.open_behind`)."""

    settings: ServeSettings
    clock: Clock
    hub: Hub
    practice: Practice
    day: DayKeeper
    people: People | None = None
    """Who signs in; None on a page for this machine alone."""
    pool: "WorkerPool" = field(init=False)
    at_hand: "WorkerPool" = field(init=False)
    """For what somebody waits for with a finger on the screen: it never stands behind a check that takes seconds."""
    checks: "Checks" = field(init=False)
    arrivals: "Arrivals" = field(init=False)
    is_whole: bool = field(init=False, default=False)
    """Whether the pages behind the bench are there."""

    def close(self) -> None:
        """End the workers and give the record back."""
        if self.is_whole:
            self.arrivals.close()
            self.pool.close()
            self.at_hand.close()
            self.checks.close()
        self.practice.close()

    def wake_worker(self) -> None:
        """Have one worker read the libraries that the first surface needs."""
        self.at_hand.submit(_WAKE, self.settings.data)
