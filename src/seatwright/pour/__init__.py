"""Impression clock, minutes of work, and mix."""

from seatwright.pour._assess import assess_pour
from seatwright.pour._cards import Timing, list_timings
from seatwright.pour._mix import average_cast_volume_ml, powder_for_volume_g
from seatwright.pour._naming import show_minutes
from seatwright.pour._result import (
    Band,
    CostBasis,
    CostStep,
    Feasibility,
    ImpressionClock,
    ImpressionPhase,
    Mix,
    PourResult,
    Remedy,
    SpanCost,
)
from seatwright.pour._rows import Counts, Ladder, Rung, list_ladders

__all__ = [
    "Band",
    "CostBasis",
    "CostStep",
    "Counts",
    "Feasibility",
    "ImpressionClock",
    "ImpressionPhase",
    "Ladder",
    "Mix",
    "PourResult",
    "Remedy",
    "Rung",
    "SpanCost",
    "Timing",
    "assess_pour",
    "average_cast_volume_ml",
    "list_ladders",
    "list_timings",
    "powder_for_volume_g",
    "show_minutes",
]
