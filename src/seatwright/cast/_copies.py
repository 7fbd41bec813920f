"""Are repeat scans scans at all: one mesh given twice repeats nothing.

Owns the comparison of meshes vertex by vertex. Knows no uncertainty.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from seatwright.mesh import Surface
from seatwright.quantities import Transform, invert_transform

__all__ = ["Copy", "find_copies"]

_N_SAMPLE = 2000  # judgement: a share is then known to 0.01
_NEAR = 0.1  # judgement: of the way between neighboring vertices; two tessellations meet so closely by chance in 4 %
_SAME_SHARE = 0.5  # judgement: twelve times what chance gives; a copy that was cut or mended still has so much


@dataclass(frozen=True, slots=True)
class Copy:
    """A scan that is the mesh of an earlier one.

    Attributes
    ----------
    scan, of : int
        Their numbers, from 0.
    share : float
        Share (0 to 1) of its vertices that stand on a vertex of the earlier scan.
    """

    scan: int
    of: int
    share: float


def find_copies(surfaces: Sequence[Surface], T_reference_scans: Sequence[Transform]) -> tuple[Copy, ...]:
    """Name the scans whose mesh is that of an earlier one, whatever its pose, order or file format.

    Parameters
    ----------
    surfaces : sequence of Surface
        Scans of one cast, mm.
    T_reference_scans : sequence of ndarray of shape (4, 4)
        Where each was found.

    Notes
    -----
    A scanner sets its vertices anew each time: those of two scans of one cast meet within a tenth of their spacing by
    chance only. Noise of up to a twentieth of the spacing put on a mesh does not make it a scan. The meshes are
    compared where they were found and not slid onto each other: two regular grids would then seem one.
    """
    copies: list[Copy] = []
    kept = [0]
    for number in range(1, len(surfaces)):
        shares = [(_shared(surfaces, T_reference_scans, earlier, number), earlier) for earlier in kept]
        share, earlier = max(shares)
        if share > _SAME_SHARE:
            copies.append(Copy(number, earlier, share))
        else:
            kept.append(number)
    return tuple(copies)


def _shared(surfaces: Sequence[Surface], transforms: Sequence[Transform], earlier: int, number: int) -> float:
    """Share of one scan's vertices that stand on those of an earlier one."""
    T = invert_transform(transforms[earlier]) @ transforms[number]
    vertices = surfaces[number].vertices_mm
    points = vertices[:: max(1, len(vertices) // _N_SAMPLE)] @ T[:3, :3].T + T[:3, 3]
    near = _NEAR * _spacing_mm(surfaces[earlier])
    distance = np.asarray(
        cKDTree(surfaces[earlier].vertices_mm).query(points, distance_upper_bound=near)[0], dtype=float
    )
    return float(np.isfinite(distance).mean())


def _spacing_mm(surface: Surface) -> float:
    corners = surface.vertices_mm[surface.faces[:: max(1, len(surface.faces) // _N_SAMPLE)]]
    return float(np.median(np.linalg.norm(corners[:, 0] - corners[:, 1], axis=1)))
