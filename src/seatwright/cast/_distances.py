"""Distances on repeat scans of a reference body: how true and how precise they come out (ISO 12836)."""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.quantities import FloatArray, Measured

__all__ = ["DistanceAccuracy", "assess_distances"]


@dataclass(frozen=True, slots=True, eq=False)
class DistanceAccuracy:
    """Trueness and precision of distances measured on repeat scans of a reference body (terms of ISO 12836:2015).

    Attributes
    ----------
    trueness_um : ndarray of shape (n_pairs,)
        Mean measured distance minus the reference value.
    u_trueness_um : ndarray of shape (n_pairs,)
        Of the mean and of the reference value together.
    precision_um : ndarray of shape (n_pairs,)
        Standard deviation over the repeats.
    pooled_precision_um : Measured
        Over all pairs, with its degrees of freedom.
    worst_trueness_um : float
        Largest trueness in size, with its sign.
    """

    trueness_um: FloatArray
    u_trueness_um: FloatArray
    precision_um: FloatArray
    pooled_precision_um: Measured
    worst_trueness_um: float


def assess_distances(
    measured_mm: FloatArray, reference_mm: FloatArray, *, u_reference_mm: FloatArray | float = 0.0
) -> DistanceAccuracy:
    """Compare distances from repeat scans with the known ones of a reference body.

    Parameters
    ----------
    measured_mm : ndarray of shape (n_scans, n_pairs)
        At least two scans; distances need no alignment.
    reference_mm : ndarray of shape (n_pairs,)
    u_reference_mm : float or ndarray of shape (n_pairs,)
        Standard uncertainty of the reference values.

    References
    ----------
    .. [1] ISO 12836:2015, clause 3 (accuracy as trueness and precision, after ISO 5725-1); fixed-mount digitizers only.

    Examples
    --------
    >>> found = assess_distances(np.array([[10.01], [10.03]]), np.array([10.0]))
    >>> round(float(found.trueness_um[0]), 1), round(float(found.precision_um[0]), 1)
    (20.0, 14.1)
    """
    measured = np.asarray(measured_mm, dtype=float)
    reference = np.asarray(reference_mm, dtype=float)
    if measured.ndim != 2 or measured.shape[0] < 2 or measured.shape[1:] != reference.shape:
        raise ValueOutOfRange("need at least two scans, each with one distance per reference value")
    n = measured.shape[0]
    s = measured.std(axis=0, ddof=1) * 1e3
    trueness = (measured.mean(axis=0) - reference) * 1e3
    dof = (n - 1) * reference.size
    pooled = math.sqrt(float((s**2).mean()))
    return DistanceAccuracy(
        trueness_um=trueness,
        u_trueness_um=np.sqrt(s**2 / n + (np.asarray(u_reference_mm) * 1e3) ** 2),
        precision_um=s,
        pooled_precision_um=Measured(pooled, pooled / math.sqrt(2 * dof), "µm", dof),
        worst_trueness_um=float(trueness[np.argmax(np.abs(trueness))]),
    )
