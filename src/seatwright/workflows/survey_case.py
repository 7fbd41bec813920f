"""The survey of a case: its plan and, where there is one, its reference scan, to a window, a path and what follows."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import datetime

import numpy as np

from seatwright.arch import OcclusalFrame, find_occlusal_frame, frame_about
from seatwright.case import Case, Scan, ScanRole, closest_hint
from seatwright.errors import InputError
from seatwright.findings import Finding, sort_findings
from seatwright.mesh import Surface
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey import (
    InsertionPath,
    PartAtSeat,
    PathAsked,
    PathSurvey,
    PathWeights,
    ReliefAsked,
    direction_at,
    direction_on_table,
    face_outwards,
    keep_on_surface,
    make_meter,
    make_path,
    place_namer,
    read_plane_normals,
    read_tripod,
    survey_paths,
)
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock, InputFile
from seatwright.workflows.survey import BenchAsked, SurfaceSurvey, survey_surface

__all__ = ["SCAN_SLACK_MM", "CaseSurvey", "LoosePart", "SurveyAsked", "survey_bundle", "survey_case"]

SCAN_SLACK_MM = 0.02  # judgement: a scan's noise is no wall


@dataclass(frozen=True, slots=True, eq=False)
class LoosePart:
    """A rigid part's mesh from a file, and the room that its fit leaves."""

    surface: Surface
    file: InputFile
    clearance_um: float = 0.0


@dataclass(frozen=True, slots=True)
class SurveyAsked:
    """What the survey of a case is asked for, as typed.

    Attributes
    ----------
    max_tilt_deg : float
        Largest tilt searched.
    seat_direction : (float, float, float) or None
        A path chosen by hand, in the reference scan's frame.
    tilt_deg : (float, float) or None
        The same as projected angles: to the back, to the patient's left.
    table_deg : (float, float) or None
        The same as read on a tilting table: first axis front or back, second sideways.
    marks_mm : ndarray of shape (3, 3) or None
        The same as three tripod marks on the reference scan.
    mandrels_deg : mapping of attachment id to (float, float)
        Table readings with the mandrel in each slide.
    gauges_mm : mapping of clasp or guide plane id to float
        Undercut gauge readings at the tips, and at the feet of guide planes.
    occlusal : (float, float, float) or None
        The occlusal normal, where it is known better than from the units' places.
    framework : LoosePart or None
        A framework's mesh at its seat, in the reference scan's frame.
    weights : PathWeights
        How much each measure counts where the path is free.
    bench : BenchAsked or None
        What is asked of the reference scan along the path; ledges at the clasp tips and the case's relief are added.
        None for nothing.
    """

    max_tilt_deg: float = 20.0
    seat_direction: tuple[float, float, float] | None = None
    tilt_deg: tuple[float, float] | None = None
    table_deg: tuple[float, float] | None = None
    marks_mm: FloatArray | None = None
    mandrels_deg: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    gauges_mm: Mapping[str, float] = field(default_factory=dict)
    occlusal: tuple[float, float, float] | None = None
    framework: LoosePart | None = None
    weights: PathWeights = field(default_factory=PathWeights)
    bench: BenchAsked | None = None


