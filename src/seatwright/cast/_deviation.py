"""Signed deviation of the poured surface from the reference, for pictures."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.mesh import Surface, index_surface, measure_signed_distance
from seatwright.quantities import FloatArray, Transform, apply_transform, invert_transform

__all__ = ["Deviation", "measure_deviation"]

_REACH_MM = 1.0  # judgement: beyond this a picture shows a missing or another surface, not a deviation


@dataclass(frozen=True, slots=True, eq=False)
class Deviation:
    """Signed distance of each vertex of the reference to the poured surface.

    Attributes
    ----------
    distance_mm : ndarray of shape (n,)
        Positive where the poured surface stands out beyond the reference; 0 where not defined.
    is_defined : ndarray of shape (n,), bool
        False where the poured surface is farther than `reach_mm` or ends.
    reach_mm : float
    """

    distance_mm: FloatArray
    is_defined: NDArray[np.bool_]
    reach_mm: float


def measure_deviation(reference: Surface, poured: Surface, T_reference_poured: Transform) -> Deviation:
    """Measure the signed distance from each vertex of the reference to the poured surface.

    Parameters
    ----------
    reference, poured : Surface
        mm, each in its own frame.
    T_reference_poured : ndarray of shape (4, 4)
        As found by `check_cast`.
    """
    points = apply_transform(invert_transform(T_reference_poured), reference.vertices_mm)
    signed, is_defined = measure_signed_distance(index_surface(poured), points, limit_mm=_REACH_MM)
    # a reference point inside the poured body means that the poured surface stands out there
    return Deviation(np.where(is_defined, -signed, 0.0), is_defined, _REACH_MM)
