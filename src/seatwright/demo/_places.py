"""Where each unit of a spec stands: its frame, its crown and the gum around it."""

from dataclasses import dataclass
from functools import lru_cache
from math import radians

import numpy as np

from seatwright.arch import ToothPlace, nominal_layout
from seatwright.case import Arch
from seatwright.demo._crowns import CrownEdge, CrownShape, make_crown_shape
from seatwright.demo._ridge import ArchCourse, GumSite, make_course
from seatwright.demo._spec import ArchSpec, Form, ToothPart
from seatwright.demo._tooth_tables import ToothTable, find_tooth_table
from seatwright.quantities import FloatArray

__all__ = ["ToothFrame", "lay_out", "make_crown", "make_gum_sites", "occlusal_sign"]

# judgement: textbook-like facial (+) or lingual (-) lean of the crowns, degrees, positions 1 to 8
_LEAN_DEG = {
    Arch.MANDIBLE: (4.0, 3.0, 0.0, -4.0, -6.0, -9.0, -11.0, -12.0),
    Arch.MAXILLA: (16.0, 14.0, 6.0, 0.0, 0.0, 3.0, 5.0, 6.0),
}
_ANCHOR = 0.65  # judgement: share of the crown length that stands over the arch curve
_CURVE_DEPTH_MM = 1.5  # common practice: depth of the sagittal occlusal curve, 1 to 2 mm
_CURVE_MIDDLE_MM = 22.0  # judgement: deepest at the second premolar
_CANINE_OVER_MM = 0.8  # judgement: canine tips stand out over their neighbors
_GUM_OVER_NECK_MM = 0.7  # judgement: gum line over the neck of a sound tooth


@dataclass(frozen=True, slots=True)
class ToothFrame:
    """Frame of one place in the occlusal frame (x, y, up), up being occlusal.

    Attributes
    ----------
    tooth : int
    axes : ndarray of shape (3, 3)
        Rows mesial, facial, occlusal.
    upright : ndarray of shape (3, 3)
        The same without lean.
    neck_mm : ndarray of shape (3,)
        Middle of the neck, origin of the local frame.
    table : ToothTable
    place : ToothPlace
    along_mm : float
        Position on the course.
    size : float
    """

    tooth: int
    axes: FloatArray
    upright: FloatArray
    neck_mm: FloatArray
    table: ToothTable
    place: ToothPlace
    along_mm: float
    size: float

    def to_occlusal_frame(self, local_mm: FloatArray) -> FloatArray:
        """Map local points (n, 3) or (3,) to the occlusal frame."""
        mapped: FloatArray = self.neck_mm + local_mm @ self.axes
        return mapped

    @property
    def crown_mm(self) -> float:
        """Crown length."""
        return self.table.crown_mm * self.size

    @property
    def width_md_mm(self) -> float:
        """Mesiodistal width of the crown."""
        return self.place.width_md_mm * self.size

    @property
    def middle_mm(self) -> FloatArray:
        """Middle of the crown."""
        return self.to_occlusal_frame(np.array([0.0, 0.0, 0.6 * self.crown_mm]))


def occlusal_sign(arch: Arch) -> float:
    """Return +1 where the occlusal side looks up (mandible), else -1."""
    return 1.0 if arch is Arch.MANDIBLE else -1.0


def lay_out(spec: ArchSpec) -> tuple[ArchCourse, dict[int, ToothFrame]]:
    """Return the course and the frame of each of the sixteen places, from the patient's right to the left."""
    places = sorted(nominal_layout(spec.arch).values(), key=_order)
    course, centers = _course(spec.arch, spec.width_scale, spec.depth_scale)
    along, _ = course.locate(centers[:, 0], centers[:, 1])
    return course, {
        p.tooth: _frame(spec, p, center, float(s)) for p, center, s in zip(places, centers, along, strict=True)
    }


