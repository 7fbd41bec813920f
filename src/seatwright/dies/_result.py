"""What the dies step answers: per unit one technique, one never, and why not the others."""

from dataclasses import dataclass
from enum import StrEnum

from seatwright.case import StepCard
from seatwright.findings import Finding, Source

__all__ = ["BarStops", "DieResult", "Effect", "RuleHit", "Technique", "TechniqueVerdict", "UnitDie"]


class Technique(StrEnum):
    """Ways to give a crown its core before stone is poured."""

    GEL = "gel"
    """Light-cured resin gel with a bent retention pin."""
    PATTERN_RESIN = "pattern_resin"
    """Self-curing pattern resin with a pin."""
    RETURNED_EPOXY = "returned_epoxy"
    """The laboratory's own epoxy die, tacked in."""
    MASKED = "masked"
    """Ceramic blocked out with wax, then gel."""
    STONE = "stone"
    """Stone poured straight in, with a pin."""
    ANALOG = "analog"
    """Matching implant analog, screwed on with checked seat and torque."""
    NONE = "none"
    """No die: a pontic."""


class Effect(StrEnum):
    """What a rule says of a technique, best first."""

    CHOSEN = "chosen"
    ALLOWED = "allowed"
    WARNED = "warned"
    VETOED = "vetoed"


@dataclass(frozen=True, slots=True)
class RuleHit:
    """One row of the decision table that applied."""

    rule_id: str
    effect: Effect
    reason: str
    source: Source


@dataclass(frozen=True, slots=True)
class TechniqueVerdict:
    """What the table says of one technique for one unit; the gravest hit first."""

    technique: Technique
    effect: Effect
    hits: tuple[RuleHit, ...]


@dataclass(frozen=True, slots=True)
class UnitDie:
    """The answer for one unit.

    `chosen` is None when every technique is vetoed; the findings then say what to do instead.
    """

    tooth: int
    impression: str
    chosen: Technique | None
    because: str
    """One sentence: why this one."""
    never: str
    """The one thing not to do to this unit."""
    ranked: tuple[TechniqueVerdict, ...]
    """Every technique, best first."""
    cards: tuple[StepCard, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class BarStops:
    """Resin stops under one bar."""

    bar: str
    impression: str
    n_stops: int
    never: str
    cards: tuple[StepCard, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class DieResult:
    """Dies of the whole case, in tooth order along the arch."""

    units: tuple[UnitDie, ...]
    bars: tuple[BarStops, ...]
    findings: tuple[Finding, ...]
    """All findings of units and bars, gravest first."""

    def unit(self, tooth: int) -> UnitDie:
        """Return one unit's answer; KeyError when there is none."""
        for unit in self.units:
            if unit.tooth == tooth:
                return unit
        raise KeyError(tooth)

    def cards_by_impression(self) -> dict[str, tuple[StepCard, ...]]:
        """Return the step cards of all units and bars, keyed by the impression that lifts them."""
        cards: dict[str, tuple[StepCard, ...]] = {}
        parts: tuple[UnitDie | BarStops, ...] = (*self.units, *self.bars)
        for part in parts:
            if part.impression:
                cards[part.impression] = cards.get(part.impression, ()) + part.cards
        return cards
