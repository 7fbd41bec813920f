"""A loose surface without a plan: along which paths nothing of it stands over itself, and which path shadows least."""

from dataclasses import dataclass

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.mesh import Surface, coarsen_surface, sweep_voids
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._admitted import even_directions
from seatwright.survey._framework import FrameworkAsked, FrameworkSurvey, survey_framework
from seatwright.survey._framework_window import FrameworkRegion
from seatwright.survey._path import InsertionPath, make_path
from seatwright.survey._tilt import Tilt, measure_tilt
from seatwright.survey._window import search_cone

__all__ = ["LooseWindow", "find_loose_window"]

_CELL_SHARE = 0.008  # judgement: of the extent; about 0.6 mm on an arch
_PITCH_SHARE = 0.003  # judgement: about 0.2 mm on an arch
_OPEN_DEPTH_SHARE = 0.05  # judgement: shadow over an open rim counts as so deep, share of the extent
_EXACT = Source(SourceKind.MEASURED, "triangle-exact test of straight withdrawal")


@dataclass(frozen=True, slots=True, eq=False)
class LooseWindow:
    """Answer for a loose surface.

    Attributes
    ----------
    max_tilt_deg : float
        Searched about the file's +z.
    is_empty : bool
    regions : tuple of FrameworkRegion
        Paths along which a rigid cover of the whole surface leaves, or the framework given; widest first.
    path : InsertionPath
        Middle of the widest region; when empty, the path that shadows least.
    tilt : Tilt
        From +z, with y as back and x as left.
    how : str
        ``center`` or ``least shadow``.
    framework : FrameworkSurvey
        All that was found on the way, with the seating along the path where a framework was given.
    findings : tuple of Finding
    """

    max_tilt_deg: float
    is_empty: bool
    regions: tuple[FrameworkRegion, ...]
    path: InsertionPath
    tilt: Tilt
    how: str
    framework: FrameworkSurvey | None
    findings: tuple[Finding, ...]


def find_loose_window(
    surface: Surface,
    max_tilt_deg: float,
    *,
    framework: Surface | None = None,
    clearance_um: float = 0.0,
    progress: Progress = SILENT,
) -> LooseWindow:
    """Find the window of a loose surface and a path in it.

    Parameters
    ----------
    surface : Surface
        +z points away from the jaw, y to the back, x to the left: only the tilts' words depend on it.
    max_tilt_deg : float
        Below 60.
    framework : Surface, optional
        A rigid part at its seat; without one, a cover of the whole surface without room is meant, and a direction is
        free exactly where no point of the surface has an undercut.
    """
    x, y, z = np.eye(3)
    frame = OcclusalFrame(z, y, x, "the file's axes")
    part = surface if framework is None else framework
    asked = FrameworkAsked(max_tilt_deg=max_tilt_deg, clearance_um=clearance_um)
    found = survey_framework(surface, part, frame, asked, progress=progress.part(0.0, 0.7))
    if found.regions:
        direction, how = np.array(found.regions[0].withdraw_direction), "center"
    else:
        direction, how = _least_shadow(surface, frame, max_tilt_deg), "least shadow"
    path = make_path(-direction)
    seated = None
    notes = [_what_leaves(found, cover=framework is None)]
    if framework is not None:
        again = FrameworkAsked(max_tilt_deg=max_tilt_deg, clearance_um=clearance_um, path=path)
        seated = survey_framework(surface, part, frame, again, progress=progress.part(0.7, 1.0))
        notes = [*notes, *seated.findings]
    tilt = measure_tilt(direction, frame)
    return LooseWindow(max_tilt_deg, not found.regions, found.regions, path, tilt, how, seated, tuple(notes))


def _least_shadow(surface: Surface, frame: OcclusalFrame, max_tilt_deg: float) -> FloatArray:
    ways, _ = even_directions([search_cone(frame, max_tilt_deg)])
    size = float(surface.extent_mm.max())
    coarse = coarsen_surface(surface, _CELL_SHARE * size)
    swept = sweep_voids(coarse, ways, centers_mm=np.empty((0, 3)), radius_mm=size, pitch_mm=_PITCH_SHARE * size)
    cost = swept.elsewhere_mm3 + swept.open_mm2 * _OPEN_DEPTH_SHARE * size
    return np.asarray(ways[int(np.argmin(cost))])


def _what_leaves(found: FrameworkSurvey, *, cover: bool) -> Finding:
    what = "A rigid cover of the whole surface" if cover else "The framework"
    if found.regions:
        return Finding(
            "loose-window",
            Severity.NOTE,
            f"{what} leaves along paths up to {found.regions[0].in_radius_deg:.1f} degrees about the one given.",
            source=_EXACT,
        )
    return Finding(
        "loose-window-empty",
        Severity.NOTE,
        f"{what} leaves along none of {found.n_tried} paths tried.",
        "There are undercuts along each; the path given shadows the least volume.",
        "Say what rigid part is meant with --framework, or survey a case with its plan.",
        _EXACT,
    )