def make_crown(frame: ToothFrame, part: ToothPart) -> CrownShape:
    """Build the crown of a unit (not of a conus)."""
    crowned = part.form in (Form.CROWN, Form.IMPLANT_CROWN)
    return make_crown_shape(
        frame.table,
        width_md_mm=frame.place.width_md_mm,
        width_bl_mm=frame.place.width_bl_mm,
        size=part.size,
        edge=CrownEdge(
            step_mm=part.step_mm if crowned else 0.0,
            collar_mm=part.collar_mm,
            facial_mm=_GUM_OVER_NECK_MM - part.below_gum_facial_mm,
            lingual_mm=_GUM_OVER_NECK_MM - part.below_gum_lingual_mm,
        ),
        rooted=part.form is not Form.PONTIC,
        screw_channel=part.form is Form.IMPLANT_CROWN,
    )


def make_gum_sites(spec: ArchSpec, frames: dict[int, ToothFrame]) -> list[GumSite]:
    """Return the gum of all sixteen places, from right to left."""
    return [_gum_site(spec, frame) for frame in frames.values()]


@lru_cache(maxsize=8)
def _course(arch: Arch, width_scale: float, depth_scale: float) -> tuple[ArchCourse, FloatArray]:
    places = sorted(nominal_layout(arch).values(), key=_order)
    centers = np.array([[p.x_mm * width_scale, p.y_mm * depth_scale] for p in places])
    return make_course(centers), centers


def _order(place: ToothPlace) -> float:
    right = place.tooth // 10 in (1, 4)
    return -(place.tooth % 10) if right else place.tooth % 10


def _frame(spec: ArchSpec, place: ToothPlace, center: FloatArray, along_mm: float) -> ToothFrame:
    part = spec.part_at(place.tooth)
    size = part.size if part else 1.0
    table = find_tooth_table(spec.arch, place.tooth)
    heading = np.arctan2(np.sin(place.heading_rad) * spec.depth_scale, np.cos(place.heading_rad) * spec.width_scale)
    tangent = np.array([np.cos(heading), np.sin(heading), 0.0])
    facial = np.array([np.sin(heading), -np.cos(heading), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    mesial = tangent if place.tooth // 10 in (1, 4) else -tangent
    lean = radians(_LEAN_DEG[spec.arch][place.tooth % 10 - 1])
    occlusal = np.cos(lean) * up + np.sin(lean) * facial
    out = np.cos(lean) * facial - np.sin(lean) * up
    sag = _CURVE_DEPTH_MM * (1 - min(abs(place.y_mm - _CURVE_MIDDLE_MM) / _CURVE_MIDDLE_MM, 1.2) ** 2)
    tip = _CANINE_OVER_MM * (place.tooth % 10 == 3) - occlusal_sign(spec.arch) * sag
    crown = table.crown_mm * size
    anchor = np.array([center[0], center[1], tip - (1 - _ANCHOR) * crown * np.cos(lean)])
    return ToothFrame(
        tooth=place.tooth,
        axes=np.stack([mesial, out, occlusal]),
        upright=np.stack([mesial, facial, up]),
        neck_mm=anchor - _ANCHOR * crown * occlusal,
        table=table,
        place=place,
        along_mm=along_mm,
        size=size,
    )


def _gum_site(spec: ArchSpec, frame: ToothFrame) -> GumSite:
    part = spec.part_at(frame.tooth)
    front = frame.tooth % 10 <= 3
    line = float(frame.neck_mm[2]) + _GUM_OVER_NECK_MM
    lean = float(np.arcsin(frame.axes[2] @ frame.upright[1]))
    standing = part is not None and part.form is not Form.PONTIC
    half = frame.table.neck_bl_mm * frame.size / 2
    if standing:
        return GumSite(
            along_mm=frame.along_mm,
            width_mm=frame.width_md_mm,
            crest_mm=line,
            papilla_mm=0.5 * frame.table.neck_curve_mm + (0.8 if front else 0.9),
            facial_mm=half + 0.9,
            lingual_mm=half + 0.9,
            across_mm=-_ANCHOR * frame.crown_mm * float(np.sin(lean)),
            round_mm=1.8,
            standing=True,
        )
    return GumSite(
        along_mm=frame.along_mm,
        width_mm=frame.width_md_mm,
        crest_mm=line - (0.75 if part else 1.0) * spec.saddle_drop_mm,
        papilla_mm=0.0,
        facial_mm=2.6 if front else 3.2,
        lingual_mm=2.6 if front else 3.2,
        across_mm=-0.8 if front else 0.2,
        round_mm=4.5,
        standing=False,
    )
