"""Law of propagation of uncertainty, first and second order, with effective degrees of freedom.

Owns JCGM 100, clause 5 and Annex G.4. Refuses to know where the inputs come from.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import scipy

from seatwright.errors import ValueOutOfRange
from seatwright.quantities._laws import Law
from seatwright.quantities._rigid import FloatArray

__all__ = ["Budget", "check_correlation", "combine", "effective_dof", "propagate"]

_SHARE_OF_U = 0.3
"""Step of higher derivatives: small against u, large against rounding."""
Model = Callable[[FloatArray], FloatArray]
"""Vectorized model: array (n_inputs, n) -> array (n,)."""


@dataclass(frozen=True, slots=True)
class Budget:
    """What the law of propagation says.

    Attributes
    ----------
    value : float
        Estimate of the output; second-order corrected when `second_order` was asked.
    u : float
        Combined standard uncertainty.
    dof : float
        Effective degrees of freedom (Welch-Satterthwaite), infinite when inputs are correlated or all are known.
    sensitivities, contributions : ndarray of shape (n_inputs,)
        Partial derivatives, and |c_i| u_i.
    """

    value: float
    u: float
    dof: float
    sensitivities: FloatArray
    contributions: FloatArray

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Return the coverage interval at `level`: t factor for finite `dof` (truncated, G.4.1), else normal."""
        tail = 0.5 + level / 2
        finite = math.isfinite(self.dof) and self.dof < 1e6
        k = float(scipy.stats.t.ppf(tail, math.floor(self.dof))) if finite else NormalDist().inv_cdf(tail)
        return self.value - k * self.u, self.value + k * self.u


def check_correlation(correlation: FloatArray) -> None:
    """Refuse a matrix that no set of quantities can have as its correlations.

    Raises
    ------
    ValueOutOfRange
        If it is not square and symmetric, its diagonal is not one, or it is not positive semidefinite.
    """
    matrix = np.asarray(correlation, dtype=float)
    if matrix.ndim != 2 or matrix.shape[0] != matrix.shape[1]:
        raise ValueOutOfRange("a correlation matrix must be square")
    if np.abs(matrix - matrix.T).max() > 1e-9 or np.abs(np.diag(matrix) - 1).max() > 1e-9:
        raise ValueOutOfRange("a correlation matrix must be symmetric with ones on its diagonal")
    smallest = float(np.linalg.eigvalsh(matrix)[0])
    if smallest < -1e-9:
        raise ValueOutOfRange(
            f"these correlations contradict each other (smallest eigenvalue {smallest:.3g})",
            hint="no set of quantities can be correlated like this; check the signs",
        )


def effective_dof(contributions: FloatArray, dofs: Sequence[float]) -> float:
    """Welch-Satterthwaite degrees of freedom for independent inputs.

    References
    ----------
    .. [1] JCGM 100:2008, G.4.1, formula (G.2b).

    Examples
    --------
    >>> effective_dof([1.0, 1.0, 1.0, 1.0], [10, 10, 10, 10])
    40.0
    """
    parts = np.asarray(contributions, dtype=float)
    weights = np.array([0.0 if math.isinf(d) else 1.0 / d for d in dofs])
    below = float(np.sum(parts**4 * weights))
    return math.inf if below == 0 else float(np.sum(parts**2)) ** 2 / below


def combine(sensitivities: FloatArray, u: FloatArray, *, correlation: FloatArray | None = None) -> float:
    """First-order combined standard uncertainty (JCGM 100:2008, formulas (10) and (16)).

    Examples
    --------
    >>> combine([1.0, -1.0], [3.0, 4.0])
    5.0
    """
    spread = np.asarray(u, dtype=float)
    if np.any(spread < 0):
        raise ValueOutOfRange("a standard uncertainty cannot be negative")
    parts = np.asarray(sensitivities, dtype=float) * spread
    if correlation is None:
        return float(math.sqrt(np.sum(parts**2)))
    check_correlation(correlation)
    return float(math.sqrt(max(parts @ correlation @ parts, 0.0)))


