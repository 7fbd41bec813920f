"""Will the partial seat, and what dominates the error: before anything is poured, and again after each step."""

from seatwright.forecast._choices import Choices, FrameworkRoute, Stage
from seatwright.forecast._features import Rest
from seatwright.forecast._forecast import forecast_seating
from seatwright.forecast._result import (
    CauseInput,
    Change,
    Contribution,
    FeatureForecast,
    ForecastResult,
    LinkUsed,
    RankedLink,
    SeatingChance,
    SeatingWord,
)
from seatwright.forecast._update import MeasuredUnit, condition_linear, condition_on_units

__all__ = [
    "CauseInput",
    "Change",
    "Choices",
    "Contribution",
    "FeatureForecast",
    "ForecastResult",
    "FrameworkRoute",
    "LinkUsed",
    "MeasuredUnit",
    "RankedLink",
    "Rest",
    "SeatingChance",
    "SeatingWord",
    "Stage",
    "condition_linear",
    "condition_on_units",
    "forecast_seating",
]
