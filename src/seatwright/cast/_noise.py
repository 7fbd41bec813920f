"""Scan error as the residuals show it, pooled over the units, and the covariance of each unit's pose that follows.

The error of a point is an independent part plus a part that neighbors share over a correlation length. What mimics a
rigid motion leaves no residual, so the model is fitted to what the fit leaves over (restricted maximum likelihood).
"""

from dataclasses import dataclass

import numpy as np

from seatwright.cast._likelihood import profile_likelihood
from seatwright.cast._units import UnitFits
from seatwright.quantities import FloatArray

__all__ = ["NoiseModel", "UnitCells", "covariance_of_unit", "fit_noise", "gather_cells", "matern"]

_CELLS_A_UNIT = 56  # judgement: enough for six parameters and three of the noise, and several facets wide
_LENGTHS_MM = (0.4, 0.7, 1.1, 1.7, 2.6, 4.0, 6.0)  # judgement: from one facet to one tooth
_RATIOS = np.concatenate([[0.0], np.geomspace(1e-3, 30.0, 24)])  # judgement: correlated over independent variance
_TESSELLATION_MM = 0.0004  # judgement: two noiseless tessellations of one generated arch differed by 0.1 to 0.8 µm
_LEAST_SPARE = 6  # judgement: fewer cells beyond the six parameters say nothing of the noise


@dataclass(frozen=True, slots=True, eq=False)
class UnitCells:
    """Residuals of one unit, gathered in small cells of the surface."""

    centers_mm: FloatArray
    """(c, 3)."""
    rows: FloatArray
    """(c, 6): sums of weight times row."""
    residual_mm: FloatArray
    """(c,): weighted mean residual."""
    weight: FloatArray
    """(c,): sum of weights."""
    n_effective: FloatArray
    """(c,): effective number of points."""
    meat: FloatArray
    """(6, 6): sum of squared weight times row' row over the points."""
    hessian: FloatArray
    """(6, 6): how fast the weighted residuals answer to a motion: sum of weight times row' row, times the mean slope of
    the robust influence over the mean weight (for a cut at 4.685 sigma about 0.83)."""
    spread_mm: float
    """Root mean square distance of the points from their middle: lever of a turn."""


@dataclass(frozen=True, slots=True)
class NoiseModel:
    """Scan error in millimetres: independent sigma of one point, correlated sigma, correlation length."""

    independent_mm: float
    correlated_mm: float
    length_mm: float


def matern(distance_mm: FloatArray, length_mm: float) -> FloatArray:
    """Matern correlation of order 3/2.

    References
    ----------
    .. [1] Rasmussen, Williams, Gaussian Processes for Machine Learning (2006), equation (4.17).
    """
    scaled = np.sqrt(3.0) * distance_mm / length_mm
    return np.asarray((1 + scaled) * np.exp(-scaled))


def gather_cells(fits: UnitFits, number: int, area_mm2: float) -> UnitCells:
    """Gather the matched points of one unit, both ways, in about 56 cells."""
    parts: list[tuple[FloatArray, FloatArray, FloatArray, FloatArray]] = []
    sets = [(fits.fit.forward, fits.fit.forward_weights, fits.points)]
    if fits.fit.backward is not None:
        sets.append((fits.fit.backward, fits.fit.backward_weights, fits.returning))
    for equations, weights, body in sets:
        mine = (body.body == number) & (weights > 0)
        parts.append((body.points[mine], equations.rows[mine], equations.residual_mm[mine], weights[mine]))
    points, rows, residual, weights = (np.concatenate(part) for part in zip(*parts, strict=True))
    size = np.sqrt(area_mm2 / _CELLS_A_UNIT)
    keys = np.floor((points - points.min(axis=0)) / size).astype(np.int64)
    _, cell, counts = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    cell = cell.ravel()

    def add(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(cell, weights=values, minlength=len(counts)), dtype=np.float64)

    weight = add(weights)
    middle = points.mean(axis=0)
    return UnitCells(
        centers_mm=np.column_stack([add(weights * points[:, k]) for k in range(3)]) / weight[:, None],
        rows=np.column_stack([add(weights * rows[:, k]) for k in range(6)]),
        residual_mm=add(weights * residual) / weight,
        weight=weight,
        n_effective=weight**2 / add(weights**2),
        meat=np.einsum("i,ia,ib->ab", weights**2, rows, rows),
        hessian=np.einsum("i,ia,ib->ab", weights, rows, rows) * _slope(residual, weights, fits.fit.cut_mm),
        spread_mm=float(np.sqrt(((points - middle) ** 2).sum(axis=1).mean())),
    )


