"""What a closed surface holds."""

import numpy as np

from seatwright.errors import CannotCompute
from seatwright.mesh._surface import Surface
from seatwright.mesh._topology import find_border_edges

__all__ = ["measure_volume_mm3"]


def measure_volume_mm3(surface: Surface) -> float:
    """Volume enclosed by a closed surface, mm³, positive when the faces look outwards.

    Raises
    ------
    CannotCompute
        If the surface has a border, so that it encloses nothing.

    References
    ----------
    .. [1] Divergence theorem with the field x/3: V = 1/6 sum over faces of a . (b x c).
    """
    n_border = len(find_border_edges(surface))
    if n_border:
        raise CannotCompute(
            f"the surface is open ({n_border} border edges), so it has no volume",
            hint="use a closed model, or state the volume",
            details={"n_border_edges": n_border},
        )
    corners = surface.vertices_mm - surface.vertices_mm.mean(axis=0)
    a, b, c = (corners[surface.faces[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)
