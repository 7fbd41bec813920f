"""A whole framework against its cast: where it can enter, what limits each side, how it seats along the path."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.mesh import Surface, offset_surface, prepare_withdrawal
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._part_window import PartLimit, PartRegion, find_part_window, reach_of_part
from seatwright.survey._path import InsertionPath
from seatwright.survey._seating import PartSeating, offsets_of, seat_part
from seatwright.survey._tilt import Tilt, measure_tilt
from seatwright.survey._window import four_sides, search_cone

__all__ = ["FrameworkAsked", "FrameworkRegion", "FrameworkSide", "FrameworkSurvey", "survey_framework"]

_EXACT = Source(SourceKind.MEASURED, "triangle-exact test of straight withdrawal on the two meshes")
_NARROW_DEG = 1.0  # judgement: narrower than a hand and a tilting table repeat
Place = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class FrameworkSide:
    """Where the window ends on one side: how far, what is met there, and what opening one degree more would take."""

    side: str
    reach_deg: float
    at_mm: Place | None
    place: str
    opening_um_per_deg: float | None


@dataclass(frozen=True, slots=True, eq=False)
class FrameworkRegion:
    """One connected region of paths along which the framework enters.

    Attributes
    ----------
    withdraw_direction : (float, float, float)
        Near its middle.
    tilt : Tilt
    in_radius_deg : float
        From there to the nearest limit.
    looked_from : (float, float, float)
        The path, where it lies in this region; else the middle.
    antero_posterior_deg, lateral_deg : float
        Extents through it.
    sides : tuple of FrameworkSide
    outline_deg : ndarray of shape (k, 2)
        Edge as projected angles (posterior, left).
    """

    withdraw_direction: Place
    tilt: Tilt
    in_radius_deg: float
    looked_from: Place
    antero_posterior_deg: float
    lateral_deg: float
    sides: tuple[FrameworkSide, ...]
    outline_deg: FloatArray


@dataclass(frozen=True, slots=True)
class FrameworkSurvey:
    """Answer for a framework.

    Attributes
    ----------
    clearance_um : float
        By which the mesh was drawn in before the test.
    regions : tuple of FrameworkRegion
        Widest first; empty when it enters along no direction tried.
    n_tried, n_free : int
    seating : PartSeating or None
        Along the path surveyed; None when there is no path.
    findings : tuple of Finding
    """

    clearance_um: float
    regions: tuple[FrameworkRegion, ...]
    n_tried: int
    n_free: int
    seating: PartSeating | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class FrameworkAsked:
    """What a framework is asked for.

    Attributes
    ----------
    max_tilt_deg : float
    path : InsertionPath or None
        The path surveyed; tried first and looked from.
    seeds : sequence of ndarray of shape (3,)
        Further withdraw directions tried: attachment axes.
    clearance_um : float
        The framework is offset inwards by it first: the room that its fit leaves.
    name_place : callable
        Says what stands at a place on the cast.
    """

    max_tilt_deg: float = 20.0
    path: InsertionPath | None = None
    seeds: Sequence[FloatArray] = ()
    clearance_um: float = 0.0
    name_place: Callable[[Place], str] = lambda at: f"{at[0]:.1f}, {at[1]:.1f}, {at[2]:.1f} mm"


def survey_framework(
    cast: Surface, framework: Surface, frame: OcclusalFrame, asked: FrameworkAsked, *, progress: Progress = SILENT
) -> FrameworkSurvey:
    """Find every straight way in for a framework up to a tilt, and bring it to its seat along a path.

    Parameters
    ----------
    cast, framework : Surface
        In one frame, the framework at its seat.
    frame : OcclusalFrame
    asked : FrameworkAsked

    Returns
    -------
    FrameworkSurvey
    """
    path, name_place, clearance_um = asked.path, asked.name_place, asked.clearance_um
    part = offset_surface(framework, -clearance_um / 1000.0) if clearance_um > 0 else framework
    pair = prepare_withdrawal(cast, part)
    own = [np.array(path.withdraw_direction)] if path is not None else []
    seeds = [*own, *asked.seeds]
    window = find_part_window(pair, frame, asked.max_tilt_deg, seeds=seeds, progress=progress.part(0.0, 0.8))
    search = search_cone(frame, asked.max_tilt_deg)

    def sides_from(seen: FloatArray) -> tuple[FrameworkSide, ...]:
        reach = [(n, reach_of_part(pair, seen, way, search, locate=True)) for n, way in four_sides(frame)]
        return tuple(_side(name, limit, name_place) for name, limit in reach)

    regions = tuple(_region(r, frame, own, sides_from) for r in window.regions)
    progress.report(0.9, "seating the framework")
    seating = None
    if path is not None:
        seating = seat_part(pair, path, remade=offsets_of(cast, part))
    notes = _remarks(regions, seating, window.n_tried, name_place)
    return FrameworkSurvey(clearance_um, regions, window.n_tried, window.n_free, seating, notes)


def _region(
    region: PartRegion,
    frame: OcclusalFrame,
    own: Sequence[FloatArray],
    sides_from: Callable[[FloatArray], tuple[FrameworkSide, ...]],
) -> FrameworkRegion:
    seen = own[0] if own and _is_inside(region, own[0]) else region.center
    sides = sides_from(seen)
    reach = {s.side: s.reach_deg for s in sides}
    tilts = [measure_tilt(d, frame) for d in region.outline]
    x, y, z = (float(v) for v in region.center)
    u, v, w = (float(v) for v in seen)
    return FrameworkRegion(
        withdraw_direction=(x, y, z),
        tilt=measure_tilt(region.center, frame),
        in_radius_deg=region.in_radius_deg,
        looked_from=(u, v, w),
        antero_posterior_deg=reach["anterior"] + reach["posterior"],
        lateral_deg=reach["left"] + reach["right"],
        sides=sides,
        outline_deg=np.array([[t.posterior_deg, t.left_deg] for t in tilts]),
    )


def _is_inside(region: PartRegion, direction: FloatArray) -> bool:
    """Whether a direction lies inside the outline drawn: nearer to the center than the edge beside it."""
    ahead = direction - region.center * float(np.dot(direction, region.center))
    if float(np.linalg.norm(ahead)) < 1e-9:
        return True
    edges = region.outline - np.outer(region.outline @ region.center, region.center)
    edges /= np.linalg.norm(edges, axis=1, keepdims=True)
    nearest = int(np.argmax(edges @ (ahead / np.linalg.norm(ahead))))
    angle = np.degrees(np.arctan2(np.linalg.norm(ahead), float(np.dot(direction, region.center))))
    return bool(angle <= region.limits[nearest].reach_deg)


def _side(name: str, limit: PartLimit, name_place: Callable[[Place], str]) -> FrameworkSide:
    place = "limit of the search" if limit.at_mm is None else name_place(limit.at_mm)
    return FrameworkSide(name, limit.reach_deg, limit.at_mm, place, limit.opening_um_per_deg)


def _remarks(
    regions: Sequence[FrameworkRegion],
    seating: PartSeating | None,
    n_tried: int,
    name_place: Callable[[Place], str],
) -> tuple[Finding, ...]:
    notes = []
    if not regions:
        notes.append(
            Finding(
                "survey-framework-locked",
                Severity.WARNING,
                f"The framework enters along none of {n_tried} directions tried.",
                "Somewhere the cast stands above it along each of them.",
                "See where it touches first; block out there, or relieve the framework.",
                _EXACT,
            )
        )
    elif regions[0].in_radius_deg < _NARROW_DEG:
        notes.append(
            Finding(
                "survey-framework-narrow",
                Severity.NOTE,
                f"The framework's window is {regions[0].in_radius_deg:.2f} degree to its nearest limit.",
                "Only a guided path meets it.",
                source=_EXACT,
            )
        )
    if len(regions) > 1:
        notes.append(
            Finding(
                "survey-framework-regions",
                Severity.NOTE,
                f"The framework enters in {len(regions)} separate regions of paths.",
                "Between them it is blocked: a middle path would not do.",
                source=_EXACT,
            )
        )
    if seating is not None and not seating.enters:
        places = ", ".join(name_place(t.at_mm) for t in seating.first)
        relief = (
            f"Relieving the framework by {seating.relief_um:.0f} µm all over would let it in."
            if seating.relief_um is not None
            else "No relief up to 0.5 mm lets it in."
        )
        notes.append(
            Finding(
                "survey-framework-stops-short",
                Severity.WARNING,
                f"Along this path the framework stops {seating.stops_short_mm:.2f} mm short of its seat.",
                f"It touches first at {places}. {relief}",
                "Block out the undercut there before the framework is made, or relieve it; never force it.",
                _EXACT,
            )
        )
    return tuple(notes)
