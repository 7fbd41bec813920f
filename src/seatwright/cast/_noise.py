"""Scan error as the residuals show it, pooled over the units, and the covariance of each unit's pose that follows.

The error of a point is an independent part plus a part that neighbors share over a correlation length. What mimics a
rigid motion leaves no residual, so the model is fitted to what the fit leaves over (restricted likelihood). The
residuals of a few crowns do not tell kernel and length exactly: every model counts with its likelihood, so that doubt
widens the answer.
"""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.cast._correlation import Kernel, carry_error
from seatwright.cast._likelihood import profile_likelihood
from seatwright.cast._misfit import Freedom
from seatwright.cast._unit_cells import UnitCells
from seatwright.quantities import FloatArray

__all__ = [
    "BEND_MM",
    "NoiseModel",
    "NoiseTerm",
    "covariance_of_unit",
    "fit_noise",
]

# judgement: from one facet to one tooth; the smoother the kernel, the more its length decides, the finer the grid
_KERNELS = tuple(
    (kernel, float(length))
    for kernel, n, longest in ((Kernel.EXPONENTIAL, 9, 6.0), (Kernel.MATERN_3_2, 13, 6.0), (Kernel.GAUSSIAN, 20, 5.0))
    for length in np.geomspace(0.4, longest, n)
)
# judgement: correlated over independent variance of a cell's mean: from what no pose notices to no independent part
_RATIOS = np.concatenate([[0.0], np.geomspace(0.01, 1e4, 40)])
# judgement: beforehand any ratio of the two standard deviations is as likely as any other (Gelman 2006, section 7.1)
_BEFOREHAND = np.gradient(np.sqrt(_RATIOS))
BEND_MM = 8.0  # judgement: about a crown's width; what bends within it shows in the residuals
_LEAST_WEIGHT = 1e-4  # judgement: models that much less likely than the best change no digit that is shown
_LEAST_DOF, _MOST_DOF = 8.0, 1000.0  # judgement: fewer would make u meaningless, more is as good as known
_ROUNDING_MM = 0.00005  # judgement: coordinates in files of scanners are rounded to some ten nanometers
# judgement: fits of noiseless crowns with facets of 0.2 to 0.65 mm were off by about this share of the facets' sag
_SAG_SHARE = 0.05
_LEAST_SPARE = 6  # judgement: fewer cells beyond the six parameters say nothing of the noise


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


def fit_noise(cells: tuple[UnitCells, ...]) -> NoiseModel:
    """Fit independent and correlated variance, kernel and length to all units together.

    Notes
    -----
    A fixed grid of kernels, lengths and variance ratios; the scale is profiled out; each point of the grid counts with
    its restricted likelihood, and beforehand kernels and lengths all alike, ratios as flat in the standard deviation of
    the correlated part: flat in its logarithm nearly all would lie where no residual shows it. The grid is finer than
    the likelihood is wide, or one point would have it all and no doubt would be left. Deterministic.

    References
    ----------
    .. [1] Hoeting, Madigan, Raftery, Volinsky, Bayesian model averaging: a tutorial, Statistical Science 14 (1999),
       382-401: the variance of an average over models.
    .. [2] Gelman, Prior distributions for variance parameters in hierarchical models, Bayesian Analysis 1(3), 515-534
       (2006).
    """
    usable = [c for c in cells if len(c.weight) >= 6 + _LEAST_SPARE]
    if not usable:
        together = np.concatenate([c.residual_mm * np.sqrt(c.n_effective) for c in cells])
        return NoiseModel((NoiseTerm(1.0, float(np.mean(together**2)), Kernel.EXPONENTIAL, 1.0, 0.0),))
    # a fine scan averages its independent part away in a cell: the ratios are those of the cells' means
    ratios = _RATIOS / float(np.median(np.concatenate([c.n_effective for c in usable])))
    value, variance = profile_likelihood(usable, _KERNELS, ratios)
    weight = _BEFOREHAND * np.exp(-0.5 * (value - value.min()))
    weight *= weight > _LEAST_WEIGHT * weight.max()
    weight /= weight.sum()
    terms = []
    for k, r in zip(*np.nonzero(weight), strict=True):
        kernel, length = _KERNELS[k]
        independent = float(variance[k, r])
        terms.append(NoiseTerm(float(weight[k, r]), independent, kernel, length, independent * float(ratios[r])))
    return NoiseModel(tuple(terms))


