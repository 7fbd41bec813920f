"""Volume under an open surface: what a cast takes that carries it on a flat base. Knows nothing of teeth."""

import numpy as np

from seatwright.errors import CannotCompute
from seatwright.mesh._surface import Surface, measure_face_areas_mm2, measure_face_normals
from seatwright.quantities import FloatArray

__all__ = ["find_open_direction", "measure_volume_on_base_mm3"]

_LEAST_LEAN = 0.2  # judgement: below this share the normals cancel, as on a closed surface, and tell no direction


def find_open_direction(surface: Surface) -> FloatArray:
    """Return the unit vector that an open surface looks along: its area-weighted mean normal, shape (3,).

    Raises
    ------
    CannotCompute
        If the normals cancel: a closed surface looks nowhere.
    """
    areas = measure_face_areas_mm2(surface)
    mean = (areas[:, None] * measure_face_normals(surface)).sum(axis=0) / areas.sum()
    size = float(np.linalg.norm(mean))
    if size < _LEAST_LEAN:
        raise CannotCompute("the surface looks in no direction: its normals cancel", hint="give the volume by hand")
    return np.asarray(mean / size)


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
    projected = measure_face_areas_mm2(surface) * (measure_face_normals(surface) @ up)
    return float((projected * (heights[surface.faces].mean(axis=1) - floor)).sum())
