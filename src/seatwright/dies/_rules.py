"""The decision table as data: what a row is, and all rows in one tuple.

The rows stand in `_rows_gate`, `_rows_margin` and `_rows_unit`; `_evaluate` reads them. A row knows no other row.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from seatwright.dies._facts import UnitFacts
from seatwright.dies._result import Effect, Technique
from seatwright.findings import COMMON_PRACTICE, Source

__all__ = ["Cell", "Rule", "RuleRow", "Stage", "cells"]


class Stage(StrEnum):
    """Where a row stands in the order of precedence."""

    GATE = "gate"
    """Whether a technique is possible at all."""
    MARGIN = "margin"
    """The edge; the worst surface counts."""
    KIND = "kind"
    """What the unit is; worsens what the margin allows."""
    CONDITION = "condition"
    """Its state; vetoes, warns, and decides between techniques that margin and kind leave equal."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What a row says of one technique."""

    effect: Effect
    without_epoxy: Effect | None = None
    """Said instead when no returned die can be used."""

    def effect_for(self, *, has_epoxy: bool) -> Effect:
        """Return the effect, given whether a returned die can be used."""
        return self.effect if has_epoxy or self.without_epoxy is None else self.without_epoxy

    def shown(self) -> str:
        """Return the cell as the table prints it."""
        if self.without_epoxy is None:
            return str(self.effect)
        return f"{self.effect} ({self.without_epoxy} without a usable returned die)"


def _no_detail(_facts: UnitFacts) -> str:
    return ""


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the decision table."""

    id: str
    stage: Stage
    condition: str
    """In words; `applies` says the same."""
    applies: Callable[[UnitFacts], bool]
    cells: Mapping[Technique, Cell]
    reason: str
    do: str = ""
    """What to do about it; shown with a warning or a stop."""
    source: Source = COMMON_PRACTICE
    detail: Callable[[UnitFacts], str] = field(default=_no_detail)
    """Particulars of this unit, set in brackets after the reason."""
    remark: str = ""
    """For the printed table only: where the rule is our own reading."""

    def reason_for(self, facts: UnitFacts) -> str:
        """Return the reason with this unit's particulars."""
        detail = self.detail(facts)
        return f"{self.reason} ({detail})" if detail else self.reason


@dataclass(frozen=True, slots=True)
class RuleRow:
    """One row of the decision table, ready to print."""

    rule_id: str
    stage: str
    condition: str
    effects: Mapping[Technique, str]
    """Empty string where the row does not mention the technique."""
    reason: str
    do: str
    source: str
    remark: str


_LETTERS = {"C": Effect.CHOSEN, "A": Effect.ALLOWED, "W": Effect.WARNED, "V": Effect.VETOED}
_COLUMNS = {
    "g": Technique.GEL,
    "p": Technique.PATTERN_RESIN,
    "e": Technique.RETURNED_EPOXY,
    "m": Technique.MASKED,
    "s": Technique.STONE,
    "analog": Technique.ANALOG,
    "none": Technique.NONE,
}


def cells(**letters: str) -> Mapping[Technique, Cell]:
    """Return the cells of a row: ``cells(g="A|C", s="V")``; after the bar, what holds without a usable returned die.

    Examples
    --------
    >>> cells(g="A|C")[Technique.GEL].shown()
    'allowed (chosen without a usable returned die)'
    """
    made = {}
    for column, text in letters.items():
        with_epoxy, _, without = text.partition("|")
        made[_COLUMNS[column]] = Cell(_LETTERS[with_epoxy], _LETTERS[without] if without else None)
    return made
