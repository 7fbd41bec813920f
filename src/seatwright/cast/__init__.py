"""The cast check: has any unit moved between the reference and the poured cast, by how much, and are we sure."""

from seatwright.cast._budget import BudgetLine
from seatwright.cast._caliper import check_caliper
from seatwright.cast._caliper_asked import CaliperAsked, CaliperReading, Epoch
from seatwright.cast._caliper_index import FoilReading, IndexCandidate
from seatwright.cast._caliper_index_result import IndexAsked, IndexResult, check_index
from seatwright.cast._caliper_result import (
    BlindDirection,
    CaliperResult,
    ChangeReport,
    EpochReport,
    MarkMovement,
    PairReport,
    ReadingSpread,
    StableReport,
)
from seatwright.cast._caliper_sketch import nominal_places, orient_figure, tooth_of
from seatwright.cast._caliper_verdict import ShiftJudgement, judge_change, judge_shift, shift_limits
from seatwright.cast._check import check_cast
from seatwright.cast._deviation import Deviation, measure_deviation
from seatwright.cast._deviation_figures import PERCENTILES, WHOLE, DeviationFigures, summarize_deviation
from seatwright.cast._distances import DistanceAccuracy, assess_distances
from seatwright.cast._gauge_study import GaugeStudy, VarianceLine, study_gauge
from seatwright.cast._network import Distances, NetworkFit, adjust_network, datum_defect
from seatwright.cast._network_change import ChangeFit, Changes, adjust_changes
from seatwright.cast._network_movement import (
    Congruency,
    StableMarks,
    detectable_along_mm,
    detectable_axes_mm,
    find_stable_marks,
    fit_scale,
    judge_congruency,
    localize,
)
from seatwright.cast._network_start import find_rigid_marks, place_marks, settle_network
from seatwright.cast._network_tests import (
    GlobalTest,
    Snooping,
    critical_normalized,
    judge_globally,
    noncentrality,
    snoop,
)
from seatwright.cast._pairs import PairChange
from seatwright.cast._points import MARGIN_CENTER, Mark, PointJudgement, PointKind
from seatwright.cast._question import CastQuestion
from seatwright.cast._repeat_scans import RepeatPoses, ScanRepeatability, UnitSpread, estimate_repeatability
from seatwright.cast._repeatability import PooledSpread, cochran_limit, pool_repeats, spread_interval
from seatwright.cast._repeats import check_repeats
from seatwright.cast._reseat import expect_reseat_um
from seatwright.cast._result import AlongAxes, BodyMovement, CastResult, Overlap, Reading, UnitMovement
from seatwright.cast._scale import ScaleExpectation, ScaleReport, percent_of, weigh_scale

__all__ = [
    "MARGIN_CENTER",
    "PERCENTILES",
    "WHOLE",
    "AlongAxes",
    "BlindDirection",
    "BodyMovement",
    "BudgetLine",
    "CaliperAsked",
    "CaliperReading",
    "CaliperResult",
    "CastQuestion",
    "CastResult",
    "ChangeFit",
    "ChangeReport",
    "Changes",
    "Congruency",
    "Deviation",
    "DeviationFigures",
    "DistanceAccuracy",
    "Distances",
    "Epoch",
    "EpochReport",
    "FoilReading",
    "GaugeStudy",
    "GlobalTest",
    "IndexAsked",
    "IndexCandidate",
    "IndexResult",
    "Mark",
    "MarkMovement",
    "NetworkFit",
    "Overlap",
    "PairChange",
    "PairReport",
    "PointJudgement",
    "PointKind",
    "PooledSpread",
    "Reading",
    "ReadingSpread",
    "RepeatPoses",
    "ScaleExpectation",
    "ScaleReport",
    "ScanRepeatability",
    "ShiftJudgement",
    "Snooping",
    "StableMarks",
    "StableReport",
    "UnitMovement",
    "UnitSpread",
    "VarianceLine",
    "adjust_changes",
    "adjust_network",
    "assess_distances",
    "check_caliper",
    "check_cast",
    "check_index",
    "check_repeats",
    "cochran_limit",
    "critical_normalized",
    "datum_defect",
    "detectable_along_mm",
    "detectable_axes_mm",
    "estimate_repeatability",
    "expect_reseat_um",
    "find_rigid_marks",
    "find_stable_marks",
    "fit_scale",
    "judge_change",
    "judge_congruency",
    "judge_globally",
    "judge_shift",
    "localize",
    "measure_deviation",
    "nominal_places",
    "noncentrality",
    "orient_figure",
    "percent_of",
    "place_marks",
    "pool_repeats",
    "settle_network",
    "shift_limits",
    "snoop",
    "spread_interval",
    "study_gauge",
    "summarize_deviation",
    "tooth_of",
    "weigh_scale",
]