@dataclass(frozen=True, slots=True)
class CaseSurvey:
    """A survey with the case it rests on and every file that was read."""

    bundle: CaseBundle
    result: PathSurvey
    inputs: tuple[InputFile, ...]
    bench: SurfaceSurvey | None = None
    """The reference scan along the path; None without a scan, a path, or when it was not asked for."""
    scan_name: str = ""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be said of path and scan."""
        return sort_findings((*self.result.findings, *(self.bench.findings if self.bench is not None else ())))

    def as_result(self) -> dict[str, object]:
        """Return the part of the answer that goes out as JSON."""
        answer: dict[str, object] = {f.name: getattr(self.result, f.name) for f in fields(self.result)}
        bench = {} if self.bench is None else {k: v for k, v in self.bench.result().items() if k != "path"}
        return {**answer, "bench": bench or None}


def survey_case(
    source: CaseSource,
    *,
    now: datetime | None,
    clock: Clock,
    asked: SurveyAsked | None = None,
    progress: Progress = SILENT,
) -> CaseSurvey:
    """Load a case, read what its reference scan tells at the places planned, and survey it."""
    bundle = source.load(now=now, clock=clock)
    return survey_bundle(source, bundle, asked=asked, progress=progress)


def survey_bundle(
    source: CaseSource, bundle: CaseBundle, *, asked: SurveyAsked | None = None, progress: Progress = SILENT
) -> CaseSurvey:
    """Read what the case's reference scan tells at the places planned, and survey it."""
    asked = asked or SurveyAsked()
    case = bundle.case
    _require_known(case, asked)
    frame = find_occlusal_frame(case)
    if asked.occlusal is not None:
        frame = frame_about(np.array(asked.occlusal, dtype=float), frame)
    normals: dict[str, FloatArray] = {}
    notes: tuple[Finding, ...] = ()
    files: tuple[InputFile, ...] = ()
    scan = _reference(case)
    surface: Surface | None = None
    if scan is not None:
        progress.report(0.1, f"reading {scan.file}")
        surface, file = source.surface(scan)
        files = (file,)
        surface, sense = face_outwards(surface, frame.occlusal)
        normals, notes = read_plane_normals(case.guide_plane, surface)
        notes = (*sense, *notes)
    progress.report(0.3, "finding the path")
    result = survey_paths(
        case,
        frame,
        PathAsked(
            max_tilt_deg=asked.max_tilt_deg,
            path=_typed_path(asked, frame),
            axes={name: direction_on_table(*read, frame) for name, read in asked.mandrels_deg.items()},
            plane_normals=normals,
            gauges_mm=asked.gauges_mm,
            meter=make_meter(case, surface, frame, normals) if surface is not None else None,
            weights=asked.weights,
            part=_part(case, surface, asked.framework),
        ),
        progress=progress.part(0.3, 1.0),
    )
    if asked.framework is not None:
        files = (*files, asked.framework.file)
    off_scan = {note.about for note in notes if note.id == "survey-plane-off-scan"}
    told = [f for f in result.findings if not (f.id == "survey-plane-not-read" and f.about in off_scan)]
    result = replace(result, findings=sort_findings((*told, *notes)))
    bench, notes = _survey_scan(case, surface, result, asked.bench)
    result = replace(result, findings=sort_findings((*result.findings, *notes)))
    return CaseSurvey(bundle, result, (*bundle.inputs, *files), bench, scan.file if scan is not None else "")


def _survey_scan(
    case: Case, surface: Surface | None, result: PathSurvey, asked: BenchAsked | None
) -> tuple[SurfaceSurvey | None, tuple[Finding, ...]]:
    """Survey the scan along the path with what the case plans on it: ledges at its tips, its relief."""
    if asked is None or surface is None or result.path is None:
        return None, ()
    planned = [np.array(c.tip_mm) for c in case.clasp if c.tip_mm is not None]
    areas = {a.id: ReliefAsked(a.gauge, a.reach_mm, np.array(a.line_mm, dtype=float)) for a in case.relief}
    reliefs, notes = keep_on_surface(surface, areas)
    whole = replace(asked, tips_mm=(*planned, *asked.tips_mm), reliefs=(*reliefs, *asked.reliefs))
    return survey_surface(surface, result.path.insertion, whole), notes


def _reference(case: Case) -> Scan | None:
    return next((s for s in case.scan if s.role is ScanRole.REFERENCE and s.arch is case.arch), None)


def _part(case: Case, cast: Surface | None, part: LoosePart | None) -> PartAtSeat | None:
    if part is None:
        return None
    if cast is None:
        raise InputError("a framework needs the reference scan of its cast", hint="add the scan to case.toml")
    return PartAtSeat(cast, part.surface, part.clearance_um, place_namer(case))


def _typed_path(asked: SurveyAsked, frame: OcclusalFrame) -> InsertionPath | None:
    typed = [v for v in (asked.seat_direction, asked.tilt_deg, asked.table_deg, asked.marks_mm) if v is not None]
    if len(typed) > 1:
        raise InputError("one path is judged at a time", hint="give --path, --tilt, --table or --mark, not two of them")
    if asked.seat_direction is not None:
        return make_path(asked.seat_direction)
    if asked.tilt_deg is not None:
        return make_path(-direction_at(*asked.tilt_deg, frame))
    if asked.table_deg is not None:
        return make_path(-direction_on_table(*asked.table_deg, frame))
    if asked.marks_mm is not None:
        return read_tripod(asked.marks_mm, withdraw_hint=frame.occlusal).path
    return None


def _require_known(case: Case, asked: SurveyAsked) -> None:
    attachments = [a.id for a in case.attachment]
    gauged = [c.id for c in case.clasp] + [p.id for p in case.guide_plane]
    for name in asked.mandrels_deg:
        if name not in attachments:
            raise InputError(
                f"--mandrel: there is no attachment {name}", hint=closest_hint(name, attachments, noun="attachment")
            )
    for name, reading in asked.gauges_mm.items():
        if name not in gauged:
            hint = closest_hint(name, gauged, noun="clasp or guide plane")
            raise InputError(f"--gauge: there is no clasp or guide plane {name}", hint=hint)
        if not reading >= 0:
            raise InputError(f"--gauge {name}={reading:g}: a gauge reads 0 or more", hint="mm across the path")
