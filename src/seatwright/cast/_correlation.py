"""How the error that neighbors share falls with distance, over small cells, and what a fitted pose makes of it.

Compiled functions carry no types: the compiler infers them, and a checker cannot see through it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numba import njit

from seatwright.quantities import FloatArray

__all__ = ["Kernel", "Places", "carry_error", "correlate_cells", "correlation", "mean_correlation", "squared_nodes"]

_TABLE = 1024  # judgement: steps of a hundredth of a millimeter over a crown


class Kernel(IntEnum):
    """How correlation falls with distance: rough, once differentiable, smooth."""

    EXPONENTIAL = 0
    MATERN_3_2 = 1
    GAUSSIAN = 2


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Small cells of a surface: where they lie, how far they reach, and how the fit's equations weigh them."""

    centers_mm: FloatArray
    """(c, 3)."""
    rows: FloatArray
    """(c, 6): sums of weight times row."""
    extent2_mm2: FloatArray
    """(c,): mean squared distance of the cell's points from its center."""


def correlation(distance_mm: FloatArray, length_mm: float, kernel: Kernel) -> FloatArray:
    """Return the correlation at a distance.

    References
    ----------
    .. [1] Rasmussen, Williams, Gaussian Processes for Machine Learning (2006), equations (4.9), (4.17) and (4.18).
    """
    scaled = np.asarray(distance_mm) / length_mm
    if kernel is Kernel.EXPONENTIAL:
        return np.asarray(np.exp(-scaled))
    if kernel is Kernel.MATERN_3_2:
        return np.asarray((1 + np.sqrt(3.0) * scaled) * np.exp(-np.sqrt(3.0) * scaled))
    return np.asarray(np.exp(-scaled * scaled / 2))


def carry_error(places: Places, inverse: FloatArray, parts: Sequence[tuple[Kernel, float, float]]) -> FloatArray:
    """Covariance (6, 6) of a pose from correlated error alone.

    Parameters
    ----------
    places : Places
        Of one unit. Cells must be smaller than a few tenths of the unit, or the turns' answer is too small.
    inverse : ndarray of shape (6, 6)
        Inverse of the fit's normal matrix.
    parts : sequence of (Kernel, length in mm, variance in mm²)
        Independent of each other; they add up.
    """
    centers = places.centers_mm
    longest = float(np.linalg.norm(np.ptp(centers, axis=0))) + 4 * float(np.sqrt(places.extent2_mm2.max()))
    distance = np.linspace(0.0, longest, _TABLE)
    table = np.zeros(_TABLE)
    for kernel, length, variance in parts:
        table += variance * correlation(distance, length, kernel)
    lever = np.ascontiguousarray(places.rows @ inverse.T)
    return np.asarray(_carry(lever, centers, places.extent2_mm2, table, longest / (_TABLE - 1)))


def correlate_cells(places: Places, kernels: Sequence[tuple[Kernel, float]]) -> FloatArray:
    """Correlation of the means of the cells without their independent parts; shape (n_kernels, c, c)."""
    families = np.array([int(kernel) for kernel, _ in kernels], dtype=np.int64)
    lengths = np.array([length for _, length in kernels], dtype=np.float64)
    return np.asarray(_correlate(places.centers_mm, places.extent2_mm2, families, lengths))


@njit(cache=True)
def squared_nodes(squared, extent):  # type: ignore[no-untyped-def]
    """Two squared distances, and the first one's weight, that stand for all pairs of points of two cells.

    `squared` is the squared distance of their centers, `extent` the sum of their mean squared extents. Were the cells
    round normal clouds in a plane, the squared distance of a pair would have this mean and spread; two nodes of a gamma
    law with the same (Gauss-Laguerre) average a kernel over it.

    References
    ----------
    .. [1] Davis, Rabinowitz, Methods of Numerical Integration, 2nd ed. (1984), section 3.6 (Gauss-Laguerre).
    """
    mean = squared + extent
    spread = extent * (2 * squared + extent)
    if spread <= 1e-12 * mean * mean:
        return mean, mean, 1.0
    step = spread / mean
    shape = mean / step
    root = np.sqrt(shape + 1)
    return step * (shape + 1 - root), step * (shape + 1 + root), (root + 1) / (2 * root)


@njit(cache=True)
def falls(family, scaled):  # type: ignore[no-untyped-def]
    """Correlation at a distance in lengths, compiled."""
    if family == 0:
        return np.exp(-scaled)
    if family == 1:
        return (1 + np.sqrt(3.0) * scaled) * np.exp(-np.sqrt(3.0) * scaled)
    return np.exp(-scaled * scaled / 2)


@njit(cache=True)
def mean_correlation(squared, extent, family, length):  # type: ignore[no-untyped-def]
    """Mean correlation of the points of one cell with those of another, each a round normal cloud in a plane.

    In closed form for the smooth kernel, whose nearly singular matrices bear no other; see `squared_nodes`.
    """
    if family == 2:
        wider = length * length + extent / 2
        return np.exp(-squared / (2 * wider)) * length * length / wider
    near, far, weight = squared_nodes(squared, extent)
    return weight * falls(family, np.sqrt(near) / length) + (1 - weight) * falls(family, np.sqrt(far) / length)


@njit(cache=True)
def _correlate(centers, extents, families, lengths):  # type: ignore[no-untyped-def]
    n = centers.shape[0]
    found = np.empty((lengths.shape[0], n, n))
    for i in range(n):
        for j in range(i + 1):
            squared = 0.0
            for k in range(3):
                squared += (centers[i, k] - centers[j, k]) ** 2
            for which in range(lengths.shape[0]):
                shared = mean_correlation(squared, extents[i] + extents[j], families[which], lengths[which])
                found[which, i, j] = found[which, j, i] = shared
    return found


@njit(cache=True)
def _carry(lever, centers, extents, table, step):  # type: ignore[no-untyped-def]
    total = np.zeros((6, 6))
    answer = np.empty(6)
    for i in range(centers.shape[0]):
        answer[:] = 0.0
        for j in range(i + 1):
            squared = 0.0
            for k in range(3):
                squared += (centers[i, k] - centers[j, k]) ** 2
            near, far, weight = squared_nodes(squared, extents[i] + extents[j])
            shared = weight * _look_up(table, np.sqrt(near) / step)
            shared += (1 - weight) * _look_up(table, np.sqrt(far) / step)
            # each pair counts twice, a cell with itself once
            shared *= 0.5 if i == j else 1.0
            for a in range(6):
                answer[a] += shared * lever[j, a]
        for a in range(6):
            for b in range(6):
                total[a, b] += lever[i, a] * answer[b] + answer[a] * lever[i, b]
    return total


@njit(cache=True)
def _look_up(table, place):  # type: ignore[no-untyped-def]
    first = int(place)
    if first >= table.shape[0] - 1:
        return table[-1]
    return table[first] + (place - first) * (table[first + 1] - table[first])
