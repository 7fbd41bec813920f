"""Will the partial seat, and what dominates the error: before anything is poured, and again after each step."""

from seatwright.forecast._choices import Choices, FrameworkRoute, PourBand, Stage
from seatwright.forecast._forecast import forecast_seating
from seatwright.forecast._own import OwnFigures, Together, parse_own_figures
from seatwright.forecast._result import (
    CauseInput,
    Change,
    Contribution,
    Correlation,
    FeatureForecast,
    ForecastResult,
    LeftOut,
    LinkUsed,
    RankedLink,
    Room,
    SeatingChance,
    SeatingWord,
)
from seatwright.forecast._spreads import expect_scale
from seatwright.forecast._update import MeasuredUnit, condition_linear, condition_on_units

__all__ = [
    "CauseInput",
    "Change",
    "Choices",
    "Contribution",
    "Correlation",
    "FeatureForecast",
    "ForecastResult",
    "FrameworkRoute",
    "LeftOut",
    "LinkUsed",
    "MeasuredUnit",
    "OwnFigures",
    "PourBand",
    "RankedLink",
    "Room",
    "SeatingChance",
    "SeatingWord",
    "Stage",
    "Together",
    "condition_linear",
    "condition_on_units",
    "expect_scale",
    "forecast_seating",
    "parse_own_figures",
]
