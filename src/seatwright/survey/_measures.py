"""What one path costs and gives on the scan: the same measures for a path found, fixed or chosen by hand.

Owns the measures and their scales. Refuses to know which directions are admitted.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.case import Case, Clasp
from seatwright.case import Surface as Side
from seatwright.errors import ValueOutOfRange
from seatwright.mesh import (
    Surface,
    coarsen_surface,
    crop_surface,
    find_closest,
    index_surface,
    sweep_gaps,
    sweep_voids,
)
from seatwright.quantities import FloatArray
from seatwright.survey._clasps import wanted_depth

__all__ = ["MEASURES", "Measure", "PathMeasures", "PathMeter", "PathWeights", "make_meter", "measure_paths"]

_COARSE_CELL_MM = 0.6  # judgement: about 40,000 faces on an arch; block-out there is 3 % low and keeps its order
_COARSE_PITCH_MM, _FINE_PITCH_MM = 0.2, 0.05  # judgement: volume to 2 % and better, as measured in the benchmark
_TIP_COARSE_MM, _TIP_FINE_MM = 0.1, 0.025  # judgement: half a cell is 50 and 12 µm
_TIP_REACH_MM = 2.0  # common practice: deeper than the deepest gauge by more than twice
_TIP_CROP_MM = 9.0  # judgement: a crown's height over its tip
_ABUTMENT_MM = 6.0  # judgement: half a molar with its embrasure
_ON_SCAN_MM = 1.0  # judgement: a mark farther from the surface is not on it
_SLACK_MM = 0.02  # judgement: a scan's noise is no wall
_VISIBLE_TO = 5  # common practice: facial metal shows as far back as the second premolar


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure: its name, unit, what it says, and the amount that weighs as much as one unit of any other."""

    name: str
    unit: str
    words: str
    scale: float


# judgement: amounts that a technician would trade against each other; weights multiply them and may be changed
MEASURES = (
    Measure("guide_planes", "deg", "mean lean of the guide planes from the path", 2.0),
    Measure("retention", "mm", "mean difference of the clasps' undercuts from what their arms want", 0.1),
    Measure("balance", "mm", "difference of that between right and left", 0.15),
    Measure("block_out", "mm³", "block-out around the abutments", 50.0),
    Measure("tissue", "mm³", "undercut elsewhere: soft tissue and other teeth", 100.0),
    Measure(
        "visible_metal",
        "mm",
        "height of the survey line over the tips of facial clasps: stands in for the metal seen (judgement)",
        1.0,
    ),
    Measure("tilt", "deg", "tilt from the occlusal plane", 10.0),
)


@dataclass(frozen=True, slots=True)
class PathWeights:
    """How much each measure counts; 0 leaves it out."""

    guide_planes: float = 1.0
    retention: float = 1.0
    balance: float = 1.0
    block_out: float = 1.0
    tissue: float = 1.0
    visible_metal: float = 1.0
    tilt: float = 1.0

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueOutOfRange(f"the weight of {field.name} is {value}", hint="0 or more")

    def as_row(self) -> FloatArray:
        """Return the weights over the measures' scales, in the order of `MEASURES`."""
        return np.array([getattr(self, m.name) / m.scale for m in MEASURES])


