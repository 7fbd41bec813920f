"""Which side of a scan is solid, told from above: what is seen first along the way out must face it."""

import numpy as np
from numpy.typing import NDArray

from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.mesh import Surface, measure_face_areas_mm2, measure_face_normals
from seatwright.quantities import FloatArray

__all__ = ["face_outwards"]

_CELL_SHARE = 0.02  # judgement: of the extent; some 1.4 mm on an arch
_N_POINTS = 60_000  # judgement: a dozen in each column of an arch
_GOLDEN = (0.7548776662466927, 0.5698402909980532)  # definition: even spread over a square, 1/g and 1/g² of g³ = g + 1
_STEEP = 0.2  # judgement: faces steeper than 78 degrees tell little of which way they face


def face_outwards(surface: Surface, withdraw_direction: FloatArray) -> tuple[Surface, tuple[Finding, ...]]:
    """Turn the faces of a scan that is inside out, with a finding; return it as it is otherwise.

    Parameters
    ----------
    surface : Surface
        Open or closed; mm.
    withdraw_direction : ndarray of shape (3,)
        Roughly the way out, such as the occlusal normal.

    Notes
    -----
    In columns along the way out, the highest face looks up on a solid with its faces outwards; most columns decide.
    """
    up = withdraw_direction / np.linalg.norm(withdraw_direction)
    side = np.eye(3)[int(np.argmin(np.abs(up)))]
    right = np.cross(side, up)
    right /= np.linalg.norm(right)
    facing = measure_face_normals(surface) @ up
    areas = np.where(np.abs(facing) > _STEEP, measure_face_areas_mm2(surface), 0.0)
    if not areas.sum() > 0:
        return surface, ()
    points, faces = _spread(surface, areas)
    plan = np.column_stack([points @ right, points @ np.cross(up, right)])
    cells = np.floor(plan / max(_CELL_SHARE * float(surface.extent_mm.max()), 1e-9)).astype(np.int64)
    order = np.lexsort((-(points @ up), cells[:, 1], cells[:, 0]))
    is_first = np.ones(len(order), dtype=bool)
    is_first[1:] = (np.diff(cells[order], axis=0) != 0).any(axis=1)
    looks_up = facing[faces[order[is_first]]] > 0
    if 2 * int(looks_up.sum()) >= len(looks_up):
        return surface, ()
    turned = Surface(surface.vertices_mm, np.ascontiguousarray(surface.faces[:, ::-1]))
    return turned, (_inside_out(1.0 - float(looks_up.mean())),)


def _spread(surface: Surface, areas: FloatArray) -> tuple[FloatArray, NDArray[np.int64]]:
    """Points spread evenly by area, shape (n, 3), and the face of each; the same at every call."""
    steps = np.arange(_N_POINTS)
    faces = np.searchsorted(np.cumsum(areas), (steps + 0.5) / _N_POINTS * areas.sum())
    u, v = np.modf(steps * _GOLDEN[0])[0], np.modf(steps * _GOLDEN[1])[0]
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    a, b, c = (surface.vertices_mm[surface.faces[faces, k]] for k in range(3))
    return a + u[:, None] * (b - a) + v[:, None] * (c - a), faces


def _inside_out(share: float) -> Finding:
    return Finding(
        "normals-inverted",
        Severity.WARNING,
        f"The reference scan is inside out, seen from the bite ({100 * share:.0f} % of it): its faces were turned.",
        "which side is solid decides what is undercut",
        "export the scan with its faces turned outwards; check that the occlusal normal points away from the jaw",
        Source(SourceKind.MEASURED, "reference scan"),
    )
