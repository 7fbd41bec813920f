"""A survey of one surface along one path: measured, with what the bench makes of it; loose or of a case."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import CannotCompute
from seatwright.findings import Finding, Severity, Source, SourceKind, sort_findings
from seatwright.mesh import Surface, find_open_direction, join_vertices
from seatwright.quantities import FloatArray
from seatwright.survey import (
    Band,
    BlockOut,
    InsertionPath,
    LooseWindow,
    Quality,
    ReliefAsked,
    ReliefPad,
    SurveyLines,
    TripodMarks,
    UndercutFlag,
    UndercutMap,
    block_out,
    choose_tripod,
    lay_relief,
    ledges_at_tips,
    list_wax_steps,
    make_path,
    measure_bands,
    measure_beyond_mm2,
    measure_undercut,
    measure_undercut_volume_mm3,
    read_tripod,
    trace_survey_lines,
)

__all__ = [
    "BenchAsked",
    "SurfaceSurvey",
    "UndercutReport",
    "note_length_unit",
    "path_from_marks",
    "survey_surface",
    "undercut_properties",
]


@dataclass(frozen=True, slots=True)
class BenchAsked:
    """What the survey of a surface along its path is asked for.

    Attributes
    ----------
    max_undercut_mm : float
    quality : Quality
    slack_mm : float or None
        See `measure_undercut`.
    taper_deg : float or None
        Asks for block-out; None for none.
    tips_mm : tuple of ndarray of shape (3,)
        Clasp tips that get a ledge in it.
    reliefs : tuple of ReliefAsked
    """

    max_undercut_mm: float = 2.0
    quality: Quality = Quality.GAUGE
    slack_mm: float | None = None
    taper_deg: float | None = None
    tips_mm: tuple[FloatArray, ...] = ()
    reliefs: tuple[ReliefAsked, ...] = ()


@dataclass(frozen=True, slots=True)
class UndercutReport:
    """What is said about the undercuts of a surface along one path; numbers in mm and mm².

    `deepest_mm` is the largest value measured, 0 where none is; `n_by_flag` counts the file's vertices.
    """

    max_undercut_mm: float
    slack_mm: float
    quality: Quality
    deepest_mm: float
    n_by_flag: Mapping[str, int]
    survey_line_length_mm: float
    n_survey_lines: int
    n_short_lines: int
    undercut_volume_mm3: float
    beyond_area_mm2: float
    bands: tuple[Band, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceSurvey:
    """A surface, surveyed along one path.

    Attributes
    ----------
    written : Surface
        As the file holds it.
    field : UndercutMap
        On the surface with its vertices joined.
    became : ndarray of shape (n_written,), int32
        Which vertex of the field each of the file's vertices is.
    fill : BlockOut or None
    pads : tuple of ReliefPad
    window : LooseWindow or None
        Where the path comes from, when it was searched on a loose surface.
    """

    path: InsertionPath
    report: UndercutReport
    written: Surface
    field: UndercutMap
    became: NDArray[np.int32]
    lines: SurveyLines
    tripod: TripodMarks | None
    fill: BlockOut | None
    pads: tuple[ReliefPad, ...]
    findings: tuple[Finding, ...]
    window: LooseWindow | None = None

    @property
    def wax_steps(self) -> tuple[str, ...]:
        """What to do in wax where nothing prints; empty when neither block-out nor relief is asked."""
        return list_wax_steps(self.fill, self.pads) if self.fill is not None or self.pads else ()

    def result(self) -> dict[str, object]:
        """Return the part of the answer that goes out as JSON."""
        answer: dict[str, object] = {
            "path": {
                "seat_direction": self.path.seat_direction,
                "withdraw_direction": self.path.withdraw_direction,
            },
            "undercut": self.report,
            "tripod": self.tripod,
        }
        if self.window is not None:
            answer["window"] = self.window
        if self.fill is not None:
            answer["block_out"] = {
                "taper_deg": self.fill.taper_deg,
                "volume_mm3": self.fill.volume_mm3,
                "n_solids": len(self.fill.solids),
                "n_ledges": self.fill.n_ledges,
            }
        if self.pads:
            kept = ("thickness_mm", "area_mm2", "volume_mm3", "n_folded")
            answer["relief"] = [{name: getattr(pad, name) for name in kept} for pad in self.pads]
        if self.wax_steps:
            answer["wax_steps"] = self.wax_steps
        return answer


def survey_surface(written: Surface, path: InsertionPath, asked: BenchAsked | None = None) -> SurfaceSurvey:
    """Survey a surface along a path; see `measure_undercut`, `block_out` and `lay_relief` for what is refused."""
    asked = asked or BenchAsked()
    joined, became = join_vertices(written)
    field = measure_undercut(
        joined, path, max_undercut_mm=asked.max_undercut_mm, quality=asked.quality, slack_mm=asked.slack_mm
    )
    lines = trace_survey_lines(field)
    fill, notes = None, list(field.findings)
    if asked.taper_deg is not None:
        ledges, unlaid = ledges_at_tips(field, asked.tips_mm)
        fill = block_out(field, taper_deg=asked.taper_deg, ledges=ledges)
        notes += [*fill.findings, *unlaid]
    pads, folds = lay_relief(field.surface, asked.reliefs)
    return SurfaceSurvey(
        path=path,
        report=_report(field, lines, became, asked),
        written=written,
        field=field,
        became=became,
        lines=lines,
        tripod=choose_tripod(field),
        fill=fill,
        pads=pads,
        findings=sort_findings((*notes, *folds)),
    )


def _report(field: UndercutMap, lines: SurveyLines, became: NDArray[np.int32], asked: BenchAsked) -> UndercutReport:
    measured = field.undercut_mm[field.flags == UndercutFlag.MEASURED]
    counts = np.bincount(field.flags[became], minlength=len(UndercutFlag))
    return UndercutReport(
        max_undercut_mm=asked.max_undercut_mm,
        slack_mm=field.slack_mm,
        quality=asked.quality,
        deepest_mm=float(measured.max()) if len(measured) else 0.0,
        n_by_flag={flag.name.lower(): int(counts[flag]) for flag in UndercutFlag},
        survey_line_length_mm=lines.length_mm,
        n_survey_lines=len(lines.lines),
        n_short_lines=lines.n_short,
        undercut_volume_mm3=measure_undercut_volume_mm3(field),
        beyond_area_mm2=measure_beyond_mm2(field),
        bands=measure_bands(field, lines),
    )


def path_from_marks(
    written: Surface, marks_mm: FloatArray, *, withdraw_hint: tuple[float, float, float] | None
) -> InsertionPath:
    """Read the path from three tripod marks on a surface; without a hint, its mean normal tells which way is out.

    Raises
    ------
    CannotCompute
        If the marks lie on one line, or nothing tells the path from its mirror image.
    """
    if withdraw_hint is None:
        try:
            hint = find_open_direction(written)
        except CannotCompute as error:
            raise CannotCompute(
                "three marks fit the path and its mirror image alike, and a closed surface tells no way out",
                hint="give roughly the way out: --occlusal X,Y,Z",
            ) from error
    else:
        hint = np.array(make_path(withdraw_hint).seat_direction)
    return read_tripod(marks_mm, withdraw_hint=hint).path


def undercut_properties(survey: SurfaceSurvey) -> dict[str, FloatArray | NDArray[np.uint8]]:
    """Return undercut and flag of each vertex of the file, in the file's order."""
    return {
        "undercut_mm": survey.field.undercut_mm[survey.became],
        "undercut_flag": survey.field.flags[survey.became],
    }


def note_length_unit(surface: Surface) -> Finding:
    """Say how large a loose surface is as read: its file does not state the unit."""
    longest = float(surface.extent_mm.max())
    return Finding(
        "loose-surface-size",
        Severity.NOTE,
        f"The surface is {longest:.4g} mm across as read",
        why="surface files do not state their length unit",
        do="give --length-unit if that is not its size",
        source=Source(SourceKind.MEASURED),
    )
