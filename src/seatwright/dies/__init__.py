"""Which die each unit gets, and why not the others."""

from seatwright.dies._result import (
    BarStops,
    DieResult,
    Effect,
    RuleHit,
    Technique,
    TechniqueVerdict,
    UnitDie,
)

__all__ = [
    "BarStops",
    "DieResult",
    "Effect",
    "RuleHit",
    "Technique",
    "TechniqueVerdict",
    "UnitDie",
]
