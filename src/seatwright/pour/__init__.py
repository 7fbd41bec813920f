"""Impression clock, minutes of work, and mix."""

from seatwright.pour._result import (
    Band,
    CostStep,
    Feasibility,
    ImpressionClock,
    ImpressionPhase,
    Mix,
    PourResult,
    SpanCost,
)

__all__ = [
    "Band",
    "CostStep",
    "Feasibility",
    "ImpressionClock",
    "ImpressionPhase",
    "Mix",
    "PourResult",
    "SpanCost",
]
