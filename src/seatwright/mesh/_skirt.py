"""Volume that a surface stands for: enclosed by a model with a base, or under an open scan. Knows nothing of teeth."""

import numpy as np

from seatwright.errors import CannotCompute
from seatwright.mesh._surface import Surface, measure_face_areas_mm2, measure_face_normals
from seatwright.quantities import FloatArray

__all__ = [
    "estimate_enclosed_volume_mm3",
    "find_open_direction",
    "has_base",
    "measure_plan_area_mm2",
    "measure_volume_on_base_mm3",
]

_LEAST_LEAN = 0.2  # judgement: below this share the normals cancel, as on a closed surface, and tell no direction


def _mean_normal(surface: Surface) -> FloatArray:
    areas = measure_face_areas_mm2(surface)
    return np.asarray((areas[:, None] * measure_face_normals(surface)).sum(axis=0) / areas.sum())


def has_base(surface: Surface) -> bool:
    """Whether the surface closes on itself, a few holes aside: its normals then cancel."""
    return float(np.linalg.norm(_mean_normal(surface))) < _LEAST_LEAN


def estimate_enclosed_volume_mm3(surface: Surface) -> float:
    """Volume of a model with a base, mm³; each hole is closed by a cone to the middle of the vertices.

    Exact for a closed surface. A hole of area A at distance h from the middle misses at most A h / 3.

    Raises
    ------
    CannotCompute
        If the surface is an open scan (see `has_base`).

    References
    ----------
    .. [1] Divergence theorem with the field x/3, taken about the middle of the vertices.
    """
    if not has_base(surface):
        raise CannotCompute("an open scan encloses nothing", hint="measure the volume on a base instead")
    corners = surface.vertices_mm - surface.vertices_mm.mean(axis=0)
    a, b, c = (corners[surface.faces[:, k]] for k in range(3))
    return abs(float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6))


def find_open_direction(surface: Surface) -> FloatArray:
    """Return the unit vector that an open surface looks along: its area-weighted mean normal, shape (3,).

    Raises
    ------
    CannotCompute
        If the normals cancel: a closed surface looks nowhere.
    """
    mean = _mean_normal(surface)
    size = float(np.linalg.norm(mean))
    if size < _LEAST_LEAN:
        raise CannotCompute("the surface looks in no direction: its normals cancel", hint="give the volume by hand")
    return np.asarray(mean / size)


def measure_plan_area_mm2(surface: Surface) -> float:
    """Area that an open surface covers, seen along the direction that it looks in, mm²; an undercut counts once.

    Examples
    --------
    >>> square = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0]]), np.array([[0, 1, 2], [0, 2, 3]]))
    >>> round(measure_plan_area_mm2(square), 9)
    4.0
    """
    return float(_projected_mm2(surface, find_open_direction(surface)).sum())


def _projected_mm2(surface: Surface, up: FloatArray) -> FloatArray:
    return np.asarray(measure_face_areas_mm2(surface) * (measure_face_normals(surface) @ up))


def measure_volume_on_base_mm3(surface: Surface, *, base_height_mm: float) -> float:
    """Volume between an open surface and a flat base, closed by walls square to the base, mm³.

    Parameters
    ----------
    surface : Surface
        Open; the direction that it looks along is up.
    base_height_mm : float
        Height of the base under the surface's lowest point, >= 0.

    Notes
    -----
    By the divergence theorem: the sum over faces of projected area times mean height above the base; walls and base
    add nothing to it. Exact for triangles; an undercut counts once, as it does in stone.

    Examples
    --------
    >>> square = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0]]), np.array([[0, 1, 2], [0, 2, 3]]))
    >>> round(measure_volume_on_base_mm3(square, base_height_mm=3.0), 9)
    12.0
    """
    up = find_open_direction(surface)
    heights = surface.vertices_mm @ up
    floor = float(heights[surface.faces].min()) - base_height_mm
    return float((_projected_mm2(surface, up) * (heights[surface.faces].mean(axis=1) - floor)).sum())
