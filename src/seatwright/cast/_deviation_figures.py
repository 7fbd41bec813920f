"""Figures of the signed deviation of a surface: per unit and for the whole, weighted by area.

Owns the statistics. The deviation is told in the common frame of the check, scale and movements left in.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.arch import UnitRegion
from seatwright.cast._deviation import Deviation
from seatwright.mesh import Surface, measure_face_areas_mm2
from seatwright.quantities import FloatArray

__all__ = ["PERCENTILES", "WHOLE", "DeviationFigures", "summarize_deviation"]

WHOLE = "whole"
PERCENTILES = (5.0, 50.0, 95.0, 99.0)  # judgement: middle, both tails, and the far one


@dataclass(frozen=True, slots=True)
class DeviationFigures:
    """Signed deviation over one part of the reference, in µm; positive where the poured surface stands out.

    Attributes
    ----------
    part : str
        Tooth of the unit, or ``whole``.
    area_mm2 : float
        Area of the part on the reference.
    refused_share : float
        Share (0 to 1) of that area without a defined deviation; the figures rest on the other area.
    mean_um : float or None
        Area-weighted mean: the trueness of this surface in the terms of ISO 12836. None, as all that follow, when all
        of the area is refused.
    sd_um : float or None
        Area-weighted standard deviation about that mean: how uneven the deviation is. Precision in the terms of ISO
        12836 is the spread of repeat scans, which one comparison does not show.
    rms_um : float or None
        Root of the area-weighted mean square: mean and unevenness together.
    percentiles_um : tuple of float
        Area-weighted 5, 50, 95 and 99 percentiles of the signed deviation; empty when all is refused.
    """

    part: str
    area_mm2: float
    refused_share: float
    mean_um: float | None
    sd_um: float | None
    rms_um: float | None
    percentiles_um: tuple[float, ...]


def summarize_deviation(
    reference: Surface, deviation: Deviation, regions: Sequence[UnitRegion]
) -> tuple[DeviationFigures, ...]:
    """Summarize the signed deviation of each unit and, first, of the whole reference.

    Parameters
    ----------
    reference : Surface
        mm.
    deviation : Deviation
        Of its vertices.
    regions : sequence of UnitRegion

    Returns
    -------
    tuple of DeviationFigures

    Notes
    -----
    Each vertex stands for a third of the area of the part's faces around it, so that a surface scanned more finely in
    one place does not count more there. A percentile is the least deviation that at least that share of the area does
    not exceed.

    References
    ----------
    .. [1] ISO 12836:2015, clause 3 (trueness and precision, after ISO 5725-1); it holds for digitizers on a fixed
       mount, hand-held scanners are out of its scope.
    """
    areas = measure_face_areas_mm2(reference)
    everything = np.arange(reference.n_faces)
    parts = [(WHOLE, everything), *((region.tooth, region.face_ids) for region in regions)]
    return tuple(_figures(name, reference, deviation, (faces, areas[faces])) for name, faces in parts)


def _figures(
    name: str, reference: Surface, deviation: Deviation, part: tuple[NDArray[np.int64], FloatArray]
) -> DeviationFigures:
    faces, areas = part
    corners = reference.faces[faces]
    shares = np.bincount(corners.ravel(), weights=np.repeat(areas / 3, 3), minlength=reference.n_vertices)
    total = float(shares.sum())
    known = deviation.is_defined & (shares > 0)
    weights, values = np.asarray(shares[known], dtype=np.float64), 1e3 * deviation.distance_mm[known]
    kept = float(weights.sum())
    refused = 1 - kept / total if total > 0 else 1.0
    if kept <= 0:
        return DeviationFigures(name, total, 1.0, None, None, None, ())
    mean = float(weights @ values) / kept
    mean_square = float(weights @ values**2) / kept
    sd = float(np.sqrt(weights @ (values - mean) ** 2 / kept))
    return DeviationFigures(name, total, max(refused, 0.0), mean, sd, mean_square**0.5, _percentiles(values, weights))


def _percentiles(values: FloatArray, weights: FloatArray) -> tuple[float, ...]:
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    places = np.searchsorted(reached, np.array(PERCENTILES) / 100 * reached[-1] * (1 - 1e-12))
    return tuple(float(v) for v in values[order][np.minimum(places, len(values) - 1)])
