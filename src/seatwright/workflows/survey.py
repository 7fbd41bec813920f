"""A survey of one loose surface: read, measure along a path, and hand back what the command writes and prints."""

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
    SurveyLines,
    TripodMarks,
    UndercutFlag,
    UndercutMap,
    block_out,
    choose_tripod,
    list_wax_steps,
    make_path,
    measure_bands,
    measure_beyond_mm2,
    measure_undercut,
    measure_undercut_volume_mm3,
    read_tripod,
    trace_survey_lines,
)

__all__ = ["SurfaceSurvey", "UndercutReport", "path_from_marks", "survey_surface", "undercut_properties"]


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
    """A loose surface, surveyed along one path.

    Attributes
    ----------
    written : Surface
        As the file holds it.
    field : UndercutMap
        On the surface with its vertices joined.
    became : ndarray of shape (n_written,), int32
        Which vertex of the field each of the file's vertices is.
    """

    path: InsertionPath
    report: UndercutReport
    written: Surface
    field: UndercutMap
    became: NDArray[np.int32]
    lines: SurveyLines
    tripod: TripodMarks | None
    fill: BlockOut | None
    findings: tuple[Finding, ...]
    window: LooseWindow | None = None
    """Where the path comes from, when it was searched."""

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
                "wax_steps": list_wax_steps(self.fill),
            }
        return answer


def survey_surface(
    written: Surface,
    path: InsertionPath,
    *,
    max_undercut_mm: float,
    quality: Quality,
    taper_deg: float | None = None,
) -> SurfaceSurvey:
    """Survey a surface along a path; see `measure_undercut` for the arguments and errors.

    `taper_deg` asks for block-out as well; None for none.
    """
    joined, became = join_vertices(written)
    field = measure_undercut(joined, path, max_undercut_mm=max_undercut_mm, quality=quality)
    lines = trace_survey_lines(field)
    measured = field.undercut_mm[field.flags == UndercutFlag.MEASURED]
    counts = np.bincount(field.flags[became], minlength=len(UndercutFlag))
    report = UndercutReport(
        max_undercut_mm=max_undercut_mm,
        slack_mm=field.slack_mm,
        quality=quality,
        deepest_mm=float(measured.max()) if len(measured) else 0.0,
        n_by_flag={flag.name.lower(): int(counts[flag]) for flag in UndercutFlag},
        survey_line_length_mm=lines.length_mm,
        n_survey_lines=len(lines.lines),
        n_short_lines=lines.n_short,
        undercut_volume_mm3=measure_undercut_volume_mm3(field),
        beyond_area_mm2=measure_beyond_mm2(field),
        bands=measure_bands(field, lines),
    )
    fill = None if taper_deg is None else block_out(field, taper_deg=taper_deg)
    findings = sort_findings(
        (*field.findings, *(fill.findings if fill is not None else ()), *_note_length_unit(joined))
    )
    return SurfaceSurvey(path, report, written, field, became, lines, choose_tripod(field), fill, findings)


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


def _note_length_unit(surface: Surface) -> list[Finding]:
    longest = float(surface.extent_mm.max())
    return [
        Finding(
            "loose-surface-size",
            Severity.NOTE,
            f"The surface is {longest:.4g} mm across as read",
            why="surface files do not state their length unit",
            do="give --length-unit if that is not its size",
            source=Source(SourceKind.MEASURED),
        )
    ]
