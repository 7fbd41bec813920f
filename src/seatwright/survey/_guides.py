"""From a case to the things that guide its partial: slides, telescopes, cones, rigid bar sleeves, guide planes.

Owns which attachment guides, how long and with what room. Refuses to know meshes: what is read off a scan is handed in.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.arch import OcclusalFrame, nominal_layout
from seatwright.case import Attachment, AttachmentKind, Case, GuidePlane, Motion
from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.quantities import FloatArray
from seatwright.survey._walls import Guide, Wall, box_walls, cone_walls

__all__ = ["GuidesFound", "PlaneAsked", "find_guides", "gap_per_side_mm", "plane_walls"]

_SIDES = ("mesial", "distal", "facial", "lingual")
_ROUND_LENGTH_MM = (
    4.0  # judgement: guided length of a cone's wall when the case gives none; without room it is not used
)
_CASE = Source(SourceKind.CASE, "case.toml")


@dataclass(frozen=True, slots=True, eq=False)
class PlaneAsked:
    """A guide plane with its outward normal: stated, or read off the scan (None when neither)."""

    plane: GuidePlane
    outward: FloatArray | None
    is_stated: bool


@dataclass(frozen=True, slots=True, eq=False)
class GuidesFound:
    """What guides the partial, what could not be used, and why."""

    guides: tuple[Guide, ...]
    planes: tuple[PlaneAsked, ...]
    findings: tuple[Finding, ...]


def gap_per_side_mm(attachment: Attachment) -> float | None:
    """Room between male and female on each side when centered, mm; None when the case states none.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> gap_per_side_mm(SimpleNamespace(clearance_um=20.0, clearance_is="total"))
    0.01
    """
    if attachment.clearance_um is None:
        return None
    return attachment.clearance_um / (2000.0 if attachment.clearance_is == "total" else 1000.0)


def find_guides(
    case: Case,
    frame: OcclusalFrame,
    *,
    axes: Mapping[str, FloatArray] | None = None,
    plane_normals: Mapping[str, FloatArray] | None = None,
) -> GuidesFound:
    """Return the guides of a case.

    Parameters
    ----------
    case : Case
    frame : OcclusalFrame
        Tells how a slide's box lies: along and across the arch.
    axes : mapping of attachment id to ndarray of shape (3,), optional
        Withdraw directions read with a mandrel; they take the place of the case's.
    plane_normals : mapping of guide plane id to ndarray of shape (3,), optional
        Outward normals read off a scan, for planes that state none.

    Returns
    -------
    GuidesFound
        A resilient attachment does not guide. A rigid one without an axis, a length or a clearance is left out with a
        finding that says what to state.
    """
    found: list[Guide] = []
    notes: list[Finding] = []
    read = axes or {}
    for attachment in case.attachment:
        if attachment.motion is not Motion.RIGID:
            continue
        axis = read.get(attachment.id)
        if axis is None and attachment.withdraw_direction is not None:
            axis = np.array(attachment.withdraw_direction, dtype=float)
        missing = _missing(attachment, axis)
        if missing or axis is None:
            notes.append(_left_out(attachment, missing))
            continue
        found.append(_guide(case, attachment, axis / np.linalg.norm(axis), frame))
    normals = plane_normals or {}
    planes = tuple(
        PlaneAsked(p, np.array(p.outward) if p.outward is not None else normals.get(p.id), p.outward is not None)
        for p in case.guide_plane
    )
    return GuidesFound(tuple(found), planes, tuple(notes))


def _is_round(attachment: Attachment) -> bool:
    return attachment.kind in (AttachmentKind.CONUS, AttachmentKind.TELESCOPE, AttachmentKind.STUD)


def _missing(attachment: Attachment, axis: FloatArray | None) -> tuple[str, ...]:
    missing = [] if axis is not None else ["withdraw_direction (or a mandrel reading)"]
    if attachment.kind is not AttachmentKind.CONUS:
        missing += ["length_mm"] if attachment.length_mm is None else []
        missing += ["clearance_um"] if attachment.clearance_um is None else []
    return tuple(missing)


def _left_out(attachment: Attachment, missing: tuple[str, ...]) -> Finding:
    return Finding(
        "survey-guide-left-out",
        Severity.CAUTION,
        f"{attachment.id} is rigid but does not limit the path here: {' and '.join(missing)} not stated.",
        "What it admits cannot be computed.",
        "Put the mandrel in it and type its tilt, and state its guided length and clearance.",
        _CASE,
        attachment.id,
    )


def _guide(case: Case, attachment: Attachment, axis: FloatArray, frame: OcclusalFrame) -> Guide:
    gap = gap_per_side_mm(attachment) or 0.0
    length = attachment.length_mm or _ROUND_LENGTH_MM
    if _is_round(attachment):
        unit = case.unit_at(attachment.tooth) if attachment.tooth is not None else None
        taper = math.radians(unit.wall_taper_deg or 0.0) if unit is not None else 0.0
        walls = cone_walls(attachment.id, axis, taper_rad=taper, length_mm=length, gap_mm=gap)
        return Guide(attachment.id, attachment.kind.value, axis, length, gap, taper, is_round=True, walls=walls)
    walls = box_walls(attachment.id, axis, _box_sides(case, attachment, frame), length_mm=length, gap_mm=gap)
    return Guide(attachment.id, attachment.kind.value, axis, length, gap, 0.0, is_round=False, walls=walls)


def _box_sides(case: Case, attachment: Attachment, frame: OcclusalFrame) -> list[tuple[str, FloatArray]]:
    """Where the four walls lie, seen from the male: along and across the arch; a bar guides only across itself."""
    layout = nominal_layout(case.arch)
    if attachment.tooth is not None:
        place = layout[attachment.tooth]
        along = math.cos(place.heading_rad) * frame.left + math.sin(place.heading_rad) * frame.posterior
        across = np.cross(frame.occlusal, along)
        outward = place.x_mm * frame.left + (place.y_mm - _middle_y_mm(case)) * frame.posterior
        facial = across if float(np.dot(across, outward)) > 0 else -across
        is_left = attachment.tooth // 10 in (2, 3)
        distal = along if is_left else -along
        return list(zip(_SIDES, (-distal, distal, facial, -facial), strict=True))
    bar = next(b for b in case.bar if b.id == attachment.bar)
    one, other = layout[bar.from_tooth], layout[bar.to_tooth]
    along = (other.x_mm - one.x_mm) * frame.left + (other.y_mm - one.y_mm) * frame.posterior
    across = np.cross(frame.occlusal, along)
    middle = (one.x_mm + other.x_mm) / 2 * frame.left
    middle = middle + ((one.y_mm + other.y_mm) / 2 - _middle_y_mm(case)) * frame.posterior
    facial = across if float(np.dot(across, middle)) > 0 else -across
    return [("facial", facial), ("lingual", -facial)]


def _middle_y_mm(case: Case) -> float:
    return float(np.mean([place.y_mm for place in nominal_layout(case.arch).values()]))


def plane_walls(planes: Sequence[PlaneAsked], leaving: FloatArray) -> tuple[Wall, ...]:
    """Return the walls of the planes whose normal is known, met at the path given."""
    walls = []
    for asked in planes:
        if asked.outward is None:
            continue
        normal = asked.outward / np.linalg.norm(asked.outward)
        along = leaving - normal * float(np.dot(normal, leaving))
        size = float(np.linalg.norm(along))
        if size > 1e-6:
            walls.append(Wall(asked.plane.id, "guide plane", normal, along / size, asked.plane.height_mm, 0.0))
    return tuple(walls)
