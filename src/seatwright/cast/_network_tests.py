"""Is a network's reading wrong: global test, redundancy numbers, data snooping, smallest detectable error.

Owns the statistics of one adjusted network, with an uncertainty that is known or estimated from repeats.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, stats

from seatwright.cast._network import Distances, NetworkFit
from seatwright.cast._network_change import ChangeFit, Changes
from seatwright.quantities import FloatArray

__all__ = [
    "ALPHA_READING",
    "POWER",
    "GlobalTest",
    "Snooping",
    "critical_normalized",
    "judge_globally",
    "noncentrality",
    "snoop",
]

ALPHA_READING = 0.001  # common practice: Baarda W. A testing procedure for use in geodetic networks, 1968: 0.1 %
POWER = 0.80  # common practice: Baarda 1968: 80 %
_UNCONTROLLED = 1e-6  # definition: a redundancy number below this is zero
_TWINS = 0.95  # judgement: tests of two distances correlated this closely cannot say which of the two is wrong


@lru_cache(maxsize=256)
def noncentrality(n_axes: int, alpha: float, dof: float = math.inf, power: float = POWER) -> float:
    """Noncentrality at which a test of `n_axes` constraints at level alpha finds a deviation with the given power.

    Chi-square when the variance is known, F when it is estimated with `dof` degrees of freedom.

    Examples
    --------
    >>> round(noncentrality(1, 0.001), 3), round(math.sqrt(noncentrality(1, 0.001)), 3)
    (17.075, 4.132)
    """
    if math.isinf(dof):
        limit = stats.chi2.ppf(1 - alpha, n_axes)
        return float(optimize.brentq(lambda x: stats.ncx2.sf(limit, n_axes, x) - power, 1e-6, 1e3))
    limit = stats.f.ppf(1 - alpha, n_axes, dof)
    top = 100.0
    while stats.ncf.sf(limit, n_axes, dof, top) < power:
        top *= 4.0
    return float(optimize.brentq(lambda x: stats.ncf.sf(limit, n_axes, dof, x) - power, 1e-6, top))


def critical_normalized(dof: float = math.inf, alpha: float = ALPHA_READING) -> float:
    """Two-sided limit of a normalized residual: normal when the variance is known, Student's t when estimated.

    Examples
    --------
    >>> round(critical_normalized(), 2), round(critical_normalized(20), 2)
    (3.29, 3.85)
    """
    law = stats.norm if math.isinf(dof) else stats.t(dof)
    return float(law.ppf(1 - alpha / 2))


@dataclass(frozen=True, slots=True)
class GlobalTest:
    """Whether the distances of one epoch fit each other within their uncertainty.

    Attributes
    ----------
    ratio : float or None
        Variance factor: found over expected; None without redundancy.
    limit : float or None
        Of the ratio, at `alpha`.
    p : float or None
    passes : bool
        True also when there is nothing to test.
    alpha : float
    """

    ratio: float | None
    limit: float | None
    p: float | None
    passes: bool
    alpha: float


def judge_globally(fit: NetworkFit | ChangeFit, *, dof: float = math.inf, alpha: float = 0.05) -> GlobalTest:
    """Test a network's variance factor: chi-square when its uncertainty is known, F when estimated.

    References
    ----------
    .. [1] Koch KR. Parameter Estimation and Hypothesis Testing in Linear Models, 2nd ed. 1999, 4.2.
    """
    ratio = fit.variance_factor
    if ratio is None:
        return GlobalTest(None, None, None, True, alpha)
    r = fit.n_redundant
    if math.isinf(dof):
        limit, p = float(stats.chi2.ppf(1 - alpha, r)) / r, float(stats.chi2.sf(ratio * r, r))
    else:
        limit, p = float(stats.f.ppf(1 - alpha, r, dof)), float(stats.f.sf(ratio, r, dof))
    return GlobalTest(ratio, limit, p, ratio <= limit, alpha)


@dataclass(frozen=True, slots=True, eq=False)
class Snooping:
    """Data snooping on one network.

    Attributes
    ----------
    w : ndarray of shape (m,)
        Normalized residuals; 0 where a distance is not controlled by the others.
    is_controlled : ndarray of shape (m,), bool
    detectable_mm : ndarray of shape (m,)
        Smallest error of a single distance that is found with 80 % power; infinite where not controlled.
    critical : float
        Limit of |w| at `ALPHA_READING`.
    suspects : tuple of int
        Distances that may be wrong: one when it can be located, several when their tests go together, none when all
        pass.
    """

    w: FloatArray
    is_controlled: NDArray[np.bool_]
    detectable_mm: FloatArray
    critical: float
    suspects: tuple[int, ...]

    @property
    def is_located(self) -> bool:
        """Whether exactly one distance is suspected."""
        return len(self.suspects) == 1


def snoop(fit: NetworkFit | ChangeFit, distances: Distances | Changes, *, dof: float = math.inf) -> Snooping:
    """Test each distance of a network against all others.

    Parameters
    ----------
    fit : NetworkFit or ChangeFit
    distances : Distances or Changes
        Those that were adjusted.
    dof : float
        Degrees of freedom of their uncertainty; infinite when it is known.

    Notes
    -----
    Two distances whose tests are fully correlated cannot be told apart; with one redundant distance that holds for all:
    an error is then detected, but not located.

    References
    ----------
    .. [1] Baarda W. A testing procedure for use in geodetic networks. Netherlands Geodetic Commission 1968;2(5).
    """
    is_controlled = fit.redundancy > _UNCONTROLLED
    spread = np.sqrt(np.clip(np.diag(fit.residual_cofactor), 0, None))
    w = np.where(is_controlled, fit.residual_mm / np.where(is_controlled, spread, 1.0), 0.0)
    factor = math.sqrt(noncentrality(1, ALPHA_READING, dof))
    root = np.sqrt(np.where(is_controlled, fit.redundancy, 1.0))
    detectable = np.where(is_controlled, factor * distances.u_mm / root, np.inf)
    critical = critical_normalized(dof)
    suspects: tuple[int, ...] = ()
    top = float(np.abs(w).max(initial=0.0))
    if top > critical:
        worst = int(np.argmax(np.abs(w)))
        safe = np.where(is_controlled, spread, 1.0)
        likeness = np.abs(fit.residual_cofactor[worst]) / (safe * safe[worst])
        suspects = tuple(int(k) for k in np.flatnonzero(is_controlled & (likeness > _TWINS)))
    return Snooping(w, is_controlled, detectable, critical, suspects)