def _slope(residual: FloatArray, weights: FloatArray, cut_mm: float) -> float:
    """Mean derivative of Tukey's influence over the mean weight; the weights alone would promise too small a u.

    References
    ----------
    .. [1] Huber, Ronchetti, Robust Statistics, 2nd ed. (2009), section 7.6: the bread is built from psi', not psi/r.
    """
    squared = (residual / cut_mm) ** 2
    slope = float(((1 - squared) * (1 - 5 * squared)).sum() / weights.sum())
    # judgement: below a third the residuals are no core with a few outliers any more
    return max(slope, 1 / 3)


def fit_noise(cells: tuple[UnitCells, ...]) -> NoiseModel:
    """Fit independent and correlated variance and the correlation length to all units together.

    Notes
    -----
    Searched on a fixed grid of lengths and variance ratios; the scale is profiled out. Deterministic.
    """
    usable = [c for c in cells if len(c.weight) >= 6 + _LEAST_SPARE]
    if not usable:
        together = np.concatenate([c.residual_mm * np.sqrt(c.n_effective) for c in cells])
        return NoiseModel(float(np.sqrt(np.mean(together**2))), 0.0, _LENGTHS_MM[0])
    value, variance = profile_likelihood(_pad(usable), np.array(_LENGTHS_MM), _RATIOS)
    at, ratio = np.unravel_index(int(np.argmin(value)), value.shape)
    independent = float(np.sqrt(variance[at, ratio]))
    return NoiseModel(independent, independent * float(np.sqrt(_RATIOS[ratio])), _LENGTHS_MM[int(at)])


def covariance_of_unit(cells: UnitCells, noise: NoiseModel, repeatability_mm: float) -> FloatArray:
    """Covariance (6, 6) of a unit's pose: scan error through the fit, the declared repeatability, and tessellation.

    Turn repeatability is the shift's over the unit's root mean square radius.
    """
    correlated = noise.correlated_mm**2 * matern(_distances(cells.centers_mm), noise.length_mm)
    meat = noise.independent_mm**2 * cells.meat + cells.rows.T @ correlated @ cells.rows
    inverse = np.linalg.inv(cells.hessian)
    own = float(np.hypot(repeatability_mm, _TESSELLATION_MM))
    turn = own / max(cells.spread_mm, 1e-9)
    declared = np.diag([own**2] * 3 + [turn**2] * 3)
    covariance = inverse @ meat @ inverse.T + declared
    return np.asarray((covariance + covariance.T) / 2)


def _distances(points: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.norm(points[:, None] - points[None], axis=2))


def _pad(usable: list[UnitCells]) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Stack centers, mean rows, residuals and effective sizes of all units, padded with zeros."""
    n, most = len(usable), max(len(c.weight) for c in usable)
    centers, designs = np.zeros((n, most, 3)), np.zeros((n, most, 6))
    residuals, sizes = np.zeros((n, most)), np.zeros((n, most))
    for k, cells in enumerate(usable):
        c = len(cells.weight)
        centers[k, :c], residuals[k, :c], sizes[k, :c] = cells.centers_mm, cells.residual_mm, cells.n_effective
        designs[k, :c] = cells.rows / cells.weight[:, None]
    return centers, designs, residuals, sizes
