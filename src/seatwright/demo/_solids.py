"""Crowns, copings and fittings as solids: a field in its own frame, a box around it, its place.

Owns their shapes. Knows nothing of the gum, save how high it stands under a bar.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from seatwright.case import Surface
from seatwright.demo._blend import (
    box_distance,
    capsule_distance,
    frustum_distance,
    join_smoothly,
    meet_smoothly,
    oval_distance,
)
from seatwright.demo._places import ToothFrame, make_crown
from seatwright.demo._ridge import Ridge
from seatwright.demo._spec import BarPart, Form, Link, SlidePart, StudPart, ToothPart
from seatwright.quantities import FloatArray, Transform, invert_transform

__all__ = [
    "Solid",
    "make_bar_solid",
    "make_link_solid",
    "make_slide_solid",
    "make_stud_solid",
    "make_tooth_solid",
]

_SLIDE_TOP = 0.90  # judgement: opening of a slide, share of the crown length
_LEDGE_MM = 0.3  # judgement: the root stands out under a knife edge, so that the edge can be seen
_BAR_PIECES = 10  # judgement: a bowed bar as short rods


@dataclass(frozen=True, slots=True)
class Solid:
    """One unit or fitting: a field in its own frame, in a box, with its place.

    Attributes
    ----------
    tooth : int
        Unit that it moves with.
    local, offset : ndarray of shapes (3, 3) and (3,)
        Local coordinates are ``local @ p + offset`` of outer coordinates p.
    low_mm, high_mm : ndarray of shape (3,)
        Box in the local frame.
    distance : callable
        Field of local points (n, 3).
    name : str
        Kind and tooth or teeth, such as ``slide-35``.
    mark_mm : ndarray of shape (3,)
        Its telling point, local: middle of a crown, top of an attachment.
    """

    tooth: int
    local: FloatArray
    offset: FloatArray
    low_mm: FloatArray
    high_mm: FloatArray
    distance: Callable[[FloatArray], FloatArray]
    name: str
    mark_mm: FloatArray

    def corners_mm(self) -> FloatArray:
        """Return the box's corners in the outer frame, (8, 3)."""
        box = np.stack([self.low_mm, self.high_mm])
        corners = np.array([[box[i & 1, 0], box[i >> 1 & 1, 1], box[i >> 2, 2]] for i in range(8)])
        return self.to_patient(corners)

    def moved_by(self, T_moved_planned: Transform) -> "Solid":
        """Return the solid after a rigid movement in its outer frame."""
        back = invert_transform(T_moved_planned)
        return replace(self, local=self.local @ back[:3, :3], offset=self.offset + self.local @ back[:3, 3])

    def to_patient(self, local_mm: FloatArray) -> FloatArray:
        """Map local points (n, 3) or (3,) to the outer frame."""
        mapped: FloatArray = (local_mm - self.offset) @ np.linalg.inv(self.local).T
        return mapped

    def to_local(self, points_mm: FloatArray) -> FloatArray:
        """Map points (n, 3) of the outer frame to the local frame."""
        mapped: FloatArray = points_mm @ self.local.T + self.offset
        return mapped

    def seen_from(self, flip: FloatArray) -> "Solid":
        """Return the solid with its outer frame's axes multiplied by `flip`."""
        return replace(self, local=self.local * flip)


def make_tooth_solid(frame: ToothFrame, part: ToothPart) -> Solid:
    width, depth, height = frame.width_md_mm, frame.place.width_bl_mm * frame.size, frame.crown_mm
    low = np.array([-0.56 * width, -0.56 * depth, -0.5 * height])
    high = np.array([0.56 * width, 0.56 * depth, 1.05 * height])
    if part.form is Form.CONUS:
        return _conus_solid(frame, part, low)
    return Solid(
        tooth=frame.tooth,
        local=frame.axes,
        offset=-frame.axes @ frame.neck_mm,
        low_mm=low,
        high_mm=high,
        distance=make_crown(frame, part).distance,
        name=f"tooth-{frame.tooth}",
        mark_mm=np.array([0.0, 0.0, 0.6 * height]),
    )


def _conus_solid(frame: ToothFrame, part: ToothPart, low: FloatArray) -> Solid:
    edge = 0.7 - min(part.below_gum_facial_mm, part.below_gum_lingual_mm)
    half = (frame.table.neck_md_mm * frame.size / 2, frame.table.neck_bl_mm * frame.size / 2)
    wide = (half[0] + _LEDGE_MM, half[1] + _LEDGE_MM)
    corner = 0.85 * half[0]
    high = np.array([*wide, edge + part.height_mm])

    def distance(p: FloatArray) -> FloatArray:
        cone = frustum_distance(
            p - np.array([0.0, 0.0, edge]),
            half_mm=half,
            corner_mm=corner,
            height_mm=part.height_mm,
            taper_rad=part.taper_rad,
            round_mm=0.8,
        )
        root = meet_smoothly(oval_distance(p[:, 0], p[:, 1], wide, corner), p[:, 2] - edge, 0.15)
        return join_smoothly(cone, root, 0.15)

    axes = _leaned(frame.upright, part.lean_rad)
    return Solid(
        tooth=frame.tooth,
        local=axes,
        offset=-axes @ frame.neck_mm,
        low_mm=np.minimum(low, -high),
        high_mm=high,
        distance=distance,
        name=f"conus-{frame.tooth}",
        mark_mm=np.array([0.0, 0.0, edge + part.height_mm / 2]),
    )


