"""Variance-based sensitivity of a model to independent groups of inputs.

Owns the estimators. They assume that the groups are independent of each other; inputs that are correlated go into one
group, or are factored into independent causes first.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities._rigid import FloatArray

__all__ = ["SobolIndices", "estimate_sobol"]


@dataclass(frozen=True, slots=True)
class SobolIndices:
    """Indices per group, shape (n_groups,) each, with their standard errors.

    Attributes
    ----------
    first : ndarray
        Share of the variance that knowing the group alone would remove.
    total : ndarray
        Share that stays when everything but the group is known.
    u_first, u_total : ndarray
    variance : float
        Of the model's output.
    """

    first: FloatArray
    total: FloatArray
    u_first: FloatArray
    u_total: FloatArray
    variance: float


def estimate_sobol(
    model: Callable[[FloatArray], FloatArray],
    sample: FloatArray,
    other: FloatArray,
    groups: Sequence[Sequence[int]],
) -> SobolIndices:
    """Estimate first-order and total indices by exchanging one group's columns between two samples.

    Parameters
    ----------
    model : callable
        (n, n_inputs) -> (n,).
    sample, other : ndarray of shape (n, n_inputs)
        Two independent samples of the inputs.
    groups : sequence of sequences of int
        Columns of each group; groups must be independent.

    Raises
    ------
    CannotCompute
        If the output does not vary.

    References
    ----------
    .. [1] Saltelli A et al. Comput Phys Commun 2010;181:259-270, table 2: (b) first order, (f) total (Jansen).

    Examples
    --------
    >>> import numpy as np
    >>> rng = np.random.default_rng(1)
    >>> a, b = rng.standard_normal((2, 20000, 2))
    >>> found = estimate_sobol(lambda x: 2 * x[:, 0] + x[:, 1], a, b, [[0], [1]])
    >>> np.round(found.total, 1)
    array([0.8, 0.2])
    """
    if sample.shape != other.shape or sample.shape[0] < 2:
        raise ValueOutOfRange("the two samples must have the same shape and at least two rows")
    at_a, at_b = model(sample), model(other)
    variance = float(np.concatenate([at_a, at_b]).var())
    if variance <= 0:
        raise CannotCompute("the output does not vary, so nothing can be ranked")
    centered = at_b - np.concatenate([at_a, at_b]).mean()
    n = sample.shape[0]
    rows = []
    for group in groups:
        mixed = sample.copy()
        mixed[:, group] = other[:, group]
        at_mixed = model(mixed)
        first = centered * (at_mixed - at_a) / variance
        total = (at_a - at_mixed) ** 2 / (2 * variance)
        rows.append((first.mean(), total.mean(), first.std() / n**0.5, total.std() / n**0.5))
    table = np.array(rows)
    return SobolIndices(table[:, 0], table[:, 1], table[:, 2], table[:, 3], variance)
