"""A poured scan laid over its reference: where its points are in the reference's frame, and how their units moved them.

So that a movement of a tenth of a millimeter can be drawn ten times as large. Pure; the cast check said what moved.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from seatwright.arch import UnitRegion
from seatwright.cast import UnitMovement
from seatwright.mesh import Surface, move_surface
from seatwright.quantities import FloatArray
from seatwright.workflows.results import CastStep

__all__ = ["Overlay", "lay_over"]

_OWN_MM = 0.5  # judgement: a unit that moved farther is seen without any exaggeration
_FADE_MM = 2.0  # judgement: over this the picture goes from a unit to what did not move with it


@dataclass(frozen=True, slots=True, eq=False)
class Overlay:
    """A poured scan in its reference's frame.

    Attributes
    ----------
    poured : Surface
        mm.
    moved_mm : ndarray of shape (n_vertices, 3)
        How far each of its points was moved by the unit that it is on; fades to zero beside the units. Drawn `factor`
        times as large, a point stands at its place plus (factor - 1) times this.
    """

    poured: Surface
    moved_mm: FloatArray


def lay_over(step: CastStep, poured: Surface, regions: Sequence[UnitRegion]) -> Overlay:
    """Lay a poured scan over the reference as its cast check found them to lie.

    Parameters
    ----------
    step : CastStep
    poured : Surface
        mm, in its own frame.
    regions : sequence of UnitRegion
        Of the reference.
    """
    laid = move_surface(poured, step.result.T_reference_poured)
    moved = np.zeros_like(laid.vertices_mm)
    nearest = np.full(laid.n_vertices, np.inf)
    units = {unit.tooth: unit for unit in step.result.units}
    for region in regions:
        unit = units.get(region.tooth)
        if unit is None or unit.shift_mm is None or unit.turn_deg is None:
            continue
        places = step.reference.vertices_mm[np.unique(step.reference.faces[region.face_ids])]
        found = cKDTree(places).query(laid.vertices_mm, distance_upper_bound=_OWN_MM + _FADE_MM)
        away = np.asarray(found[0])
        mine = away < nearest
        nearest[mine] = away[mine]
        share = np.clip(1.0 - (away[mine] - _OWN_MM) / _FADE_MM, 0.0, 1.0)
        moved[mine] = share[:, None] * _motion_at(laid.vertices_mm[mine], unit)
    return Overlay(laid, moved)


def _motion_at(points_mm: FloatArray, unit: UnitMovement) -> FloatArray:
    """Return how far points of a unit, where they are now, were moved from where they belong, mm."""
    turn = Rotation.from_rotvec(np.asarray(unit.turn_deg), degrees=True)
    about = np.asarray(unit.about_mm)
    belong = turn.inv().apply(points_mm - about - np.asarray(unit.shift_mm)) + about
    return np.asarray(points_mm - belong)
