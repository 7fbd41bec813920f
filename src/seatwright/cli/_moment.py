"""The moment that a command goes by: as its option says, or the clock's, which may begin at another time."""

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from seatwright.errors import InputError

if TYPE_CHECKING:
    from seatwright.workflows.ports import Clock

__all__ = ["ShiftedClock", "parse_now"]


def parse_now(text: str | None, *, option: str = "--now") -> datetime | None:
    """Read an ISO 8601 time with its zone; InputError otherwise."""
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(
            f"{option} {text!r} is not an ISO 8601 time", hint="such as 2026-03-09T10:15:00+01:00"
        ) from error
    if moment.tzinfo is None:
        raise InputError(f"{option} {text!r} has no time zone", hint=f"such as {text}+01:00 or {text}Z")
    return moment.astimezone(UTC)


class ShiftedClock:
    """A clock that runs as fast as another one, but began at a stated moment."""

    def __init__(self, clock: "Clock", start: datetime | None) -> None:
        self._clock = clock
        self._shift = timedelta(0) if start is None else start - clock.now()

    def now(self) -> datetime:
        """Return the present moment of this clock."""
        return self._clock.now() + self._shift
