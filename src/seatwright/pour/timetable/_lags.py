"""Shortest and longest times between steps, as a table: each row has an id, a reason and a source.

Owns the numbers; `_build` applies them to the tasks that contain the steps.
"""

from dataclasses import dataclass

from seatwright.findings import COMMON_PRACTICE, JUDGEMENT, Source
from seatwright.pour.timetable._problem import Edge

__all__ = ["GEL_GAP_MIN", "LAG_ROWS", "LagRow"]

# common practice: a later increment no longer bonds to a lining that has lost its wet film
GEL_GAP_MIN = 10.0


@dataclass(frozen=True, slots=True)
class LagRow:
    """One rule: from a step of `first` to the first present of `second`, same impression and units."""

    id: str
    first: tuple[str, ...]
    second: tuple[str, ...]
    why: str
    first_at: Edge = Edge.END
    second_at: Edge = Edge.START
    min_min: float | None = 0.0
    max_min: float | None = None
    wet_only: bool = False
    """For hydrocolloids alone."""
    source: Source = COMMON_PRACTICE


# common practice, but for the rows that say judgement
LAG_ROWS: tuple[LagRow, ...] = (
    LagRow(
        "contact-ends",
        ("disinfect",),
        ("count-crowns", "flash-and-dry", "dry-crown", "box"),
        "contact longer than the maker's swells or shrinks a hydrocolloid: somebody takes it out when it is over",
        max_min=5.0,
        wet_only=True,
        source=JUDGEMENT,
    ),
    LagRow(
        "dry-then-die",
        ("flash-and-dry", "dry-crown"),
        ("mask-wax", "separator", "gel-lining", "lubricate", "die-trial", "stone-pin", "analog-seat"),
        "a dried crown takes up water again, and the impression dries out meanwhile",
        max_min=1.0,
    ),
    LagRow(
        "gel-increments",
        ("gel-lining",),
        ("gel-fill",),
        "the second increment bonds to a fresh lining",
        max_min=GEL_GAP_MIN,
    ),
    LagRow(
        "dry-then-tack", ("die-dry",), ("die-tack",), "cyanoacrylate wants a crown dried right before it", max_min=1.0
    ),
    LagRow("hold-then-seal", ("die-tack",), ("die-seal",), "a tacked die floats until it is sealed round", max_min=2.0),
    LagRow(
        "working-time",
        ("mix",),
        ("pour",),
        "all stone is in before the mix stiffens",
        first_at=Edge.START,
        second_at=Edge.END,
        min_min=None,
        max_min=5.0,
    ),
    LagRow(
        "base-after-set",
        ("pour",),
        ("pour-base",),
        "the base waits for the initial set, and still joins a damp first pour",
        min_min=10.0,
        max_min=45.0,
    ),
    LagRow(
        "base-sets",
        ("pour-base",),
        ("separate",),
        "the base has set before the cast is pulled on it",
        min_min=20.0,
        source=JUDGEMENT,
    ),
)
