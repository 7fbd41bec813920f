"""What the invented partial takes hold of: rests, clasps and guide planes, placed on the generated crowns."""

from collections.abc import Mapping

import numpy as np

from seatwright.case import Clasp, ClaspAlloy, ClaspApproach, ClaspForm, GuidePlane, Rest, RestKind, Surface
from seatwright.demo._field import ArchField
from seatwright.demo._places import make_crown
from seatwright.demo._spec import ArchSpec, Form
from seatwright.quantities import FloatArray

__all__ = ["find_holds_mm", "find_margin_centers_mm", "make_clasps", "make_guide_planes", "make_rests"]

Place = tuple[float, float, float]

_REACH_MM, _STEP_MM = 12.0, 0.01  # judgement: from well outside a crown, and as fine as a place is written
# Where to look from: tooth; share of the crown's width towards mesial, share of its length over the neck; which way to
# look outwards: mesial, facial, occlusal. Judgement: where a technician would draw them on crowns of this form.
_HOLDS: dict[str, tuple[int, float, float, tuple[float, float, float]]] = {
    "rest-34": (34, 0.30, 0.5, (0.0, 0.0, 1.0)),
    "rest-44": (44, 0.30, 0.5, (0.0, 0.0, 1.0)),
    "rest-33": (33, 0.0, 0.45, (0.0, -1.0, 0.0)),
    "clasp-44": (44, 0.0, 0.12, (0.0, 1.0, 0.0)),
    "clasp-35": (35, 0.25, 0.23, (0.0, 1.0, 0.0)),
    "plane-44": (44, 0.0, 0.6, (0.0, -1.0, 0.0)),
    "plane-33": (33, 0.0, 0.65, (1.0, 0.0, 0.0)),
}


def find_holds_mm(field: ArchField) -> dict[str, Place]:
    """Return where each hold touches its crown, patient frame, by its id."""
    return {name: _touch(field, name) for name in _HOLDS}


def find_margin_centers_mm(spec: ArchSpec, field: ArchField) -> dict[int, Place]:
    """Return the middle of each crown's edge, patient frame, by its tooth; a conus ends at the neck."""
    flip = np.array([1.0, 1.0, field.sign])
    found = {}
    for part in spec.teeth:
        if part.form not in (Form.CROWN, Form.CONUS):
            continue
        frame = field.frames[part.tooth]
        edge = None if part.form is Form.CONUS else make_crown(frame, part).edge
        height = 0.0 if edge is None else (edge.facial_mm + edge.lingual_mm) / 2
        x, y, z = (round(float(v), 2) for v in frame.to_occlusal_frame(np.array([0.0, 0.0, height])) * flip)
        found[part.tooth] = (x, y, z)
    return found


def make_rests(at_mm: Mapping[str, Place]) -> tuple[Rest, ...]:
    """Return three rests, widely spaced, so that the framework stands without the attachments."""
    return (
        Rest(id="rest-34", tooth=34, kind=RestKind.OCCLUSAL, surface=Surface.MESIAL, at_mm=at_mm["rest-34"]),
        Rest(id="rest-33", tooth=33, kind=RestKind.CINGULUM, surface=Surface.LINGUAL, at_mm=at_mm["rest-33"]),
        Rest(id="rest-44", tooth=44, kind=RestKind.OCCLUSAL, surface=Surface.MESIAL, at_mm=at_mm["rest-44"]),
    )


def make_clasps(tip_mm: Mapping[str, Place]) -> tuple[Clasp, ...]:
    """Return a wrought arm next to the extension base and a cast one on the tooth-borne side."""
    return (
        Clasp(
            id="clasp-44",
            tooth=44,
            surface=Surface.FACIAL,
            approach=ClaspApproach.SUPRABULGE,
            form=ClaspForm.WROUGHT,
            alloy=ClaspAlloy.GOLD,
            tip_mm=tip_mm["clasp-44"],
        ),
        Clasp(
            id="clasp-35",
            tooth=35,
            surface=Surface.FACIAL,
            approach=ClaspApproach.SUPRABULGE,
            form=ClaspForm.CAST,
            alloy=ClaspAlloy.COBALT_CHROMIUM,
            tip_mm=tip_mm["clasp-35"],
        ),
    )


def make_guide_planes(at_mm: Mapping[str, Place]) -> tuple[GuidePlane, ...]:
    """Return the plane opposite the wrought arm and one at the front saddle."""
    return (
        GuidePlane(id="plane-44", tooth=44, surface=Surface.LINGUAL, at_mm=at_mm["plane-44"], height_mm=2.5),
        GuidePlane(id="plane-33", tooth=33, surface=Surface.MESIAL, at_mm=at_mm["plane-33"], height_mm=2.5),
    )


def _touch(field: ArchField, name: str) -> Place:
    """Return the outermost point of a crown along a line that leaves it."""
    tooth, mesial, height, outwards = _HOLDS[name]
    frame = field.frames[tooth]
    flip = np.array([1.0, 1.0, field.sign])
    start = frame.to_occlusal_frame(np.array([mesial * frame.width_md_mm, 0.0, height * frame.crown_mm])) * flip
    direction: FloatArray = (np.array(outwards) @ frame.axes) * flip
    along = np.arange(0.0, _REACH_MM, _STEP_MM)
    line = start + along[:, None] * direction
    inside = np.flatnonzero(field.unit_field(tooth, line) < 0)
    x, y, z = (round(float(v), 2) for v in line[inside[-1]])
    return (x, y, z)
