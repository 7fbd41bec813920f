"""The path of insertion: undercuts along it, and what the bench needs to work to it."""

from seatwright.survey._best import BestPath, RankedPath, TradeOff, find_best_path, measure_trade_offs
from seatwright.survey._blockout import BlockOut, Ledge, block_out, measure_undercut_volume_mm3
from seatwright.survey._choice import PartAtSeat
from seatwright.survey._clasps import ClaspReading, TipReading, WantedDepth, judge_clasps, wanted_depth
from seatwright.survey._cone import Cone, half_space
from seatwright.survey._cones import ConeRegion, intersect_cones, reach_towards
from seatwright.survey._entry import AxisAngle, RigidEntry, enter_guides
from seatwright.survey._framework import FrameworkAsked, FrameworkSurvey, survey_framework
from seatwright.survey._framework_window import FrameworkRegion, FrameworkSide
from seatwright.survey._guides import GuidesFound, PlaneAsked, find_guides, gap_per_side_mm
from seatwright.survey._ledges import ledges_at_tips
from seatwright.survey._lines import (
    GAUGES_MM,
    Band,
    SurveyLines,
    measure_bands,
    measure_beyond_mm2,
    trace_gauge_line,
    trace_survey_lines,
)
from seatwright.survey._loose import LooseWindow, find_loose_window
from seatwright.survey._measures import (
    MEASURES,
    Measure,
    PathMeasures,
    PathMeter,
    PathWeights,
    make_meter,
    measure_paths,
)
from seatwright.survey._part_edge import PartLimit, reach_of_part
from seatwright.survey._part_window import PartRegion, PartWindow, find_part_window
from seatwright.survey._path import InsertionPath, make_path
from seatwright.survey._places import place_namer
from seatwright.survey._readings import read_plane_normals
from seatwright.survey._relief import ReliefPad, list_wax_steps, make_relief, wire_gauge_mm
from seatwright.survey._relief_area import ReliefAsked, keep_on_surface, lay_relief
from seatwright.survey._result import AttachmentFit, AttachmentWindow, PathAnswer, PathSurvey, PlaneFit
from seatwright.survey._seating import PartSeating, Touch, seat_part
from seatwright.survey._sense import face_outwards
from seatwright.survey._shared_float import (
    FloatCenter,
    FloatReach,
    FloatSlack,
    find_float_center,
    find_least_shift,
    measure_float_slack,
    reach_with_float,
)
from seatwright.survey._survey import PathAsked, survey_paths
from seatwright.survey._tilt import Tilt, direction_at, direction_on_table, measure_tilt
from seatwright.survey._tripod import MARK_U_MM, ReadPath, TripodMarks, choose_tripod, measure_retilt, read_tripod
from seatwright.survey._undercut import Quality, UndercutFlag, UndercutMap, measure_undercut
from seatwright.survey._walls import Guide, Wall, admitted_body_tilt_rad, box_walls, centered_cones, cone_walls
from seatwright.survey._window import PathWindow, SideLimit, centered_window, floating_window

__all__ = [
    "GAUGES_MM",
    "MARK_U_MM",
    "MEASURES",
    "AttachmentFit",
    "AttachmentWindow",
    "AxisAngle",
    "Band",
    "BestPath",
    "BlockOut",
    "ClaspReading",
    "Cone",
    "ConeRegion",
    "FloatCenter",
    "FloatReach",
    "FloatSlack",
    "FrameworkAsked",
    "FrameworkRegion",
    "FrameworkSide",
    "FrameworkSurvey",
    "Guide",
    "GuidesFound",
    "InsertionPath",
    "Ledge",
    "LooseWindow",
    "Measure",
    "PartAtSeat",
    "PartLimit",
    "PartRegion",
    "PartSeating",
    "PartWindow",
    "PathAnswer",
    "PathAsked",
    "PathMeasures",
    "PathMeter",
    "PathSurvey",
    "PathWeights",
    "PathWindow",
    "PlaneAsked",
    "PlaneFit",
    "Quality",
    "RankedPath",
    "ReadPath",
    "ReliefAsked",
    "ReliefPad",
    "RigidEntry",
    "SideLimit",
    "SurveyLines",
    "Tilt",
    "TipReading",
    "Touch",
    "TradeOff",
    "TripodMarks",
    "UndercutFlag",
    "UndercutMap",
    "Wall",
    "WantedDepth",
    "admitted_body_tilt_rad",
    "block_out",
    "box_walls",
    "centered_cones",
    "centered_window",
    "choose_tripod",
    "cone_walls",
    "direction_at",
    "direction_on_table",
    "enter_guides",
    "face_outwards",
    "find_best_path",
    "find_float_center",
    "find_guides",
    "find_least_shift",
    "find_loose_window",
    "find_part_window",
    "floating_window",
    "gap_per_side_mm",
    "half_space",
    "intersect_cones",
    "judge_clasps",
    "keep_on_surface",
    "lay_relief",
    "ledges_at_tips",
    "list_wax_steps",
    "make_meter",
    "make_path",
    "make_relief",
    "measure_bands",
    "measure_beyond_mm2",
    "measure_float_slack",
    "measure_paths",
    "measure_retilt",
    "measure_tilt",
    "measure_trade_offs",
    "measure_undercut",
    "measure_undercut_volume_mm3",
    "place_namer",
    "reach_of_part",
    "reach_towards",
    "reach_with_float",
    "read_plane_normals",
    "read_tripod",
    "seat_part",
    "survey_framework",
    "survey_paths",
    "trace_gauge_line",
    "trace_survey_lines",
    "wanted_depth",
    "wire_gauge_mm",
]
