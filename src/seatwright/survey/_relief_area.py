"""Where relief lies: a strip of even width along a line on the cast, and its pad by gauge."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.findings import JUDGEMENT, Finding, Severity, Source, SourceKind
from seatwright.mesh import (
    Surface,
    SurfaceIndex,
    find_closest,
    find_components,
    index_surface,
    keep_below_zero,
    keep_faces,
)
from seatwright.quantities import FloatArray
from seatwright.survey._relief import ReliefPad, make_relief, wire_gauge_mm

__all__ = ["ReliefAsked", "keep_on_surface", "lay_relief"]

_OFF_LINE_MM = 1e-4  # judgement: a tenth of a micrometer, so that no sliver is left at the rim
_FAR_MM = 3.0  # judgement: a mark farther from the surface than that is not on it
_WIDEST_MM = 30.0  # judgement: half an arch; more is a slip of the unit


@dataclass(frozen=True, slots=True, eq=False)
class ReliefAsked:
    """One pad of relief.

    Attributes
    ----------
    gauge : int
        Wire gauge of the sheet wax, 0 to 40; see `wire_gauge_mm`.
    reach_mm : float
        How far the pad reaches on each side of the line, straight through space; above 0 to 30.
    line_mm : ndarray of shape (k, 3)
        Points on the surface, in order; one makes a round pad.
    """

    gauge: int
    reach_mm: float
    line_mm: FloatArray


def keep_on_surface(
    surface: Surface, asked: Mapping[str, ReliefAsked]
) -> tuple[tuple[ReliefAsked, ...], tuple[Finding, ...]]:
    """Return the pads, by name, whose lines lie on a surface, and say of the others how far off they are.

    Parameters
    ----------
    surface : Surface
        In the frame of the lines, mm.
    asked : mapping of name to ReliefAsked
    """
    if not asked:
        return (), ()
    index = index_surface(surface)
    away = {name: float(find_closest(index, a.line_mm).distance_mm.max()) for name, a in asked.items()}
    notes = tuple(
        Finding(
            "relief-off-scan",
            Severity.CAUTION,
            f"A place of {name} is marked {off:.1f} mm off the scan: the pad is not laid.",
            do="Correct its line_mm: places on the reference scan, in its frame.",
            source=Source(SourceKind.CASE, f"relief {name}"),
            about=name,
        )
        for name, off in away.items()
        if off > _FAR_MM
    )
    return tuple(asked[name] for name, off in away.items() if off <= _FAR_MM), notes


def lay_relief(surface: Surface, asked: Sequence[ReliefAsked]) -> tuple[tuple[ReliefPad, ...], tuple[Finding, ...]]:
    """Lay pads on a surface, each within its reach of its line, with what is to be said about them.

    Parameters
    ----------
    surface : Surface
        Vertices at one place joined, faces outwards.
    asked : sequence of ReliefAsked

    Raises
    ------
    ValueOutOfRange
        If a gauge, reach or line is out of range.
    CannotCompute
        If a line lies off the surface.

    Notes
    -----
    The surface is cut where it leaves the reach; of the pieces, those that lie under a point of the line are covered.
    """
    index = index_surface(surface) if asked else None
    areas = [_area(index, a) for a in asked if index is not None]
    pads = tuple(
        make_relief(area, np.ones(area.n_faces, dtype=np.bool_), thickness_mm=wire_gauge_mm(a.gauge))
        for area, a in zip(areas, asked, strict=True)
    )
    return pads, tuple(_note_folds(pad, a) for pad, a in zip(pads, asked, strict=True) if pad.n_folded)


def _area(index: SurfaceIndex, asked: ReliefAsked) -> Surface:
    line = np.asarray(asked.line_mm, dtype=np.float64)
    if line.ndim != 2 or line.shape[1] != 3 or not len(line) or not np.isfinite(line).all():
        raise ValueOutOfRange("a relief needs points of three finite coordinates", hint="one at least")
    if not (np.isfinite(asked.reach_mm) and 0 < asked.reach_mm <= _WIDEST_MM):
        raise ValueOutOfRange(
            f"a relief cannot reach {asked.reach_mm:g} mm", hint=f"above 0 and at most {_WIDEST_MM:g} mm"
        )
    away = find_closest(index, line).distance_mm
    if away.max() > _FAR_MM:
        raise CannotCompute(
            f"a point of the relief lies {away.max():.1f} mm off the surface", hint="give points on it, in its frame"
        )
    reach = asked.reach_mm + float(away.max())
    values = _distance_to_line(index.surface.vertices_mm, line) - reach
    piece = keep_below_zero(index.surface, values, off_zero=_OFF_LINE_MM)
    if not piece.n_faces:
        raise CannotCompute("no part of the surface lies within the relief's reach", hint="widen it")
    under = find_closest(index_surface(piece), line).face_ids
    labels = find_components(piece)
    return keep_faces(piece, np.isin(labels, labels[under]))


def _distance_to_line(points: FloatArray, line: FloatArray) -> FloatArray:
    away = np.linalg.norm(points - line[0], axis=1)
    for start, end in pairwise(line):
        along = end - start
        share = np.clip((points - start) @ along / max(float(along @ along), 1e-12), 0.0, 1.0)
        away = np.minimum(away, np.linalg.norm(points - start - share[:, None] * along, axis=1))
    return np.asarray(away)


def _note_folds(pad: ReliefPad, asked: ReliefAsked) -> Finding:
    return Finding(
        "relief-folded",
        Severity.CAUTION,
        f"A pad of {asked.gauge} gauge folds over itself at {pad.n_folded} faces.",
        "Hollows there are narrower than the pad is thick; its volume counts the overlap.",
        "Look at it before use; fill the hollow first, or choose a thinner sheet.",
        JUDGEMENT,
    )
