"""What an undercut gauge reads at each point of a surface, for one path of insertion."""

from dataclasses import dataclass
from enum import IntEnum, StrEnum

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import ValueOutOfRange
from seatwright.findings import Finding
from seatwright.mesh import (
    Bodies,
    ReachWord,
    Surface,
    build_columns,
    find_bodies,
    find_buried,
    measure_reach,
    turn_outwards,
)
from seatwright.quantities import FloatArray
from seatwright.survey._notes import note_surface
from seatwright.survey._path import InsertionPath

__all__ = ["Quality", "UndercutFlag", "UndercutMap", "measure_undercut"]

# judgement: at 50 µm exact answers lose nothing on the closed forms tested and are quickest; estimates need 25 µm
_PITCH_MM = {"gauge": 0.05, "display": 0.025}
_LEAST_CELLS = 200  # judgement: across the largest side, so that a surface of any size is seen
_SLACK_SHARE = 1e-6  # definition: a level plateau must count as open whatever the rounding; share of the size
_MAX_SPAN = 1e9  # judgement: mm; nothing that is surveyed, and squares of larger numbers lose all digits


class Quality(StrEnum):
    """How carefully the gap is measured."""

    DISPLAY = "display"
    """From a raster, to about half a cell (12 µm); a level line that crosses another part is not noticed."""
    GAUGE = "gauge"
    """Exact on the triangles."""


class UndercutFlag(IntEnum):
    """What the number at a vertex means."""

    FREE = ReachWord.OPEN
    """Nothing lies above it along the path: no undercut."""
    MEASURED = ReachWord.MEASURED
    """The gauge reads the value given."""
    BEYOND = ReachWord.BEYOND
    """No shank stands free within the largest gap looked for, or none reaches the point level; that gap is given."""
    INSIDE = ReachWord.INSIDE
    """Within another body: no surface of the whole; 0 is given."""


@dataclass(frozen=True, slots=True, eq=False)
class UndercutMap:
    """Undercut at each vertex of a surface along one path.

    Attributes
    ----------
    path : InsertionPath
    quality : Quality
    max_undercut_mm : float
        Largest gap looked for.
    slack_mm : float
        How far above a point the highest surface of a column may lie that still counts as free.
    undercut_mm : ndarray of shape (n,)
        Horizontal gap between the point and a vertical shank that passes the surface above it, mm; 0 where free.
    flags : ndarray of shape (n,), uint8
        `UndercutFlag` of each vertex.
    shank_direction : ndarray of shape (n, 3)
        Unit vector in the surface's frame from the point to the shank, square to the path; zero where none.
    surface : Surface
        The surface that was measured: as given, but for bodies turned outwards.
    bodies : Bodies
    findings : tuple of Finding
    """

    path: InsertionPath
    quality: Quality
    max_undercut_mm: float
    slack_mm: float
    undercut_mm: FloatArray
    flags: NDArray[np.uint8]
    shank_direction: FloatArray
    surface: Surface
    bodies: Bodies
    findings: tuple[Finding, ...]