def covariance_of_unit(cells: UnitCells, noise: NoiseModel, repeatability_mm: float) -> tuple[FloatArray, Freedom]:
    """Covariance (6, 6) of a unit's pose (scan error through the fit, repeatability, tessellation), and its freedom.

    The models differ in the variance that they give the pose, in some directions more than in others; a scaled
    chi-square law with the same spread has that many degrees of freedom. In each direction the covariance is that of
    the t law that follows.

    An error that leaves no residual within a crown bends over no less than the way to the next one: the turn's
    repeatability is the shift's over that distance.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.9.4 (standard uncertainty of a t law: sqrt(nu / (nu - 2)) times its scale).
    """
    inverse = np.asarray(np.linalg.inv(cells.hessian), dtype=np.float64)
    own = math.hypot(repeatability_mm, _SAG_SHARE * cells.sag_mm, _ROUNDING_MM)
    turn = own / max(cells.spread_mm, BEND_MM)
    declared = np.diag([own**2] * 3 + [turn**2] * 3)
    point = inverse @ cells.meat @ inverse.T
    independent = float(sum(t.probability * t.independent_mm2 for t in noise.terms))
    parts: dict[tuple[Kernel, float], float] = {}
    for term in noise.terms:
        key = (term.kernel, term.length_mm)
        parts[key] = parts.get(key, 0.0) + term.probability * term.correlated_mm2
    correlated = [(kernel, length, variance) for (kernel, length), variance in parts.items() if variance > 0]
    mean = independent * point + declared + carry_error(cells.fine, inverse, correlated)
    common, spreads, directions = _spread(cells, noise, inverse, independent=point, known=declared)
    dof = _dof_of(spreads)
    half = np.linalg.cholesky((mean + mean.T) / 2) @ directions
    return np.asarray((half * (dof / (dof - 2))) @ half.T), Freedom(float(_dof_of(common)), float(dof.min()))


def _spread(
    cells: UnitCells, noise: NoiseModel, inverse: FloatArray, *, independent: FloatArray, known: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """How far apart the models are, as variances over the mean: of what six directions share, of each; the directions.

    `independent` is the pose's covariance by independent error of 1 mm². The directions are columns, in coordinates in
    which the mean is the unit matrix (Cholesky's).
    """
    shared = {
        key: carry_error(cells.places, inverse, [(*key, 1.0)])
        for key in {(t.kernel, t.length_mm) for t in noise.terms if t.correlated_mm2 > 0}
    }
    covariances = np.array([t.independent_mm2 * independent + known for t in noise.terms])
    for k, term in enumerate(noise.terms):
        if term.correlated_mm2 > 0:
            covariances[k] += term.correlated_mm2 * shared[term.kernel, term.length_mm]
    chances = np.array([t.probability for t in noise.terms])
    back = np.linalg.inv(np.linalg.cholesky(np.tensordot(chances, covariances, axes=1)))
    off = back @ covariances @ back.T - np.eye(6)
    common = chances @ (np.einsum("kii->k", off) / 6) ** 2
    spreads, directions = np.linalg.eigh(np.tensordot(chances[:, None, None] * off, off, axes=([0, 2], [0, 2])))
    return common, spreads, directions


def _dof_of(spread: FloatArray) -> FloatArray:
    """Degrees of freedom of scaled chi-square laws of mean one whose variances are `spread`."""
    return np.clip(2 / np.maximum(spread, 1e-12), _LEAST_DOF, _MOST_DOF)
