"""The whole arch as one field: gum and units, each unit movable."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from seatwright.demo._blend import join_smoothly
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
from seatwright.quantities import FloatArray, Transform, apply_transform, invert_transform

__all__ = ["ArchField", "make_arch_field"]

_REACH_MM = 2.0  # judgement: a solid is evaluated this far around its box; farther off it cannot be the nearest
_CREASE_MM = 0.4  # judgement: rounding where a tooth meets the gum or its neighbor
_LAND_BELOW_MM = 8.0  # judgement: depth of the sulcus under the lowest gum line
_BASE_BELOW_MM = 10.0  # judgement: thickness of a closed base under the land


@dataclass(frozen=True, slots=True)
class ArchField:
    """Field of an arch in the patient frame.

    Attributes
    ----------
    ridge : Ridge
    solids : tuple of Solid
    moves : mapping of tooth to ndarray of shape (4, 4)
        ``T_moved_planned`` in the patient frame; a unit not named stays.
    sign : float
        Occlusal direction along z.
    lattice : tuple
        Scale of the lattice and the plan point that it keeps; gum coordinates are divided by it.
    floor_mm : float or None
        Occlusal height of a flat base; None leaves the body open downwards.
    frames : mapping of tooth to ToothFrame
        All sixteen places, in the occlusal frame.
    """

    ridge: Ridge
    solids: tuple[Solid, ...]
    moves: Mapping[int, Transform]
    sign: float
    lattice: tuple[float, FloatArray]
    floor_mm: float | None
    frames: Mapping[int, ToothFrame]

    def __call__(self, points_mm: FloatArray) -> FloatArray:
        """Field at patient points (n, 3), mm, negative inside."""
        value = self.gum(points_mm)
        for solid in self.solids:
            near, local = self._near(solid, points_mm)
            value[near] = join_smoothly(value[near], solid.distance(local), _CREASE_MM)
        return value

    def gum(self, points_mm: FloatArray) -> FloatArray:
        """Field of gum and land alone."""
        scale, fixed = self.lattice
        p = (points_mm - fixed) / scale + fixed
        up = self.sign * p[:, 2]
        value = self.ridge.distance(p[:, 0], p[:, 1], up) * scale
        if self.floor_mm is not None:
            value = np.maximum(value, self.floor_mm - up)
        return value

    def nearest_unit(self, points_mm: FloatArray) -> FloatArray:
        """Tooth number of the solid that makes the surface at points (n, 3); 0 for gum."""
        best = self.gum(points_mm)
        unit = np.zeros(len(points_mm))
        for solid in self.solids:
            near, local = self._near(solid, points_mm)
            value = solid.distance(local)
            closer = value < best[near]
            unit[near[closer]] = solid.tooth
            best[near[closer]] = value[closer]
        return unit

    def unit_field(self, tooth: int, points_mm: FloatArray) -> FloatArray:
        """Field of one unit with its fittings, everywhere, at patient points (n, 3)."""
        fields = [s.distance(self._to_local(s, points_mm)) for s in self.solids if s.tooth == tooth]
        return np.asarray(np.min(fields, axis=0), dtype=float)

    def middle_mm(self, tooth: int) -> FloatArray:
        """Middle of a place's crown in the patient frame, before any movement."""
        for solid in self.solids:
            if solid.tooth == tooth:
                return solid.to_patient(solid.mark_mm)
        return self.frames[tooth].middle_mm * np.array([1.0, 1.0, self.sign])

    def marks_mm(self) -> dict[str, FloatArray]:
        """Return each solid's telling point in the patient frame by its name, before any movement."""
        return {solid.name: solid.to_patient(solid.mark_mm) for solid in self.solids}

    def _to_local(self, solid: Solid, points_mm: FloatArray) -> FloatArray:
        move = self.moves.get(solid.tooth)
        planned = points_mm if move is None else apply_transform(invert_transform(move), points_mm)
        return solid.to_local(planned)

    def _near(self, solid: Solid, points_mm: FloatArray) -> tuple[np.ndarray, FloatArray]:
        move = self.moves.get(solid.tooth)
        corners = solid.corners_mm() if move is None else apply_transform(move, solid.corners_mm())
        low, high = corners.min(axis=0) - _REACH_MM, corners.max(axis=0) + _REACH_MM
        near = np.flatnonzero(np.all((points_mm > low) & (points_mm < high), axis=1))
        local = self._to_local(solid, points_mm[near])
        inside = np.all((local > solid.low_mm - _REACH_MM) & (local < solid.high_mm + _REACH_MM), axis=1)
        return near[inside], local[inside]


def make_arch_field(
    spec: ArchSpec, *, moves: Mapping[int, Transform], lattice_scale: float, closed_base: bool
) -> ArchField:
    """Build the field of a spec; `moves` are ``T_moved_planned`` without the lattice's scale."""
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
    fixed = np.mean([frame.middle_mm * flip for frame in frames.values()], axis=0)
    return ArchField(
        ridge=ridge,
        solids=placed,
        moves=moves,
        sign=sign,
        lattice=(lattice_scale, fixed),
        floor_mm=ridge.land_mm - _BASE_BELOW_MM if closed_base else None,
        frames=frames,
    )
