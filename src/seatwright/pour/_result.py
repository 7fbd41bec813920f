"""What the pour step answers: by when, with how much work, at what cost, and how much powder and water."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from seatwright.case import Duration, StepCard, Stone
from seatwright.findings import Finding, Source
from seatwright.quantities import Measured

__all__ = [
    "Band",
    "CostBasis",
    "CostStep",
    "Feasibility",
    "ImpressionClock",
    "ImpressionPhase",
    "Mix",
    "PourResult",
    "Remedy",
    "SpanCost",
]


class ImpressionPhase(StrEnum):
    """Where an impression stands."""

    PLANNED = "planned"
    WAITING = "waiting"
    """Out of the mouth, not poured."""
    POURED = "poured"
    SEPARATED = "separated"


class Band(StrEnum):
    """Where the clock stands against what is known of this material and storage."""

    WITHIN = "within"
    """Inside the window that evidence or the maker supports."""
    STRETCHED = "stretched"
    """Sources disagree; usable with a stated cost."""
    BEYOND = "beyond"
    """No source supports it: take a new impression, or re-verify."""


class CostBasis(StrEnum):
    """What a cost rests on; only casts carry over to a span as a law, the others are ranges."""

    CASTS = "casts measured, stone included: nothing to be added"
    WHOLE_CASTS = "whole casts measured across the arch, stone included: nothing to be added"
    SPECIMENS = "free specimens: read it as a range"
    IMPRESSIONS = "impressions measured, no stone in it: read it as a range"
    MAKER = "maker's figure"
    STONE = "stone alone, setting freely: read it as a range"
    NOTHING = "no number is supported"


class Feasibility(StrEnum):
    """Whether the work fits before the pour-by time."""

    FITS = "fits"
    TIGHT = "tight"
    """Fits at the typical pace, not at the slowest."""
    DOES_NOT_FIT = "does_not_fit"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class SpanCost:
    """Dimensional cost over one span of this arch."""

    what: str
    """Such as '37 to 44'."""
    span_mm: float
    change_um: Measured
    """Positive when the cast comes out larger; `basis` says whether to read it as a range."""
    basis: CostBasis = CostBasis.SPECIMENS
    is_nominal: bool = False
    """The span comes from an average arch, not from this one."""


@dataclass(frozen=True, slots=True)
class CostStep:
    """A stretch of the clock with one cost: a step function, since no smooth curve is known."""

    since_min: float
    until_min: float | None
    """None: without end."""
    band: Band
    bias_percent: float | None
    """None where the evidence supports no number (retake)."""
    u_percent: float | None
    spans: tuple[SpanCost, ...]
    source: Source
    how_good: str
    """In words: how good the evidence is."""
    basis: CostBasis = CostBasis.NOTHING
    rule: str = ""
    """Row of the window table that decided."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change that could be made, and what it would give."""

    what: str
    minutes: Duration
    window_min: float
    feasibility: Feasibility


@dataclass(frozen=True, slots=True)
class Mix:
    """One mix of gypsum."""

    what: str
    """'first pour' or 'base'."""
    stone: Stone
    volume_ml: Measured
    water_powder: float
    powder_g: float
    """Of all bowls. Rounded to what is weighed, waste included; whole sachets where there are sachets."""
    water_ml: float
    """Of all bowls. Rounded, bowl by bowl, to what is read on the cylinder."""
    n_batches: int
    stoichiometric_water_ml: float
    """Water the powder binds; what is above it must dry out."""
    expansion_um: SpanCost | None
    """To be added only to a cost without stone in it (`CostBasis`); None where whole-cast figures hold it already."""
    source: Source
    findings: tuple[Finding, ...] = ()

    @property
    def powder_each_g(self) -> float:
        """Return the powder of one bowl; every bowl takes the same."""
        return self.powder_g / self.n_batches

    @property
    def water_each_ml(self) -> float:
        """Return the water of one bowl; every bowl takes the same."""
        return self.water_ml / self.n_batches


@dataclass(frozen=True, slots=True)
class ImpressionClock:
    """The answer for one impression at one moment."""

    impression: str
    phase: ImpressionPhase
    out_at: datetime | None
    age_min: float | None
    pour_from: datetime | None
    pour_by: datetime | None
    """End of the band `within`."""
    window_min: float
    """Length of the band `within` for the storage used or planned, from leaving the mouth."""
    minutes_left: float | None
    """Negative once past; None before the impression is taken (then compare `window_min`)."""
    minutes_needed: Duration
    """Work still to do before the last stone is in, with these hands."""
    people_used: int
    feasibility: Feasibility
    band: Band
    steps: tuple[CostStep, ...]
    mixes: tuple[Mix, ...]
    cards: tuple[StepCard, ...]
    """The pour's own steps still to do, in order (die cards stand with their units)."""
    separate_from: datetime | None
    separate_by: datetime | None
    findings: tuple[Finding, ...]
    bound_min: Duration | None = None
    """No order of work is quicker than this; None once nothing is to be done."""
    decided_by: str = ""
    """Row of the window table, or the event, that set `band`."""
    remedies: tuple[Remedy, ...] = ()
    """What would make the work fit, tried in turn; empty when it fits."""


@dataclass(frozen=True, slots=True)
class PourResult:
    """All impressions at `now`."""

    now: datetime
    impressions: tuple[ImpressionClock, ...]
    findings: tuple[Finding, ...]

    def clock(self, impression: str) -> ImpressionClock:
        """Return one impression's clock; KeyError when there is none."""
        for clock in self.impressions:
            if clock.impression == impression:
                return clock
        raise KeyError(impression)
