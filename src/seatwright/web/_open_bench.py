"""The day at the bench with the record behind it: opened before any page, since planning takes as long as reading."""

from contextlib import suppress
from dataclasses import dataclass

from seatwright import wiring
from seatwright.errors import SeatwrightError
from seatwright.record import is_record_folder
from seatwright.web._day import BenchCases, DayKeeper
from seatwright.web._practice import Practice
from seatwright.web._settings import ServeSettings
from seatwright.workflows.ports import Clock

__all__ = ["OpenBench", "open_bench", "plan_ahead"]


@dataclass(frozen=True, slots=True)
class OpenBench:
    """The practice, its day and the clock of both."""

    practice: Practice
    day: DayKeeper
    clock: Clock


def open_bench(settings: ServeSettings, clock: Clock | None = None) -> OpenBench:
    """Return the bench of a practice; nothing is read before somebody asks."""
    running = clock or wiring.SystemClock()
    practice = Practice(settings.data, running)
    cases = BenchCases(
        standing=practice.standing_at_bench,
        source=practice.source,
        log=lambda _code, bundle: practice.log(bundle),
    )
    return OpenBench(practice, DayKeeper(cases, running), running)


def plan_ahead(bench: OpenBench) -> None:
    """Plan the day before somebody asks; what fails here is told to whoever asks, and no record is made."""
    if is_record_folder(bench.practice.folder):
        with suppress(SeatwrightError):
            bench.day.view()
