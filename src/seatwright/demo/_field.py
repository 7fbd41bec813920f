"""The whole arch as one field: gum and units, each unit movable."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from seatwright.demo._blend import join_smoothly
from seatwright.demo._contour import IntArray
from seatwright.demo._places import ToothFrame, lay_out, make_gum_sites, occlusal_sign
from seatwright.demo._ridge import Ridge, make_ridge
from seatwright.demo._solids import (
    Solid,
    make_bar_solid,
    make_link_solid,
    make_slide_solid,
    make_stud_solid,
    make_tooth_solid,
)
from seatwright.demo._spec import ArchSpec
from seatwright.quantities import FloatArray, Transform

__all__ = ["ArchField", "make_arch_field"]

_REACH_MM = 2.0  # judgement: a solid is evaluated this far around its box; farther off it cannot be the nearest
_CREASE_MM = 0.5  # judgement: rounding where a tooth meets the gum
_WEB_MM = 0.25  # judgement: rounding where it meets its neighbor or its fittings
_FAR_MM = 1e3  # judgement: beyond any size of an arch
_LAND_BELOW_MM = 8.0  # judgement: depth of the sulcus under the lowest gum line
_BASE_BELOW_MM = 10.0  # judgement: thickness of a closed base under the land


@dataclass(frozen=True, slots=True)
class ArchField:
    """Field of an arch in the patient frame.

    Attributes
    ----------
    ridge : Ridge
    planned, solids : tuple of Solid
        Where units were planned and where they are, in the patient frame.
    sign : float
        Occlusal direction along z.
    scale, fixed_mm
        Lattice scale of the gum and the point that it keeps.
    floor_mm : float or None
        Occlusal height of a flat base; None leaves the body open downwards.
    frames : mapping of tooth to ToothFrame
        All sixteen places, in the occlusal frame.
    """

    ridge: Ridge
    planned: tuple[Solid, ...]
    solids: tuple[Solid, ...]
    sign: float
    scale: float
    fixed_mm: FloatArray
    floor_mm: float | None
    frames: Mapping[int, ToothFrame]

    def __call__(self, points_mm: FloatArray) -> FloatArray:
        """Field at patient points (n, 3), mm, negative inside."""
        units = np.full(len(points_mm), _FAR_MM)
        for solid, near, local in self._near(points_mm):
            units[near] = join_smoothly(units[near], solid.distance(local), _WEB_MM)
        return join_smoothly(self.gum(points_mm), units, _CREASE_MM)

    def moved(self, moves: Mapping[int, Transform], scale: float) -> "ArchField":
        """Return the field with units moved by ``T_moved_planned`` and the gum scaled."""
        solids = tuple(s.moved_by(moves[s.tooth]) if s.tooth in moves else s for s in self.planned)
        return replace(self, solids=solids, scale=scale)

    def gum(self, points_mm: FloatArray) -> FloatArray:
        """Field of gum and land alone."""
        x, y, z = ((points_mm[:, k] - self.fixed_mm[k]) / self.scale + self.fixed_mm[k] for k in range(3))
        up = self.sign * z
        value = self.ridge.distance(x, y, up) * self.scale
        if self.floor_mm is not None:
            value = np.maximum(value, self.floor_mm - up)
        return value

    def nearest_unit(self, points_mm: FloatArray) -> IntArray:
        """Tooth number of the solid that makes the surface at points (n, 3); 0 for gum."""
        best = self.gum(points_mm)
        unit = np.zeros(len(points_mm), dtype=np.int64)
        for solid, near, local in self._near(points_mm):
            value = solid.distance(local)
            closer = value < best[near]
            unit[near[closer]] = solid.tooth
            best[near[closer]] = value[closer]
        return unit

    def unit_field(self, tooth: int, points_mm: FloatArray) -> FloatArray:
        """Field of one unit with its fittings, everywhere, at patient points (n, 3)."""
        fields = [s.distance(s.to_local(points_mm)) for s in self.solids if s.tooth == tooth]
        return np.asarray(np.min(fields, axis=0), dtype=float)

    def middle_mm(self, tooth: int) -> FloatArray:
        """Planned middle of a place's crown in the patient frame."""
        for solid in self.planned:
            if solid.tooth == tooth:
                return solid.to_patient(solid.mark_mm)
        flipped: FloatArray = self.frames[tooth].middle_mm * np.array([1.0, 1.0, self.sign])
        return flipped

    def marks_mm(self) -> dict[str, FloatArray]:
        """Return each solid's planned telling point in the patient frame by its name."""
        return {solid.name: solid.to_patient(solid.mark_mm) for solid in self.planned}

    def _near(self, points_mm: FloatArray) -> Iterator[tuple[Solid, IntArray, FloatArray]]:
        """Yield each solid with the points around its box: their numbers and local coordinates."""
        columns = [np.ascontiguousarray(points_mm[:, k]) for k in range(3)]
        for solid in self.solids:
            corners = solid.corners_mm()
            low, high = corners.min(axis=0) - _REACH_MM, corners.max(axis=0) + _REACH_MM
            near = np.flatnonzero((columns[1] > low[1]) & (columns[1] < high[1]))
            for k in (0, 2):
                value = columns[k][near]
                near = near[(value > low[k]) & (value < high[k])]
            if near.size:
                yield solid, near, solid.to_local(points_mm[near])


def make_arch_field(spec: ArchSpec, *, closed_base: bool) -> ArchField:
    """Build the field of a spec as planned."""
    course, frames = lay_out(spec)
    ridge = make_ridge(course, make_gum_sites(spec, frames), pad_mm=spec.pad_mm, land_below_mm=_LAND_BELOW_MM)
    sign = occlusal_sign(spec.arch)
    flip = np.array([1.0, 1.0, sign])
    solids = [make_tooth_solid(frames[part.tooth], part) for part in spec.teeth]
    solids += [make_link_solid(link, frames) for link in spec.links]
    solids += [make_bar_solid(bar, frames, ridge) for bar in spec.bars]
    solids += [make_slide_solid(slide, frames[slide.tooth]) for slide in spec.slides]
    solids += [make_stud_solid(stud, frames[stud.tooth]) for stud in spec.studs]
    placed = tuple(solid.seen_from(flip) for solid in solids)
    return ArchField(
        ridge=ridge,
        planned=placed,
        solids=placed,
        sign=sign,
        scale=1.0,
        fixed_mm=np.mean([frame.middle_mm * flip for frame in frames.values()], axis=0),
        floor_mm=ridge.land_mm - _BASE_BELOW_MM if closed_base else None,
        frames=frames,
    )
