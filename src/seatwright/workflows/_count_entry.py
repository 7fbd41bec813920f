"""Counting crowns with a few keys: no crown counts as firm before somebody said so of it.

A count that began with every crown firm would be affirmed by one absent-minded touch, and the crown left on its tooth,
or in the airway, is the one that nobody looked for.
"""

from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from seatwright.case import CrownsCounted
from seatwright.errors import Fault, InputError

__all__ = ["ALL_FIRM_KEY", "COUNT_KEYS", "CountEntry", "CountRow", "Found"]

ALL_FIRM_KEY = "*"
_LOG_KEYS = ("\r", "\n", "0")
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
    found: Found | None = None
    """None while nobody has judged it."""


@dataclass(frozen=True, slots=True)
class CountEntry:
    """A count that is being entered; each key moves its crown on to where it was found."""

    case: str
    impression: str
    rows: tuple[CountRow, ...]
    by: str = ""
    """Who counts, where that is known when it begins."""

    @classmethod
    def begin(cls, case: str, impression: str, lifts: tuple[int, ...], *, by: str = "") -> "CountEntry":
        """Return a count in which no crown is judged yet."""
        rows = tuple(CountRow(key, tooth) for key, tooth in zip(COUNT_KEYS, lifts, strict=False))
        return cls(case, impression, rows, by)

    def typed(self, key: str) -> tuple["CountEntry", str]:
        """Return the count after a key, and what is to be said about it."""
        if key == ALL_FIRM_KEY:
            return self.with_others_firm(), "Every crown not judged before: firm in the tray, checked by hand."
        if key in _LOG_KEYS:
            teeth = ", ".join(str(tooth) for tooth in self.open_teeth)
            return self, f"Not judged yet: {teeth}. {ALL_FIRM_KEY} says of all these: firm, each checked by hand."
        moved = self.pressed(key)
        return (moved, "") if moved else (self, f"'{key}' is no crown's key.")

    def is_logged_by(self, key: str) -> bool:
        """Whether the key logs the count: only once every crown is judged."""
        return key in _LOG_KEYS and not self.open_teeth

    @property
    def open_teeth(self) -> tuple[int, ...]:
        """Crowns that nobody has judged yet."""
        return tuple(row.tooth for row in self.rows if row.found is None)

    def with_others_firm(self) -> "CountEntry":
        """Return the count in which every crown not judged before is firm in the tray: each was checked by hand."""
        return replace(self, rows=tuple(replace(row, found=row.found or Found.FIRM) for row in self.rows))

    def pressed(self, key: str) -> "CountEntry | None":
        """Return the count with the key's crown moved on; None when the key belongs to no crown."""
        if all(row.key != key for row in self.rows):
            return None
        moved = (replace(row, found=_next(row.found)) if row.key == key else row for row in self.rows)
        return replace(self, rows=tuple(moved))

    @property
    def is_good(self) -> bool:
        """Whether every crown is firm in the tray."""
        return all(row.found is Found.FIRM for row in self.rows)

    def event(self, *, seq: int, at: datetime, by: str) -> CrownsCounted:
        """Return the count as it is logged.

        Raises
        ------
        InputError
            A crown is not judged yet.
        """
        if self.open_teeth:
            faults = [Fault(str(tooth), "where it was found is not said") for tooth in self.open_teeth]
            raise InputError("not every crown is judged yet", hint="feel each one, then say where it is", faults=faults)
        return CrownsCounted(
            seq=seq,
            at=at,
            by=self.by or by,
            impression=self.impression,
            seated=self._teeth(Found.FIRM, Found.LOOSE, Found.ON_TOOTH, Found.NOWHERE),
            in_tray=self._teeth(Found.FIRM, Found.LOOSE),
            loose=self._teeth(Found.LOOSE),
            left_on_tooth=self._teeth(Found.ON_TOOTH),
        )

    def _teeth(self, *found: Found) -> tuple[int, ...]:
        return tuple(row.tooth for row in self.rows if row.found in found)


def _next(found: Found | None) -> Found:
    order = list(Found)
    return order[0] if found is None else order[(order.index(found) + 1) % len(order)]