def measure_undercut(
    surface: Surface,
    path: InsertionPath,
    *,
    max_undercut_mm: float = 2.0,
    quality: Quality = Quality.GAUGE,
    slack_mm: float | None = None,
    bodies: Bodies | None = None,
) -> UndercutMap:
    """Measure the undercut at each vertex.

    With the withdraw direction up and H(c) the highest surface in a column c, the undercut of p is the smallest plan
    distance to a column with H(c) <= z_p + slack to which a level line from p runs outside the solid; 0 where p's
    own column is such. That is what the head of an undercut gauge bridges while its shank passes the height of contour.

    Parameters
    ----------
    surface : Surface
        Open or closed, one or several bodies, mm; vertices at one place joined.
    path : InsertionPath
    max_undercut_mm : float
        Larger gaps are flagged, not measured; > 0.
    quality : Quality
    slack_mm : float, optional
        Default: a millionth of the size, for surfaces without noise. 0.02 mm suits scans.
    bodies : Bodies, optional
        What `find_bodies` found of this surface, where several paths are asked for.

    Raises
    ------
    ValueOutOfRange
        If the largest gap or the slack is no length, or the surface is too large to be measured in double precision.

    Notes
    -----
    Gauge quality is exact on the triangles, up to openings narrower than 0.05 mm within one body; what was measured
    stands in docs/explanation/undercuts.md. Raster cells grow on surfaces beyond some 170 mm across.

    Examples
    --------
    >>> import numpy as np
    >>> from seatwright.survey import make_path
    >>> corners = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0], [-2, -2, 4], [2, -2, 4], [2, 2, 4],
    ...     [-2, 2, 4]])
    >>> faces = np.array([[0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4], [1, 2, 6], [1, 6, 5],
    ...     [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7]])
    >>> wide_above = measure_undercut(Surface(corners, faces), make_path((0.0, 0.0, -1.0)))
    >>> np.round(wide_above.undercut_mm, 6)
    array([1., 1., 1., 1., 0., 0., 0., 0.])
    """
    slack = _check_sizes(surface, max_undercut_mm, slack_mm)
    bodies = find_bodies(surface) if bodies is None else bodies
    turned = turn_outwards(surface, bodies)
    is_exact = quality is Quality.GAUGE
    several = int(bodies.is_closed.sum()) > 0 and bodies.n_bodies > 1
    pitch = min(_PITCH_MM[quality.value], float(surface.extent_mm.max()) / _LEAST_CELLS)
    model = build_columns(
        turned,
        path.frame(),
        pitch_mm=pitch,
        with_bins=is_exact or several,
        body_of_face=bodies.of_face if is_exact and bodies.n_bodies > 1 else None,
    )
    normals = _unit(model.normals)
    buried = None
    if several:
        off = model.vertices_mm + slack * normals
        buried = find_buried(model, off, bodies.of_vertex, bodies.of_face, bodies.is_closed)
    reach = measure_reach(
        model,
        model.vertices_mm,
        normals,
        limit_mm=max_undercut_mm,
        slack_mm=slack,
        is_inside=buried,
        exact=is_exact,
    )
    plan = np.column_stack([reach.direction, np.zeros(surface.n_vertices)])
    return UndercutMap(
        path=path,
        quality=quality,
        max_undercut_mm=max_undercut_mm,
        slack_mm=slack,
        undercut_mm=reach.distance_mm,
        flags=reach.found,
        shank_direction=np.asarray(plan @ model.T_columns_surface[:3, :3]),
        surface=turned,
        bodies=bodies,
        findings=note_surface(turned, bodies, path, reach.found),
    )


def _check_sizes(surface: Surface, max_undercut_mm: float, slack_mm: float | None) -> float:
    if not (np.isfinite(max_undercut_mm) and max_undercut_mm > 0):
        raise ValueOutOfRange(
            f"the largest undercut must be a length above zero, got {max_undercut_mm}", hint="2 mm is usual"
        )
    with np.errstate(over="ignore"):
        size = float(surface.extent_mm.max())
    if not size < _MAX_SPAN or not float(np.abs(surface.vertices_mm[0]).max()) < 10 * _MAX_SPAN:
        raise ValueOutOfRange(
            f"the surface spans {size:.3g} mm, too much to be measured", hint="check the length unit of the file"
        )
    slack = _SLACK_SHARE * size if slack_mm is None else slack_mm
    if not (np.isfinite(slack) and slack >= 0):
        raise ValueOutOfRange(f"the slack must be a length, got {slack_mm}", hint="0.02 mm suits scans")
    return slack


def _unit(rows: FloatArray) -> FloatArray:
    length = np.linalg.norm(rows, axis=1, keepdims=True)
    return np.asarray(np.divide(rows, length, out=np.zeros_like(rows), where=length > 0))
