"""Scan error as the residuals show it, pooled over the units, and the covariance of each unit's pose that follows.

The error of a point is an independent part plus a part that neighbors share over a correlation length. What mimics a
rigid motion leaves no residual, so the model is fitted to what the fit leaves over (restricted likelihood). The
residuals of a few crowns do not tell kernel and length exactly: every model counts with its likelihood, so that doubt
widens the answer.
"""

from dataclasses import dataclass

import numpy as np

from seatwright.cast._likelihood import Kernel, correlation, profile_likelihood
from seatwright.cast._units import UnitFits
from seatwright.quantities import FloatArray

__all__ = ["BEND_MM", "NoiseModel", "NoiseTerm", "UnitCells", "covariance_of_unit", "fit_noise", "gather_cells"]

_CELLS_A_UNIT = 56  # judgement: enough for six parameters and three of the noise, and several facets wide
# judgement: from one facet to one tooth; the smoother the kernel, the more its length decides, the finer the grid
_KERNELS = tuple(
    (kernel, float(length))
    for kernel, n, longest in ((Kernel.EXPONENTIAL, 7, 6.0), (Kernel.MATERN_3_2, 9, 6.0), (Kernel.GAUSSIAN, 13, 5.0))
    for length in np.geomspace(0.4, longest, n)
)
_RATIOS = np.concatenate([[0.0], np.geomspace(2e-3, 100.0, 14)])  # judgement: correlated over independent variance
BEND_MM = 8.0  # judgement: about a crown's width; what bends within it shows in the residuals
_LEAST_WEIGHT = 1e-4  # judgement: models that much less likely than the best change no digit that is shown
_LEAST_DOF, _MOST_DOF = 8.0, 1000.0  # judgement: fewer would make u meaningless, more is as good as known
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
    extent2_mm2: FloatArray
    """(c,): mean squared distance of the cell's points from its center."""
    meat: FloatArray
    """(6, 6): sum of squared weight times row' row over the points."""
    hessian: FloatArray
    """(6, 6): how fast the weighted residuals answer to a motion: sum of weight times row' row, times the mean slope of
    the robust influence over the mean weight (for a cut at 4.685 sigma about 0.83)."""
    spread_mm: float
    """Root mean square distance of the points from their middle: lever of a turn."""


@dataclass(frozen=True, slots=True)
class NoiseTerm:
    """One model of the scan error: its probability, independent variance of a point and correlated variance, mm²."""

    probability: float
    independent_mm2: float
    kernel: Kernel
    length_mm: float
    correlated_mm2: float


