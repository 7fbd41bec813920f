"""How long work says how far it is, and is told to stop."""

from collections.abc import Callable
from dataclasses import dataclass

from seatwright.errors import Cancelled

__all__ = ["SILENT", "Progress"]


@dataclass(frozen=True, slots=True)
class Progress:
    """Two callbacks that long functions take from the start.

    Attributes
    ----------
    on_progress : callable
        Called with the finished fraction (0 to 1) and a few words on what is going on.
    should_stop : callable
        Asked at each report; when it answers True, `report` raises `Cancelled`.
    """

    on_progress: Callable[[float, str], None] = lambda _fraction, _what: None
    should_stop: Callable[[], bool] = lambda: False

    def report(self, fraction: float, what: str) -> None:
        """Tell how far the work is; raise `Cancelled` when asked to stop."""
        if self.should_stop():
            raise Cancelled("stopped as asked", hint="nothing was written; start again when ready")
        self.on_progress(fraction, what)

    def part(self, start: float, end: float) -> "Progress":
        """Return a progress whose 0..1 is mapped to start..end of this one."""
        return Progress(
            on_progress=lambda fraction, what: self.on_progress(start + fraction * (end - start), what),
            should_stop=self.should_stop,
        )


SILENT = Progress()
