"""Which path is taken: by hand, fixed by attachments, the best of what is free, or the middle of what is left.

Owns the order in which these rule, and what shuts out every path. Refuses to judge the path taken.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.findings import COMMON_PRACTICE, Finding, Severity
from seatwright.mesh import Surface
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._admitted import Admitted, admit_part, measure_between
from seatwright.survey._best import RankedPath, find_best_path
from seatwright.survey._cone import Cone, half_space
from seatwright.survey._entry import RigidEntry
from seatwright.survey._framework import FrameworkAsked, FrameworkMap, map_framework
from seatwright.survey._framework_remarks import Place, remark_on_shut
from seatwright.survey._guides import PlaneAsked, plane_walls
from seatwright.survey._measures import PathMeter, PathWeights
from seatwright.survey._path import InsertionPath, make_path
from seatwright.survey._seating import seat_part
from seatwright.survey._shared_float import find_least_shift, measure_float_slack
from seatwright.survey._window import SEARCH, centered_window, lies_inside

__all__ = ["Choice", "Chosen", "PartAtSeat", "choose_path"]

_EDGE_RAD = 1e-5  # judgement: 0.0006 degree; nearer to a cone's edge than that is on it
_RIGID_ONLY = "No path serves all rigid attachments"
_LEAVES_RAD = 1e-6  # judgement: a direction at right angles to a wall does not leave it


@dataclass(frozen=True, slots=True, eq=False)
class PartAtSeat:
    """A whole rigid part and its cast.

    Attributes
    ----------
    cast, part : Surface
        In one frame, the part at its seat as designed.
    clearance_um : float
        Room per side that its fit leaves.
    name_place : callable
        Says what stands at a place on the cast.
    """

    cast: Surface
    part: Surface
    clearance_um: float
    name_place: Callable[[Place], str]


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """The path taken, as a withdraw direction of shape (3,), how and why; with the next best where it was sought."""

    direction: FloatArray
    how: str
    because: str
    ranked: tuple[RankedPath, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """What came of the choice.

    Attributes
    ----------
    choice : Choice or None
    cones : tuple of Cone
        What the path was sought in, guide planes included where they leave something.
    admitted : Admitted
        The same with the part's own window, where the path was sought and there is a part.
    mapped : FrameworkMap or None
        The part where it sits.
    no_path : str
        Why there is none, as a headline; empty when there is one.
    """

    choice: Choice | None
    cones: tuple[Cone, ...]
    admitted: Admitted
    mapped: FrameworkMap | None
    no_path: str
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Sought:
    """What rules a choice."""

    path: InsertionPath | None
    rigid: RigidEntry
    frame: OcclusalFrame
    max_tilt_deg: float
    meter: PathMeter | None
    weights: PathWeights
    part: PartAtSeat | None


def choose_path(
    sought: tuple[InsertionPath | None, PathMeter | None, PathWeights, PartAtSeat | None],
    rigid: RigidEntry,
    planes: Sequence[PlaneAsked],
    frame: OcclusalFrame,
    max_tilt_deg: float,
    *,
    progress: Progress = SILENT,
) -> Chosen:
    """Take a path: by hand; else fixed; else the best of guides and part together, or the middle without a scan."""
    path, meter, weights, part = sought
    asked = _Sought(path, rigid, frame, max_tilt_deg, meter, weights, part)
    is_narrowed = not (rigid.is_fixed or rigid.window.is_empty)
    cones = _with_planes(rigid, planes, frame) if is_narrowed else rigid.cones
    direct = _directly(asked)
    mapped = None if part is None else _map(asked, part, direct, progress.part(0.0, 0.6))
    if direct is not None or rigid.window.is_empty:
        return Chosen(direct, cones, Admitted(cones), mapped, "" if direct is not None else _RIGID_ONLY)
    if part is None or mapped is None:
        return Chosen(_freely(asked, Admitted(cones), progress), cones, Admitted(cones), None, "")
    return _with_part(asked, part, mapped, cones, progress.part(0.6, 1.0))


def _directly(asked: _Sought) -> Choice | None:
    rigid = asked.rigid
    if asked.path is not None:
        return Choice(np.array(asked.path.withdraw_direction), "by hand", "chosen by hand")
    if not rigid.is_fixed:
        return None
    center = rigid.window.center
    if rigid.window.is_empty and rigid.floating is not None:
        center = rigid.floating.center
    names = " and ".join(rigid.deciding)
    return Choice(center, "fixed", f"the play of {names} leaves less than a degree, and fixes the path")


def _freely(asked: _Sought, admitted: Admitted, progress: Progress) -> Choice:
    if asked.meter is None:
        center = centered_window(admitted.cones, asked.rigid.walls, asked.frame).center
        return Choice(center, "center", "the middle of what attachments and guide planes leave")
    best = find_best_path(asked.meter, admitted, asked.weights, progress=progress)
    because = f"the least weighted sum of the measures among {best.n_tried} paths"
    if admitted.regions is not None:
        because += " along which the framework enters"
    return Choice(best.direction, "best", because, best.ranked)


def _with_part(
    asked: _Sought, part: PartAtSeat, mapped: FrameworkMap, cones: tuple[Cone, ...], progress: Progress
) -> Chosen:
    """Seek the best path of guides and part together; guide planes give way to the part, attachments do not."""
    regions = mapped.window.regions
    admitted = admit_part(cones, regions, mapped.is_free, asked.frame)
    notes: tuple[Finding, ...] = ()
    rigid = asked.rigid.cones
    if admitted.is_empty and len(cones) > len(rigid):
        without = admit_part(rigid, regions, mapped.is_free, asked.frame)
        if not without.is_empty:
            notes = (_planes_give_way(tuple(dict.fromkeys(c.feature for c in cones[len(rigid) :]))),)
            admitted, cones = without, rigid
    if not admitted.is_empty:
        return Chosen(_freely(asked, admitted, progress), cones, admitted, mapped, "", notes)
    names, note = _what_shuts(asked, part, mapped)
    return Chosen(None, cones, admitted, mapped, f"No path serves {names}", (*notes, note))


def _what_shuts(asked: _Sought, part: PartAtSeat, mapped: FrameworkMap) -> tuple[str, Finding]:
    """Name the guides that shut the part out, and where it meets the cast along the nearest path that they admit."""
    cones, regions = asked.rigid.cones, mapped.window.regions
    if not regions:
        seating = seat_part(mapped.pair, make_path(-asked.rigid.window.center))
        return "the framework", remark_on_shut((), None, seating, part.name_place)
    between = measure_between(cones, regions, asked.frame)
    shut = [c.feature for c in cones if not lies_inside([c], between.parted, within_rad=_EDGE_RAD)]
    features = tuple(f for f in dict.fromkeys(shut) if f != SEARCH)
    seating = seat_part(mapped.pair, make_path(-between.guided))
    names = " and ".join((*features, "the framework"))
    return f"both {names}", remark_on_shut(features, between.angle_deg, seating, part.name_place)


def _planes_give_way(planes: Sequence[str]) -> Finding:
    return Finding(
        "survey-planes-give-way",
        Severity.CAUTION,
        f"Along no path that {' and '.join(planes)} would guide does the framework enter: the path is sought without.",
        "What is rigid rules; guide planes can be recut.",
        "Recut the planes to the path, or block out where the framework is shut out.",
        COMMON_PRACTICE,
        planes[0],
    )


def _map(asked: _Sought, part: PartAtSeat, direct: Choice | None, progress: Progress) -> FrameworkMap:
    rigid = asked.rigid
    windows = [w.center for w in (rigid.window, rigid.floating) if w is not None and not w.is_empty]
    return map_framework(
        part.cast,
        part.part,
        asked.frame,
        FrameworkAsked(
            max_tilt_deg=asked.max_tilt_deg,
            path=make_path(-direct.direction) if direct is not None else None,
            seeds=[*(g.axis for g in rigid.guides), *windows],
            clearance_um=part.clearance_um,
            shifts_mm=_shifts(rigid, direct.direction) if direct is not None else (),
            name_place=part.name_place,
        ),
        progress=progress,
    )


def _shifts(rigid: RigidEntry, direction: FloatArray) -> tuple[FloatArray, ...]:
    """Where the partial may sit when its attachments are entered only to one side: least shifted, and roomiest."""
    unit = direction / np.linalg.norm(direction)
    if not rigid.walls or lies_inside(rigid.cones, unit, within_rad=_EDGE_RAD):
        return ()
    if min(float(np.dot(w.along, unit)) for w in rigid.walls) <= _LEAVES_RAD:
        return ()
    least = find_least_shift(rigid.walls, unit)
    return () if least is None else (least, measure_float_slack(rigid.walls, unit).shift_mm)


def _with_planes(rigid: RigidEntry, planes: Sequence[PlaneAsked], frame: OcclusalFrame) -> tuple[Cone, ...]:
    """Cones of the guides and of the guide planes, as long as some direction is left; planes that leave none go."""
    kept = rigid.cones
    for wall in plane_walls(planes, rigid.window.center):
        more = (*kept, half_space(wall.normal, wall.feature, wall.side))
        if not centered_window(more, rigid.walls, frame).is_empty:
            kept = more
    return kept
