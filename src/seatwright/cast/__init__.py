"""The cast check: has any unit moved between the reference and the poured cast, by how much, and are we sure."""

from seatwright.cast._check import check_cast
from seatwright.cast._deviation import Deviation, measure_deviation
from seatwright.cast._gauge_study import GaugeStudy, VarianceLine, study_gauge
from seatwright.cast._repeat_scans import (
    DistanceAccuracy,
    RepeatPoses,
    ScanRepeatability,
    UnitSpread,
    assess_distances,
    estimate_repeatability,
)
from seatwright.cast._repeatability import PooledSpread, cochran_limit, pool_repeats, spread_interval
from seatwright.cast._result import CastResult, Overlap, UnitMovement

__all__ = [
    "CastResult",
    "Deviation",
    "DistanceAccuracy",
    "GaugeStudy",
    "Overlap",
    "PooledSpread",
    "RepeatPoses",
    "ScanRepeatability",
    "UnitMovement",
    "UnitSpread",
    "VarianceLine",
    "assess_distances",
    "check_cast",
    "cochran_limit",
    "estimate_repeatability",
    "measure_deviation",
    "pool_repeats",
    "spread_interval",
    "study_gauge",
]
