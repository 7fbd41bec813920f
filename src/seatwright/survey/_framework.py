"""A whole framework against its cast: where it can enter, what limits each side, how it seats along the path.

It is judged where it sits: as designed, or to one side where its attachments are entered only so.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.findings import Finding
from seatwright.mesh import Surface, Withdrawal, find_block, offset_surface, prepare_withdrawal
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._admitted import Admitted
from seatwright.survey._framework_remarks import Place, remark_on_framework, remark_on_seat_shift
from seatwright.survey._framework_window import FrameworkRegion, RegionViewer, describe_region
from seatwright.survey._part_window import PartWindow, find_part_window
from seatwright.survey._path import InsertionPath
from seatwright.survey._seating import PartSeating, offsets_of, seat_part

__all__ = [
    "FrameworkAsked",
    "FrameworkMap",
    "FrameworkSurvey",
    "judge_framework",
    "map_framework",
    "survey_framework",
]


@dataclass(frozen=True, slots=True)
class FrameworkSurvey:
    """Answer for a framework.

    Attributes
    ----------
    clearance_um : float
        By which the mesh was drawn in before the test.
    seat_shift_mm : (float, float, float)
        Where it sits from where it was designed; not zero where its attachments are entered only to one side.
    regions : tuple of FrameworkRegion
        Its own window there, widest first; empty when it enters along no direction tried.
    shared : tuple of FrameworkRegion
        What attachments and guide planes admit too, where the path was searched.
    n_tried, n_free : int
    seating : PartSeating or None
        Along the path surveyed; None when there is no path.
    seating_as_designed : PartSeating or None
        The same without the shift; None when there is none.
    findings : tuple of Finding
    """

    clearance_um: float
    seat_shift_mm: Place
    regions: tuple[FrameworkRegion, ...]
    shared: tuple[FrameworkRegion, ...]
    n_tried: int
    n_free: int
    seating: PartSeating | None
    seating_as_designed: PartSeating | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class FrameworkAsked:
    """What a framework is asked for.

    Attributes
    ----------
    max_tilt_deg : float
    path : InsertionPath or None
        The path surveyed, where it is known; tried first and looked from.
    seeds : sequence of ndarray of shape (3,)
        Further withdraw directions tried: attachment axes.
    clearance_um : float
        The framework is offset inwards by it first: the room that its fit leaves.
    shifts_mm : sequence of ndarray of shape (3,)
        Where it may sit instead of as designed; the first along which the path is free is taken, else the last.
    name_place : callable
        Says what stands at a place on the cast.
    """

    max_tilt_deg: float = 20.0
    path: InsertionPath | None = None
    seeds: Sequence[FloatArray] = ()
    clearance_um: float = 0.0
    shifts_mm: Sequence[FloatArray] = ()
    name_place: Callable[[Place], str] = lambda at: f"{at[0]:.1f}, {at[1]:.1f}, {at[2]:.1f} mm"


@dataclass(frozen=True, slots=True, eq=False)
class FrameworkMap:
    """A framework where it sits, with its own window.

    Attributes
    ----------
    cast, part : Surface
        The part drawn in by its clearance and at its seat.
    pair : Withdrawal
    shift_mm : ndarray of shape (3,)
    as_designed : Surface or None
        The part before the shift; None when there is none.
    """

    cast: Surface
    part: Surface
    pair: Withdrawal
    frame: OcclusalFrame
    asked: FrameworkAsked
    shift_mm: FloatArray
    as_designed: Surface | None
    window: PartWindow

    def is_free(self, withdraw_direction: FloatArray) -> bool:
        """Whether the part leaves along a direction; exact on the triangles."""
        return find_block(self.pair, withdraw_direction) is None


def map_framework(
    cast: Surface, framework: Surface, frame: OcclusalFrame, asked: FrameworkAsked, *, progress: Progress = SILENT
) -> FrameworkMap:
    """Find every straight way in for a framework up to a tilt.

    Parameters
    ----------
    cast, framework : Surface
        In one frame, the framework at its seat as designed.
    frame : OcclusalFrame
    asked : FrameworkAsked

    Raises
    ------
    ValueOutOfRange
        If the tilt is not between 0 and 60 degrees.
    """
    clearance_um = asked.clearance_um
    designed = offset_surface(framework, -clearance_um / 1000.0) if clearance_um > 0 else framework
    part, shift = designed, np.zeros(3)
    pair = prepare_withdrawal(cast, part)
    own = [np.array(asked.path.withdraw_direction)] if asked.path is not None else []
    for tried in asked.shifts_mm:
        shift = np.asarray(tried, dtype=float)
        part = Surface(designed.vertices_mm + shift, designed.faces)
        pair = prepare_withdrawal(cast, part)
        if own and find_block(pair, own[0]) is None:
            break
    window = find_part_window(pair, frame, asked.max_tilt_deg, seeds=[*own, *asked.seeds], progress=progress)
    moved = bool(np.any(shift))
    return FrameworkMap(cast, part, pair, frame, asked, shift, designed if moved else None, window)


def judge_framework(
    mapped: FrameworkMap, path: InsertionPath | None, admitted: Admitted | None = None
) -> FrameworkSurvey:
    """Tell a mapped framework's window seen from a path, and bring it to its seat along it.

    Parameters
    ----------
    mapped : FrameworkMap
    path : InsertionPath or None
    admitted : Admitted or None
        What it and the guides admit together, where that was sought.
    """
    window, name_place = mapped.window, mapped.asked.name_place
    viewer = RegionViewer(mapped.pair, mapped.frame, mapped.asked.max_tilt_deg, name_place)
    regions = tuple(describe_region(viewer, r, path) for r in window.regions)
    shared = admitted.regions or () if admitted is not None else ()
    seating = designed = None
    notes: tuple[Finding, ...] = ()
    if path is not None:
        seating = seat_part(mapped.pair, path, remade=offsets_of(mapped.cast, mapped.part))
        if mapped.as_designed is not None:
            designed = seat_part(prepare_withdrawal(mapped.cast, mapped.as_designed), path)
            notes = (remark_on_seat_shift(1000.0 * float(np.linalg.norm(mapped.shift_mm)), designed, seating),)
    notes += remark_on_framework([r.in_radius_deg for r in regions], seating, window.n_tried, name_place)
    x, y, z = (float(v) for v in mapped.shift_mm)
    return FrameworkSurvey(
        clearance_um=mapped.asked.clearance_um,
        seat_shift_mm=(x, y, z),
        regions=regions,
        shared=tuple(describe_region(viewer, r, path, admitted.cones) for r in shared) if admitted is not None else (),
        n_tried=window.n_tried,
        n_free=window.n_free,
        seating=seating,
        seating_as_designed=designed,
        findings=notes,
    )


def survey_framework(
    cast: Surface, framework: Surface, frame: OcclusalFrame, asked: FrameworkAsked, *, progress: Progress = SILENT
) -> FrameworkSurvey:
    """Find every straight way in for a framework up to a tilt, and bring it to its seat along the path asked for.

    Parameters
    ----------
    cast, framework : Surface
        In one frame, the framework at its seat.
    frame : OcclusalFrame
    asked : FrameworkAsked
    """
    mapped = map_framework(cast, framework, frame, asked, progress=progress.part(0.0, 0.8))
    progress.report(0.9, "seating the framework")
    return judge_framework(mapped, asked.path)
