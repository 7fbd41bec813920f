"""Ledges at clasp tips: where the lower border of the arm's end lies on its tooth."""

from collections.abc import Sequence

import numpy as np

from seatwright.findings import JUDGEMENT, Finding, Severity
from seatwright.mesh import SurfaceIndex, find_closest, index_surface, measure_face_normals
from seatwright.quantities import FloatArray
from seatwright.survey._blockout import Ledge
from seatwright.survey._undercut import UndercutMap

__all__ = ["ledges_at_tips"]

_BELOW_MM = 0.5  # judgement: half the height of an arm near its tip
_HALF_MM = 1.5  # judgement: as much of the arm as its pattern needs to find its place
_OFF_MM = 2.0  # judgement: a tip farther from the surface than that is not on it
_LEVEL = 0.94  # judgement: cosine of 20 degrees; on flatter places a tip holds nothing


def ledges_at_tips(field: UndercutMap, tips_mm: Sequence[FloatArray]) -> tuple[tuple[Ledge, ...], tuple[Finding, ...]]:
    """Return a level ledge under each clasp tip, half a millimeter below it, 1.5 mm to each side along the tooth.

    Parameters
    ----------
    field : UndercutMap
        Gives the surface and the path.
    tips_mm : sequence of ndarray of shape (3,)
        Where the tips touch, in the surface's frame. One that lies off the surface, or where it is nearly level,
        gets no ledge but a finding.
    """
    if not len(tips_mm):
        return (), ()
    index = index_surface(field.surface)
    ledges, findings = [], []
    for tip in tips_mm:
        point = np.asarray(tip, dtype=np.float64)
        ledge, why = _ledge(field, index, point)
        if ledge is not None:
            ledges.append(ledge)
        else:
            findings.append(_note_none(point, why))
    return tuple(ledges), tuple(findings)


def _ledge(field: UndercutMap, index: SurfaceIndex, tip: FloatArray) -> tuple[Ledge | None, str]:
    up = np.array(field.path.withdraw_direction)
    found = find_closest(index, tip[None, :])
    away = float(found.distance_mm[0])
    if away > _OFF_MM:
        return None, f"it lies {away:.1f} mm off the surface"
    normal = measure_face_normals(field.surface)[int(found.face_ids[0])]
    if abs(float(normal @ up)) > _LEVEL:
        return None, "the surface is level there, so that no arm would hold"
    along = np.cross(up, normal)
    along /= np.linalg.norm(along)
    middle = tip - _BELOW_MM * up
    return Ledge(np.array([middle - _HALF_MM * along, middle + _HALF_MM * along])), ""


def _note_none(tip: FloatArray, why: str) -> Finding:
    return Finding(
        "ledge-not-cut",
        Severity.CAUTION,
        f"The clasp tip at ({', '.join(f'{k:.1f}' for k in tip)}) gets no ledge in the block-out.",
        f"{why[0].upper()}{why[1:]}.",
        "Give the tip's place on the tooth's wall, in the surface's frame.",
        JUDGEMENT,
    )
