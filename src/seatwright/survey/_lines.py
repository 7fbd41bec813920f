"""Survey lines, and the undercut in the bands that the gauges make."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.mesh import (
    LevelLine,
    measure_area_above_mm2,
    measure_face_areas_mm2,
    measure_vertex_normals,
    trace_level,
)
from seatwright.survey._undercut import UndercutFlag, UndercutMap

__all__ = [
    "GAUGES_MM",
    "Band",
    "SurveyLines",
    "measure_bands",
    "measure_beyond_mm2",
    "trace_gauge_line",
    "trace_survey_lines",
]

GAUGES_MM = (0.25, 0.50, 0.75)  # evidence: survey_001, survey_002, survey_003
_PARALLEL = 0.01  # judgement: sine of .6 degree; on walls that parallel the path the undercut area jumps with the noise
_LEAST_LINE_MM = 1.0  # judgement: shorter lines are ripples of the surface; a rod's mark is as wide


@dataclass(frozen=True, slots=True)
class Band:
    """Part of a surface whose undercut lies between two gauges.

    Attributes
    ----------
    from_mm, to_mm : float
        Least undercut, and the one at which the next band begins; for the deepest band the largest looked for.
    area_mm2 : float
        Walls within .6 degree of the path left out, and faces with a vertex beyond what was looked for.
    line_length_mm : float
        Length of the line on which the undercut equals `from_mm`; for the first band, of the survey lines.
    """

    from_mm: float
    to_mm: float
    area_mm2: float
    line_length_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class SurveyLines:
    """Height of contour for one path, longest line first.

    Attributes
    ----------
    lines : tuple of LevelLine
        In the surface's frame, mm.
    n_short, short_length_mm : int, float
        Lines under 1 mm, left out of `lines`.
    """

    lines: tuple[LevelLine, ...]
    n_short: int
    short_length_mm: float

    @property
    def length_mm(self) -> float:
        """Length of all lines, mm."""
        return sum(line.length_mm for line in self.lines)


def trace_survey_lines(field: UndercutMap) -> SurveyLines:
    """Trace where a rod that stands along the path touches the greatest contour.

    Notes
    -----
    The zero line of normal . withdraw, with normals linear on each face, where the side that looks up is free along
    the path: so neither the bottom of a valley nor an edge that is itself overhung is a survey line. The line is as
    good as the normals: where a wall nearly parallels the path, a normal that is off by e rad moves it by e times the
    radius of curvature.
    """
    surface = field.surface
    rise = measure_vertex_normals(surface) @ np.array(field.path.withdraw_direction)
    is_top = (rise >= 0) & (field.flags == UndercutFlag.FREE)
    is_under = (rise < 0) & (field.flags != UndercutFlag.INSIDE)
    on_faces = is_top[surface.faces].any(axis=1) & is_under[surface.faces].any(axis=1)
    lines = trace_level(surface, rise, 0.0, on_faces=on_faces)
    kept = tuple(line for line in lines if line.length_mm >= _LEAST_LINE_MM)
    short = sum(line.length_mm for line in lines[len(kept) :])
    return SurveyLines(kept, len(lines) - len(kept), short)


def trace_gauge_line(field: UndercutMap, gauge_mm: float) -> tuple[LevelLine, ...]:
    """Trace where a gauge of a given size touches: the lines on which the undercut equals it, longest first."""
    return trace_level(field.surface, field.undercut_mm, gauge_mm, on_faces=_tilted_faces(field))


def measure_bands(
    field: UndercutMap, survey_lines: SurveyLines, gauges_mm: tuple[float, ...] = GAUGES_MM
) -> tuple[Band, ...]:
    """Measure area and bounding line of each band, shallow first."""
    reached = ~_beyond_faces(field)
    areas = measure_face_areas_mm2(field.surface) * (_tilted_faces(field) & reached)
    starts = (0.0, *(gauge for gauge in gauges_mm if gauge < field.max_undercut_mm))
    least = max(1e-3 * field.max_undercut_mm, field.slack_mm)
    over = [
        measure_area_above_mm2(field.surface, field.undercut_mm, max(start, least), areas_mm2=areas) for start in starts
    ]
    bands = []
    for number, start in enumerate(starts):
        is_last = number + 1 == len(starts)
        lines = trace_gauge_line(field, start) if start else survey_lines.lines
        bands.append(
            Band(
                start,
                field.max_undercut_mm if is_last else starts[number + 1],
                over[number] - (0.0 if is_last else over[number + 1]),
                sum(line.length_mm for line in lines),
            )
        )
    return tuple(bands)


def measure_beyond_mm2(field: UndercutMap) -> float:
    """Measure the area of the faces with a vertex that is undercut deeper than was looked for, or not reached, mm²."""
    return float(measure_face_areas_mm2(field.surface)[_beyond_faces(field)].sum())


def _beyond_faces(field: UndercutMap) -> NDArray[np.bool_]:
    return np.asarray((field.flags == UndercutFlag.BEYOND)[field.surface.faces].any(axis=1))


def _tilted_faces(field: UndercutMap) -> NDArray[np.bool_]:
    surface = field.surface
    a, b, c = (surface.vertices_mm[surface.faces[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    rise = cross @ np.array(field.path.withdraw_direction)
    return np.asarray(np.abs(rise) > _PARALLEL * np.linalg.norm(cross, axis=1))