@dataclass(frozen=True, slots=True)
class NoiseModel:
    """Scan error as an average over models."""

    terms: tuple[NoiseTerm, ...]

    @property
    def independent_mm(self) -> float:
        """Independent standard deviation of one point."""
        return float(np.sqrt(sum(t.probability * t.independent_mm2 for t in self.terms)))

    @property
    def correlated_mm(self) -> float:
        """Standard deviation of the correlated part."""
        return float(np.sqrt(sum(t.probability * t.correlated_mm2 for t in self.terms)))

    @property
    def length_mm(self) -> float:
        """Mean length, weighted by variance; 0 without a correlated part."""
        parts = [(t.probability * t.correlated_mm2, t.length_mm) for t in self.terms]
        total = sum(v for v, _ in parts)
        return sum(v * length for v, length in parts) / total if total > 0 else 0.0


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
    centers = np.column_stack([add(weights * points[:, k]) for k in range(3)]) / weight[:, None]
    return UnitCells(
        centers_mm=centers,
        rows=np.column_stack([add(weights * rows[:, k]) for k in range(6)]),
        residual_mm=add(weights * residual) / weight,
        weight=weight,
        n_effective=weight**2 / add(weights**2),
        extent2_mm2=add(weights * ((points - centers[cell]) ** 2).sum(axis=1)) / weight,
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
    """Fit independent and correlated variance, kernel and length to all units together.

    Notes
    -----
    A fixed grid of kernels, lengths and variance ratios; the scale is profiled out; each point of the grid counts with
    its restricted likelihood (all alike beforehand). Deterministic.

    References
    ----------
    .. [1] Hoeting, Madigan, Raftery, Volinsky, Bayesian model averaging: a tutorial, Statistical Science 14 (1999),
       382-401: the variance of an average over models.
    """
    usable = [c for c in cells if len(c.weight) >= 6 + _LEAST_SPARE]
    if not usable:
        together = np.concatenate([c.residual_mm * np.sqrt(c.n_effective) for c in cells])
        return NoiseModel((NoiseTerm(1.0, float(np.mean(together**2)), Kernel.EXPONENTIAL, 1.0, 0.0),))
    value, variance = profile_likelihood(_pad(usable), _KERNELS, _RATIOS)
    weight = np.exp(-0.5 * (value - value.min()))
    weight *= weight > _LEAST_WEIGHT
    weight /= weight.sum()
    return NoiseModel(
        tuple(
            NoiseTerm(
                float(weight[k, r]),
                float(variance[k, r]),
                _KERNELS[k][0],
                _KERNELS[k][1],
                float(variance[k, r] * _RATIOS[r]),
            )
            for k, r in zip(*np.nonzero(weight), strict=True)
        )
    )


def covariance_of_unit(cells: UnitCells, noise: NoiseModel, repeatability_mm: float) -> tuple[FloatArray, float]:
    """Covariance (6, 6) of a unit's pose (scan error through the fit, declared repeatability, tessellation), and dof.

    The models differ in the variance that they give the pose; a scaled chi-square law with the same spread has that
    many degrees of freedom. The covariance is that of the t law that follows.

    An error that leaves no residual within a crown bends over no less than the way to the next one: the turn's
    repeatability is the shift's over that distance.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.9.4 (standard uncertainty of a t law: sqrt(nu / (nu - 2)) times its scale).
    """
    squared = _squared_distances(cells)
    inverse = np.linalg.inv(cells.hessian)
    own = float(np.hypot(repeatability_mm, _TESSELLATION_MM))
    turn = own / max(cells.spread_mm, BEND_MM)
    declared = np.diag([own**2] * 3 + [turn**2] * 3)
    point = inverse @ cells.meat @ inverse.T
    shared: dict[tuple[Kernel, float], FloatArray] = {}
    covariances = np.empty((len(noise.terms), 6, 6))
    for k, term in enumerate(noise.terms):
        key = (term.kernel, term.length_mm)
        if key not in shared:
            lever = inverse @ cells.rows.T
            shared[key] = lever @ correlation(np.sqrt(squared), term.length_mm, term.kernel) @ lever.T
        covariances[k] = term.independent_mm2 * point + term.correlated_mm2 * shared[key] + declared
    chances = np.array([term.probability for term in noise.terms])
    mean = np.einsum("k,kij->ij", chances, covariances)
    sizes = np.einsum("ij,kji->k", np.linalg.inv(mean), covariances) / 6
    spread = float(chances @ (sizes - 1) ** 2)
    dof = float(np.clip(2 / max(spread, 1e-12), _LEAST_DOF, _MOST_DOF))
    return np.asarray((mean + mean.T) / 2 * dof / (dof - 2)), dof


def _squared_distances(cells: UnitCells) -> FloatArray:
    """Squared distance between points of two cells, on average, mm²; within one cell too."""
    apart = ((cells.centers_mm[:, None] - cells.centers_mm[None]) ** 2).sum(axis=2)
    return np.asarray(apart + cells.extent2_mm2[:, None] + cells.extent2_mm2[None])


def _pad(usable: list[UnitCells]) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Stack centers, mean rows, residuals, effective sizes and extents of all units, padded with zeros."""
    n, most = len(usable), max(len(c.weight) for c in usable)
    centers, designs = np.zeros((n, most, 3)), np.zeros((n, most, 6))
    residuals, sizes, extents = np.zeros((n, most)), np.zeros((n, most)), np.zeros((n, most))
    for k, cells in enumerate(usable):
        c = len(cells.weight)
        centers[k, :c], residuals[k, :c], sizes[k, :c] = cells.centers_mm, cells.residual_mm, cells.n_effective
        designs[k, :c] = cells.rows / cells.weight[:, None]
        extents[k, :c] = cells.extent2_mm2
    return centers, designs, residuals, sizes, extents
