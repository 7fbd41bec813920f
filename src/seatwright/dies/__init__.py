"""Which die each unit gets, and why not the others."""

from seatwright.dies._cards import make_cards, total_minutes
from seatwright.dies._choose import choose_dies
from seatwright.dies._evaluate import rule_table
from seatwright.dies._facts import UnitFacts, derive_unit_facts
from seatwright.dies._result import (
    BarStops,
    DieResult,
    Effect,
    RuleHit,
    Technique,
    TechniqueVerdict,
    UnitDie,
)
from seatwright.dies._returned import DieFault, DieFaultKind, DieValidity, check_returned_die
from seatwright.dies._rules import RuleRow
from seatwright.dies._shrink_fit import ShrinkFit, bound_ring_stress

__all__ = [
    "BarStops",
    "DieFault",
    "DieFaultKind",
    "DieResult",
    "DieValidity",
    "Effect",
    "RuleHit",
    "RuleRow",
    "ShrinkFit",
    "Technique",
    "TechniqueVerdict",
    "UnitDie",
    "UnitFacts",
    "bound_ring_stress",
    "check_returned_die",
    "choose_dies",
    "derive_unit_facts",
    "make_cards",
    "rule_table",
    "total_minutes",
]