def _leaned(axes: FloatArray, lean_rad: tuple[float, float]) -> FloatArray:
    """Axes whose third leans from the occlusal direction by turns about x and y."""
    up = np.array([lean_rad[1], -lean_rad[0], 1.0])
    up = up / np.linalg.norm(up)
    second = axes[1] - (axes[1] @ up) * up
    second = second / np.linalg.norm(second)
    first = axes[0] - (axes[0] @ up) * up - (axes[0] @ second) * second
    return np.stack([first / np.linalg.norm(first), second, up])


def make_link_solid(link: Link, frames: Mapping[int, ToothFrame]) -> Solid:
    ends = [
        frames[t].to_occlusal_frame(np.array([0.0, 0.0, 0.58 * frames[t].crown_mm])) for t in (link.first, link.second)
    ]
    inset = 0.25 * (ends[1] - ends[0])
    path = np.stack([ends[0] + inset, ends[1] - inset])
    return _rod_solid(link.first, f"link-{link.first}-{link.second}", path, link.radius_mm)


def make_bar_solid(bar: BarPart, frames: Mapping[int, ToothFrame], ridge: Ridge) -> Solid:
    first, second = (frames[t] for t in (bar.first, bar.second))
    span = second.middle_mm[:2] - first.middle_mm[:2]
    along = span / np.linalg.norm(span)
    facial = first.upright[1][:2] + second.upright[1][:2]
    facial = facial - (facial @ along) * along
    facial = facial / np.linalg.norm(facial)
    part = np.linspace(-1.0, 1.0, _BAR_PIECES + 1)
    plan = (first.middle_mm[:2] + second.middle_mm[:2]) / 2 + bar.length_mm / 2 * part[:, None] * along
    plan = plan + bar.bow_mm * (1 - part**2)[:, None] * facial
    course_along, _ = ridge.course.locate(plan[1:-1, 0], plan[1:-1, 1])
    crest = max(ridge.crest_at(float(s)) for s in course_along[2:-2])
    height = crest + bar.ridge_gap_mm + bar.radius_mm
    path = np.column_stack([plan, np.full(len(plan), height)])
    return _rod_solid(bar.first, f"bar-{bar.first}-{bar.second}", path, bar.radius_mm)


def _rod_solid(tooth: int, name: str, path: FloatArray, radius_mm: float) -> Solid:
    def distance(p: FloatArray) -> FloatArray:
        pieces = [capsule_distance(p, a, b, radius_mm) for a, b in pairwise(path)]
        return np.asarray(np.min(pieces, axis=0), dtype=float)

    low, high = path.min(axis=0) - radius_mm, path.max(axis=0) + radius_mm
    top = path[len(path) // 2] + np.array([0.0, 0.0, radius_mm])
    return Solid(tooth, np.eye(3), np.zeros(3), low, high, distance, name, top)


def _side_frame(frame: ToothFrame, surface: Surface, out_mm: float, up_mm: float) -> tuple[FloatArray, FloatArray]:
    """Axes (out from the tooth, facial, up) and origin of a fitting beside a tooth."""
    sign = 1.0 if surface is Surface.MESIAL else -1.0
    axes = frame.upright * np.array([[sign], [1.0], [1.0]])
    reach = frame.width_md_mm / 2 + out_mm
    origin = frame.to_occlusal_frame(np.array([sign * reach, 0.0, up_mm]))
    return axes, origin


def make_slide_solid(slide: SlidePart, frame: ToothFrame) -> Solid:
    axes, origin = _side_frame(frame, slide.surface, slide.depth_mm / 2 - 0.5, _SLIDE_TOP * frame.crown_mm)
    axes = _leaned(axes, slide.lean_rad)
    half = np.array([slide.depth_mm / 2 + 0.3, slide.width_mm / 2, slide.length_mm / 2 + 0.3])
    middle = np.array([-0.3, 0.0, -slide.length_mm / 2 - 0.3])

    def distance(p: FloatArray) -> FloatArray:
        box = box_distance(p - middle, half, 0.25)
        neck = box_distance(
            p - np.array([slide.depth_mm / 2, 0.0, 1.0]),
            np.array([1.3, slide.slot_mm / 2, slide.length_mm + 1.0]),
            0.2,
        )
        return meet_smoothly(box, -np.maximum(neck, -slide.length_mm - p[:, 2]), 0.2)

    name = f"slide-{slide.tooth}"
    return Solid(slide.tooth, axes, -axes @ origin, middle - half, middle + half, distance, name, np.zeros(3))


def make_stud_solid(stud: StudPart, frame: ToothFrame) -> Solid:
    axes, origin = _side_frame(frame, stud.surface, 0.0, 0.32 * frame.crown_mm)
    inner, outer = np.array([-1.5, 0.0, 0.0]), np.array([stud.reach_mm, 0.0, 0.0])
    top = outer + np.array([0.0, 0.0, stud.height_mm - stud.head_mm])

    def distance(p: FloatArray) -> FloatArray:
        arm = capsule_distance(p, inner, outer, stud.radius_mm + 0.15)
        post = capsule_distance(p, outer, top, stud.radius_mm)
        head = np.linalg.norm(p - top, axis=1) - stud.head_mm
        return join_smoothly(join_smoothly(arm, post, 0.3), head, 0.3)

    r = stud.head_mm + 0.1
    return Solid(
        tooth=stud.tooth,
        local=axes,
        offset=-axes @ origin,
        low_mm=np.array([-2.5, -r, -1.2]),
        high_mm=np.array([stud.reach_mm + r, r, stud.height_mm + r]),
        distance=distance,
        name=f"stud-{stud.tooth}",
        mark_mm=top + np.array([0.0, 0.0, stud.head_mm]),
    )
