"""The survey of paths without a mesh: attachments and guide planes to a window and a path, in closed form."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.case import Case
from seatwright.errors import ValueOutOfRange
from seatwright.findings import Finding, sort_findings
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._admitted import Admitted
from seatwright.survey._best import TradeOff, measure_trade_offs
from seatwright.survey._choice import Choice, PartAtSeat, choose_path
from seatwright.survey._clasps import TipReading, judge_clasps, note_off_scan
from seatwright.survey._cone import angle_between_rad
from seatwright.survey._entry import RigidEntry, enter_guides
from seatwright.survey._framework import judge_framework
from seatwright.survey._guides import GuidesFound, PlaneAsked, find_guides
from seatwright.survey._measures import PathMeasures, PathMeter, PathWeights
from seatwright.survey._path import InsertionPath
from seatwright.survey._remarks import remark_on_path, remark_on_window
from seatwright.survey._result import AttachmentFit, AttachmentWindow, PathAnswer, PathSurvey, PlaneFit
from seatwright.survey._shared_float import measure_float_slack
from seatwright.survey._tilt import measure_tilt
from seatwright.survey._walls import Guide, centered_cones
from seatwright.survey._window import centered_window, lies_inside, search_cone

__all__ = ["PathAsked", "survey_paths"]

_PARALLEL_DEG = 0.5  # judgement: what a surveyor rod along a plane shows
_FIT_RAD = math.radians(0.001)  # judgement: the edge of a window is not told from its inside
_FLOAT_MM = 1e-5  # judgement: ten nanometers of missing room are none


@dataclass(frozen=True, slots=True, eq=False)
class PathAsked:
    """What a survey of paths is asked for beside the case.

    Attributes
    ----------
    max_tilt_deg : float
        Largest tilt from the occlusal normal that is searched, above 0 and below 90.
    path : InsertionPath or None
        A path chosen by hand, judged by the same measures.
    axes : mapping of attachment id to ndarray of shape (3,)
        Withdraw directions read with a mandrel in the slide.
    plane_normals : mapping of guide plane id to ndarray of shape (3,)
        Outward normals read off a scan.
    gauges_mm : mapping of clasp or guide plane id to float
        What a gauge reads along the path at each tip, or at a guide plane's foot (0 or more); in place of the scan's.
    meter : PathMeter or None
        The scan, prepared: with it a free path is searched, and any path is measured.
    weights : PathWeights
        How much each measure counts in that search.
    part : PartAtSeat or None
        A whole rigid part: a path that is sought lies in its own window too, any other is judged with it.
    u_gauge_mm, u_scan_mm, u_axis_deg : float
        Standard uncertainties of a gauge reading, of a reading off the scan, and of one axis; judgement.
    """

    max_tilt_deg: float = 20.0
    path: InsertionPath | None = None
    axes: Mapping[str, FloatArray] = field(default_factory=dict)
    plane_normals: Mapping[str, FloatArray] = field(default_factory=dict)
    gauges_mm: Mapping[str, float] = field(default_factory=dict)
    meter: PathMeter | None = None
    weights: PathWeights = field(default_factory=PathWeights)
    part: PartAtSeat | None = None
    u_gauge_mm: float = 0.05
    u_scan_mm: float = 0.03
    u_axis_deg: float = 0.1

    def __post_init__(self) -> None:
        if not 0.0 < self.max_tilt_deg < 90.0:
            raise ValueOutOfRange(f"the tilt searched lies between 0 and 90 degrees, got {self.max_tilt_deg:g}")


def survey_paths(
    case: Case, frame: OcclusalFrame, asked: PathAsked | None = None, *, progress: Progress = SILENT
) -> PathSurvey:
    """Return the window of paths of a case, the path, and what that path means for each thing planned.

    Parameters
    ----------
    case : Case
    frame : OcclusalFrame
        In the frame of the case's directions.
    asked : PathAsked, optional

    Returns
    -------
    PathSurvey
        `path` is the one asked for; else, where attachments leave less than a degree, the middle of what they leave
        (``fixed``); else, with a scan, the one with the least weighted sum of the measures (``best``), without one the
        deepest direction of the window with the guide planes (``center``). With a part, ``best`` is the best of the
        directions that guides and part admit together; None, with what shuts it out, when there is none.

    Notes
    -----
    Axes that no path serves are a finding with the angle between them and the gap that would be needed: no path is
    offered then. Guide planes narrow the window where there is something to choose; where attachments fix the path, the
    planes are judged at it.
    """
    asked = asked or PathAsked()
    found = find_guides(case, frame, axes=asked.axes, plane_normals=asked.plane_normals)
    rigid = enter_guides(found.guides, frame, asked.max_tilt_deg, u_axis_deg=asked.u_axis_deg)
    is_fixed = rigid.is_fixed
    sought = (asked.path, asked.meter, asked.weights, asked.part)
    chosen = choose_path(sought, rigid, found.planes, frame, asked.max_tilt_deg, progress=progress)
    choice, cones = chosen.choice, chosen.cones
    window, path, framework = centered_window(cones, rigid.walls, frame), None, None
    notes = [*found.findings, *remark_on_window(rigid, frame), *chosen.findings]
    if choice is not None:
        window = centered_window(cones, rigid.walls, frame, looked_from=choice.direction)
        path, more = _answer(case, found, rigid, choice, admitted=chosen.admitted, frame=frame, asked=asked)
        notes += [*remark_on_path(path, rigid), *more]
    if chosen.mapped is not None:
        framework = judge_framework(chosen.mapped, path.insertion if path is not None else None, chosen.admitted)
        notes += framework.findings
    return PathSurvey(
        frame=frame,
        max_tilt_deg=asked.max_tilt_deg,
        attachments=tuple(_own_window(g, frame, asked.max_tilt_deg) for g in found.guides),
        window=window,
        window_floating=rigid.floating,
        verdict=rigid.verdict,
        is_fixed=is_fixed,
        fixed_by=rigid.deciding if is_fixed else (),
        path=path,
        weights=asked.weights,
        ranked=choice.ranked if choice is not None else (),
        framework=framework,
        no_path=chosen.no_path,
        findings=sort_findings(tuple(notes)),
    )


def _answer(
    case: Case,
    found: GuidesFound,
    rigid: RigidEntry,
    choice: Choice,
    *,
    admitted: Admitted,
    frame: OcclusalFrame,
    asked: PathAsked,
) -> tuple[PathAnswer, tuple[Finding, ...]]:
    direction = choice.direction / np.linalg.norm(choice.direction)
    reads: dict[str, TipReading] = {}
    measures: PathMeasures | None = None
    trade_offs: tuple[TradeOff, ...] = ()
    if asked.meter is not None:
        measures, tips, trade_offs = measure_trade_offs(asked.meter, direction, admitted, asked.weights)
        known = zip(asked.meter.clasps, tips, strict=True)
        reads = {c.id: TipReading(float(v), asked.u_scan_mm, "scan") for c, v in known}
    clasp_ids = {c.id for c in case.clasp}
    gauged = {name: v for name, v in asked.gauges_mm.items() if name in clasp_ids}
    reads |= {name: TipReading(v, asked.u_gauge_mm, "gauge") for name, v in gauged.items()}
    clasps, notes = judge_clasps(case.clasp, reads)
    if asked.meter is not None:
        notes += note_off_scan([(name, away) for name, away in asked.meter.off_scan if name not in reads])
    fits = tuple(_fit(g, direction) for g in found.guides)
    x, y, z = (float(v) for v in direction)
    answer = PathAnswer(
        seat_direction=(0.0 - x, 0.0 - y, 0.0 - z),
        withdraw_direction=(x, y, z),
        tilt=measure_tilt(direction, frame),
        how=choice.how,
        because=choice.because,
        is_inside=lies_inside(rigid.cones, direction, within_rad=_FIT_RAD),
        is_inside_floating=_floats(rigid, direction),
        attachments=fits,
        planes=tuple(_plane_fit(plane, direction, asked.gauges_mm.get(plane.plane.id)) for plane in found.planes),
        clasps=clasps,
        measures=measures,
        trade_offs=trade_offs,
    )
    return answer, notes


def _floats(rigid: RigidEntry, direction: FloatArray) -> bool:
    if not rigid.walls:
        return True
    if min(float(np.dot(w.along, direction)) for w in rigid.walls) <= 1e-6:
        return False
    return measure_float_slack(rigid.walls, direction).slack_mm >= -_FLOAT_MM


def _fit(guide: Guide, direction: FloatArray) -> AttachmentFit:
    angle = angle_between_rad(guide.axis, direction)
    under = float(np.dot(guide.axis, direction))
    shift = guide.length_mm * math.tan(angle) * 1000.0 if under > 1e-6 else math.inf
    if lies_inside(centered_cones(guide), direction, within_rad=_FIT_RAD):
        says = "enters centered"
    elif under > 1e-6 and measure_float_slack(guide.walls, direction).slack_mm >= -_FLOAT_MM:
        says = "enters against one wall"
    else:
        says = "does not enter"
    return AttachmentFit(guide.id, math.degrees(angle), shift if math.isfinite(shift) else 0.0, says)


def _plane_fit(asked: PlaneAsked, direction: FloatArray, gauge_mm: float | None) -> PlaneFit:
    """Judge a guide plane: by a gauge's reading at its foot, else by its normal."""
    plane = asked.plane
    if gauge_mm is not None:
        opens = -math.atan2(gauge_mm, plane.height_mm)
    elif asked.outward is not None:
        normal = asked.outward / np.linalg.norm(asked.outward)
        opens = math.asin(max(-1.0, min(1.0, float(np.dot(normal, direction)))))
    else:
        return PlaneFit(plane.id, plane.tooth, 0.0, 0.0, 0.0, "not read")
    run = plane.height_mm * math.tan(min(abs(opens), math.radians(89.0)))
    degrees = math.degrees(opens)
    says = "parallel" if abs(degrees) <= _PARALLEL_DEG else ("opens" if degrees > 0 else "leans in")
    return PlaneFit(plane.id, plane.tooth, degrees, run if opens < 0 else 0.0, run if opens > 0 else 0.0, says)


def _own_window(guide: Guide, frame: OcclusalFrame, max_tilt_deg: float) -> AttachmentWindow:
    x, y, z = (float(v) for v in guide.axis)
    leans = float(np.dot(guide.axis, frame.occlusal)) > 1e-6
    alone = centered_window((*centered_cones(guide), search_cone(frame, max_tilt_deg)), guide.walls, frame)
    gap, length, taper = guide.gap_mm, guide.length_mm, guide.taper_rad
    return AttachmentWindow(
        id=guide.id,
        kind=guide.kind,
        withdraw_direction=(x, y, z),
        tilt=measure_tilt(guide.axis, frame) if leans else None,
        length_mm=length,
        gap_per_side_um=gap * 1000.0,
        clearance_total_um=2.0 * gap * 1000.0,
        taper_deg=math.degrees(taper),
        centered_deg=math.degrees(taper + math.atan2(gap, length)),
        floating_deg=math.degrees(taper + math.atan2(2.0 * gap, length)),
        outline_deg=alone.outline_deg,
    )