def propagate(
    model: Model, laws: Sequence[Law], *, correlation: FloatArray | None = None, second_order: bool = False
) -> Budget:
    """Propagate means and standard uncertainties through a model.

    Parameters
    ----------
    model : callable
        Vectorized: array (n_inputs, n) -> array (n,).
    laws : sequence of Law
        What is known of each input.
    correlation : ndarray of shape (n_inputs, n_inputs), optional
        Correlations; refused together with `second_order`, whose formula assumes independence.
    second_order : bool
        Add the terms of the note to 5.1.2 that are even for symmetric laws, and the mean's correction.

    Returns
    -------
    Budget

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 with its note, 5.2.2, G.4.

    Examples
    --------
    >>> from seatwright.quantities import Normal
    >>> round(propagate(lambda x: x[0] * x[1], [Normal(2.0, 0.1), Normal(3.0, 0.1)]).u, 4)
    0.3606
    """
    if second_order and correlation is not None:
        raise ValueOutOfRange("the second-order formula holds for independent inputs only")
    means = np.array([law.mean for law in laws])
    u = np.array([law.u for law in laws])
    steps = np.where(u > 0, u, np.maximum(np.abs(means), 1.0)) * 1e-3
    value = float(model(means[:, None])[0])
    gradient = _gradient(model, means, steps)
    parts = gradient * u
    spread = combine(gradient, u, correlation=correlation)
    if second_order:
        hessian = _hessian(model, means, np.where(u > 0, u * _SHARE_OF_U, steps))
        value += 0.5 * float(np.sum(np.diag(hessian) * u**2))
        spread = math.sqrt(spread**2 + _second_order_variance(model, means, laws, gradient, hessian))
    dof = math.inf if correlation is not None else effective_dof(parts, [law.dof for law in laws])
    return Budget(value, spread, dof, gradient, np.abs(parts))


def _gradient(model: Model, means: FloatArray, steps: FloatArray) -> FloatArray:
    ahead = model(means[:, None] + np.diag(steps))
    behind = model(means[:, None] - np.diag(steps))
    gradient: FloatArray = (ahead - behind) / (2 * steps)
    return gradient


def _hessian(model: Model, means: FloatArray, steps: FloatArray) -> FloatArray:
    n = means.size
    center = float(model(means[:, None])[0])
    hessian = np.zeros((n, n))
    for i in range(n):
        for j in range(i, n):
            a, b = np.zeros(n), np.zeros(n)
            a[i], b[j] = steps[i], steps[j]
            if i == j:
                f = model(np.column_stack([means + a, means - a]))
                hessian[i, i] = (f[0] - 2 * center + f[1]) / steps[i] ** 2
                continue
            f = model(np.column_stack([means + a + b, means + a - b, means - a + b, means - a - b]))
            hessian[i, j] = hessian[j, i] = (f[0] - f[1] - f[2] + f[3]) / (4 * steps[i] * steps[j])
    return hessian


def _second_order_variance(
    model: Model, means: FloatArray, laws: Sequence[Law], gradient: FloatArray, hessian: FloatArray
) -> float:
    u = np.array([law.u for law in laws])
    squares = 0.5 * float(np.sum(hessian**2 * np.outer(u**2, u**2)))
    third = 0.0
    for i, law in enumerate(laws):
        for j, other in enumerate(laws):
            if law.u == 0 or other.u == 0:
                continue
            third += gradient[i] * _third(model, means, (i, j), u) * law.u**2 * other.u**2
    return squares + third


def _third(model: Model, means: FloatArray, pair: tuple[int, int], u: FloatArray) -> float:
    i, j = pair
    hi, hj = u[i] * _SHARE_OF_U, u[j] * _SHARE_OF_U
    a, b = np.zeros(means.size), np.zeros(means.size)
    a[i], b[j] = hi, hj
    if i == j:
        f = model(np.column_stack([means + 2 * a, means + a, means - a, means - 2 * a]))
        return float((f[0] - 2 * f[1] + 2 * f[2] - f[3]) / (2 * hi**3))
    f = model(np.column_stack([means + a + b, means + a, means + a - b, means - a + b, means - a, means - a - b]))
    return float(((f[0] - 2 * f[1] + f[2]) - (f[3] - 2 * f[4] + f[5])) / (2 * hi * hj**2))
