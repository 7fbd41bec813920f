"""Counting crowns with a few keys: every planned crown is firm in the tray until a key says otherwise."""

from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from seatwright.case import CrownsCounted

__all__ = ["COUNT_KEYS", "CountEntry", "CountRow", "Found"]

COUNT_KEYS = "123456789abcdefghijklmnoprstuvwxyz"


class Found(StrEnum):
    """Where a crown was found, in the order in which a key runs through it."""

    FIRM = "firm in the tray"
    LOOSE = "LOOSE in the tray"
    ON_TOOTH = "LEFT ON ITS TOOTH"
    NOWHERE = "NOT FOUND"
    NOT_SEATED = "was not seated"


@dataclass(frozen=True, slots=True)
class CountRow:
    """One crown of a count."""

    key: str
    tooth: int
    found: Found


@dataclass(frozen=True, slots=True)
class CountEntry:
    """A count that is being entered; each key moves its crown on to where it was found."""

    case: str
    impression: str
    rows: tuple[CountRow, ...]

    @classmethod
    def begin(cls, case: str, impression: str, lifts: tuple[int, ...]) -> "CountEntry":
        """Return a count in which every crown is firm in the tray."""
        rows = tuple(CountRow(key, tooth, Found.FIRM) for key, tooth in zip(COUNT_KEYS, lifts, strict=False))
        return cls(case, impression, rows)

    def pressed(self, key: str) -> "CountEntry | None":
        """Return the count with the key's crown moved on; None when the key belongs to no crown."""
        if all(row.key != key for row in self.rows):
            return None
        order = list(Found)
        moved = (
            replace(row, found=order[(order.index(row.found) + 1) % len(order)]) if row.key == key else row
            for row in self.rows
        )
        return replace(self, rows=tuple(moved))

    @property
    def is_good(self) -> bool:
        """Whether every crown is firm in the tray."""
        return all(row.found is Found.FIRM for row in self.rows)

    def event(self, *, seq: int, at: datetime, by: str) -> CrownsCounted:
        """Return the count as it is logged."""
        return CrownsCounted(
            seq=seq,
            at=at,
            by=by,
            impression=self.impression,
            seated=self._teeth(Found.FIRM, Found.LOOSE, Found.ON_TOOTH, Found.NOWHERE),
            in_tray=self._teeth(Found.FIRM, Found.LOOSE),
            loose=self._teeth(Found.LOOSE),
            left_on_tooth=self._teeth(Found.ON_TOOTH),
        )

    def _teeth(self, *found: Found) -> tuple[int, ...]:
        return tuple(row.tooth for row in self.rows if row.found in found)