@dataclass(frozen=True, slots=True)
class PathMeasures:
    """Measures of one path, in the units of `MEASURES`; `score` is their weighted sum, less is better.

    `blocked_out_mm3` tells the block-out by abutment.
    """

    guide_planes: float
    retention: float
    balance: float
    block_out: float
    tissue: float
    visible_metal: float
    tilt: float
    score: float
    blocked_out_mm3: Mapping[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class PathMeter:
    """A case's scan and plan, prepared for measuring many paths."""

    surface: Surface
    coarse: Surface
    frame: OcclusalFrame
    plane_normals: FloatArray
    """(p, 3); may be empty."""
    clasps: tuple[Clasp, ...]
    """Those with a tip on the scan."""
    tips: tuple[tuple[Surface, FloatArray], ...]
    """Crop of the scan about each tip, and the tip: the place on the scan nearest to the mark."""
    off_scan: tuple[tuple[str, float], ...]
    """Clasps whose tip is marked too far off the scan to be read, and how far, mm."""
    abutments: tuple[str, ...]
    centers_mm: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class PathTable:
    """Measures of k paths: `values` (k, 7) in the order of `MEASURES`, tips' readings (k, c), block-out (k, a)."""

    values: FloatArray
    reads_mm: FloatArray
    near_mm3: FloatArray


def make_meter(
    case: Case, surface: Surface, frame: OcclusalFrame, plane_normals: Mapping[str, FloatArray]
) -> PathMeter:
    """Prepare the scan: a coarse copy, crops about the clasp tips, the abutments' places.

    Parameters
    ----------
    case : Case
        Its marks stand in the surface's frame, mm.
    surface : Surface
    frame : OcclusalFrame
    plane_normals : mapping of guide plane id to ndarray of shape (3,)
        Outward normals read off the scan, for planes that state none.

    Notes
    -----
    A tip is taken to the nearest place on the scan; one marked more than a millimeter off it is not read.
    """
    stated = [np.array(p.outward) if p.outward is not None else plane_normals.get(p.id) for p in case.guide_plane]
    normals = [n / np.linalg.norm(n) for n in stated if n is not None]
    marked = [(c, np.array(c.tip_mm, dtype=float)) for c in case.clasp if c.tip_mm is not None]
    found = find_closest(index_surface(surface), np.array([tip for _, tip in marked])) if marked else None
    away = found.distance_mm if found is not None else np.zeros(0)
    read = [
        (c, tip)
        for (c, _), tip, off in zip(marked, found.points_mm if found else (), away, strict=True)
        if off <= _ON_SCAN_MM
    ]
    off_scan = tuple((c.id, float(off)) for (c, _), off in zip(marked, away, strict=True) if off > _ON_SCAN_MM)
    tips = tuple((crop_surface(surface, tip, _TIP_CROP_MM), tip) for _, tip in read)
    places = _abutment_places(case)
    return PathMeter(
        surface=surface,
        coarse=coarsen_surface(surface, _COARSE_CELL_MM),
        frame=frame,
        plane_normals=np.array(normals).reshape(-1, 3),
        clasps=tuple(c for c, _ in read),
        tips=tips,
        off_scan=off_scan,
        abutments=tuple(str(t) for t in places),
        centers_mm=np.array(list(places.values()), dtype=float).reshape(-1, 3),
    )


def measure_paths(meter: PathMeter, directions: FloatArray, *, fine: bool) -> PathTable:
    """Measure many paths: quickly to rank them, or finely to judge them.

    Parameters
    ----------
    meter : PathMeter
    directions : ndarray of shape (k, 3)
        Withdraw directions.
    fine : bool
        On the full scan, cells of 0.05 mm and 0.025 mm at the tips; else on the coarse copy, 0.2 and 0.1 mm.
    """
    ways = np.asarray(directions, dtype=float).reshape(-1, 3)
    ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
    voids = sweep_voids(
        meter.surface if fine else meter.coarse,
        ways,
        centers_mm=meter.centers_mm,
        radius_mm=_ABUTMENT_MM,
        pitch_mm=_FINE_PITCH_MM if fine else _COARSE_PITCH_MM,
    )
    gaps = [
        sweep_gaps(
            crop,
            ways,
            point_mm=tip,
            reach_mm=_TIP_REACH_MM,
            pitch_mm=_TIP_FINE_MM if fine else _TIP_COARSE_MM,
            slack_mm=_SLACK_MM,
        )
        for crop, tip in meter.tips
    ]
    zeros = np.zeros((len(ways), 0))
    reads = np.stack([g.gap_mm for g in gaps], axis=1) if gaps else zeros
    contour = np.stack([g.contour_mm for g in gaps], axis=1) if gaps else zeros
    shows = [c.surface is Side.FACIAL and c.tooth % 10 <= _VISIBLE_TO for c in meter.clasps]
    lean = np.degrees(np.abs(np.arcsin(np.clip(ways @ meter.plane_normals.T, -1.0, 1.0))))
    up = np.clip(ways @ meter.frame.occlusal, -1.0, 1.0)
    retention, balance = _retention(meter.clasps, reads)
    columns = (
        _row_mean(lean), retention, balance, voids.near_mm3.sum(axis=1), voids.elsewhere_mm3,
        _row_mean(contour[:, np.array(shows, dtype=bool)]), np.degrees(np.arccos(up)),
    )  # fmt: skip
    return PathTable(np.stack(columns, axis=1), reads, voids.near_mm3)


def measures_of(meter: PathMeter, table: PathTable, row: int, weights: PathWeights) -> PathMeasures:
    """Return one row of a table as named measures with their score."""
    named = {m.name: float(v) for m, v in zip(MEASURES, table.values[row], strict=True)}
    blocked = {name: float(v) for name, v in zip(meter.abutments, table.near_mm3[row], strict=True)}
    return PathMeasures(**named, score=float(table.values[row] @ weights.as_row()), blocked_out_mm3=blocked)


def _row_mean(values: FloatArray) -> FloatArray:
    return values.mean(axis=1) if values.shape[1] else np.zeros(len(values))


def _retention(clasps: tuple[Clasp, ...], reads: FloatArray) -> tuple[FloatArray, FloatArray]:
    wanted = np.array([wanted_depth(c).depth_mm for c in clasps])
    off = reads - wanted if len(clasps) else reads
    right = np.array([c.tooth // 10 in (1, 4) for c in clasps], dtype=bool)
    if not (right.any() and (~right).any()):
        return _row_mean(np.abs(off)), np.zeros(len(reads))
    return _row_mean(np.abs(off)), np.abs(off[:, right].mean(axis=1) - off[:, ~right].mean(axis=1))


def _abutment_places(case: Case) -> dict[int, tuple[float, float, float]]:
    """Teeth that the partial takes hold of, with where they stand: the unit's seed, else the hold's own mark."""
    seeds = {r.tooth: r.seed_mm for r in case.region if r.seed_mm is not None}
    marks = [(r.tooth, r.at_mm) for r in case.rest] + [(c.tooth, c.tip_mm) for c in case.clasp]
    marks += [(p.tooth, p.at_mm) for p in case.guide_plane]
    marks += [(a.tooth, a.at_mm) for a in case.attachment if a.tooth is not None]
    places: dict[int, tuple[float, float, float]] = {}
    for tooth, mark in marks:
        place = seeds.get(tooth, mark)
        if place is not None:
            places.setdefault(tooth, place)
    return places
