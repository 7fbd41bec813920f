"""Shapley effects: what each group of inputs contributes to a variance, also when groups are correlated.

Owns the closed form of linear models and a sampled estimate for any model. The effects are never negative and add up to
the variance; for independent groups each lies between the first-order and the total index.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities._rigid import FloatArray

__all__ = ["ShapleyEffects", "estimate_shapley", "shapley_of_linear"]

_MAX_GROUPS = 16
"""Of the closed form, which visits every subset."""


@dataclass(frozen=True, slots=True)
class ShapleyEffects:
    """Shares of the variance, shape (n_groups,) each.

    Attributes
    ----------
    effect, u_effect : ndarray
        Share and its standard error; the shares add up to one.
    variance : float
        Of the model's output.
    """

    effect: FloatArray
    u_effect: FloatArray
    variance: float


def shapley_of_linear(coefficients: FloatArray, cov: FloatArray, groups: Sequence[Sequence[int]]) -> FloatArray:
    """Return the Shapley effects of Y = coefficients . X, X jointly normal, as parts of Var(Y).

    Parameters
    ----------
    coefficients : ndarray of shape (n,)
    cov : ndarray of shape (n, n)
    groups : sequence of sequences of int
        A partition of the inputs, at most 16 groups.

    Returns
    -------
    ndarray of shape (n_groups,)
        Parts of the variance, in its unit; they add up to it.

    References
    ----------
    .. [1] Owen AB, Prieur C. SIAM/ASA J Uncertain Quantif 2017;5:986-1002, section 4 (normal linear model).

    Examples
    --------
    >>> import numpy as np
    >>> shapley_of_linear(np.ones(2), np.array([[1.0, 0.5], [0.5, 1.0]]), [[0], [1]])
    array([1.5, 1.5])
    """
    if len(groups) > _MAX_GROUPS:
        raise ValueOutOfRange(f"the closed form takes at most {_MAX_GROUPS} groups, got {len(groups)}")
    reach = np.asarray(cov, dtype=float) @ np.asarray(coefficients, dtype=float)
    n = len(groups)
    explained: dict[frozenset[int], float] = {frozenset(): 0.0}
    for size in range(1, n + 1):
        for subset in combinations(range(n), size):
            inputs = [i for g in subset for i in groups[g]]
            known = reach[inputs]
            explained[frozenset(subset)] = float(known @ np.linalg.pinv(cov[np.ix_(inputs, inputs)]) @ known)
    parts = np.zeros(n)
    for known_groups, value in explained.items():
        for g in set(range(n)) - known_groups:
            size = len(known_groups)
            weight = math.factorial(size) * math.factorial(n - size - 1) / math.factorial(n)
            parts[g] += weight * (explained[known_groups | {g}] - value)
    return parts


def estimate_shapley(
    model: Callable[[FloatArray], FloatArray],
    samples: tuple[FloatArray, FloatArray],
    groups: Sequence[Sequence[int]],
    rng: np.random.Generator,
    *,
    joint: tuple[Sequence[int], FloatArray] | None = None,
    n_orders: int = 48,
) -> ShapleyEffects:
    """Estimate Shapley effects by walking from one sample to another, one group after the other, in random orders.

    Parameters
    ----------
    model : callable
        (n, n_inputs) -> (n,).
    samples : tuple of two ndarrays of shape (n, n_inputs)
        Two independent samples of the inputs' joint law.
    groups : sequence of sequences of int
        A partition of the inputs.
    rng : numpy.random.Generator
        Draws the orders.
    joint : tuple of (indices, cov), optional
        Inputs that are correlated, shape (k,), and their covariance (k, k); they must be jointly normal. None: all
        inputs are independent.
    n_orders : int
        Orders tried, each also backwards; even, at least 4. The sample is divided among them.

    Raises
    ------
    CannotCompute
        If the output does not vary.

    Notes
    -----
    Costs (n_groups + 1) n evaluations. What is not known yet is drawn from its law given what is known: for normal
    inputs a second sample is shifted by the regression on the difference, which keeps its law.

    References
    ----------
    .. [1] Goda T. Reliab Eng Syst Saf 2021;213:107724 (walk between two samples; independent inputs).
    .. [2] Song E, Nelson BL, Staum J. SIAM/ASA J Uncertain Quantif 2016;4:1060-1083 (dependent inputs).

    Examples
    --------
    >>> import numpy as np
    >>> rng = np.random.default_rng(1)
    >>> a, b = rng.standard_normal((2, 20000, 2))
    >>> found = estimate_shapley(lambda x: 2 * x[:, 0] + x[:, 1], (a, b), [[0], [1]], rng)
    >>> np.round(found.effect, 1)
    array([0.8, 0.2])
    """
    sample, other = samples
    n, n_groups = sample.shape[0], len(groups)
    if sample.shape != other.shape or n_orders < 4 or n < 2 * n_orders:
        raise ValueOutOfRange("need two samples of one shape, four orders and two rows per order at least")
    drawn = [tuple(int(g) for g in rng.permutation(n_groups)) for _ in range(n_orders // 2)]
    # Each order and its reverse: together they split every interaction of two groups evenly.
    orders = [order for one in drawn for order in (one, one[::-1])]
    walk = _Walk(sample, other, groups, joint)
    blocks = np.array_split(np.arange(n), len(orders))
    at_sample, before = model(sample), model(other)
    parts = np.zeros((len(orders), n_groups))
    for step in range(n_groups):
        last = step + 1 == n_groups
        after = at_sample if last else model(walk.mix([order[: step + 1] for order in orders], blocks))
        gained = (at_sample - (before + after) / 2) * (after - before)
        for k, block in enumerate(blocks):
            parts[k, orders[k][step]] = gained[block].mean()
        before = after
    variance = float(parts.sum(axis=1).mean())
    if variance <= 0:
        raise CannotCompute("the output does not vary, so nothing can be ranked")
    shares = parts.reshape(-1, 2, n_groups).mean(axis=1) / variance
    effect = shares.mean(axis=0)
    # The variance comes from the same walks, so the share's error is that of a ratio.
    apart = shares - effect * shares.sum(axis=1, keepdims=True)
    return ShapleyEffects(effect, apart.std(axis=0, ddof=1) / math.sqrt(len(drawn)), variance)


class _Walk:
    """Rows in which some groups are known from one sample and the rest is drawn from its law given them."""

    def __init__(
        self,
        sample: FloatArray,
        other: FloatArray,
        groups: Sequence[Sequence[int]],
        joint: tuple[Sequence[int], FloatArray] | None,
    ) -> None:
        self._sample, self._other, self._groups = sample, other, groups
        self._indices = np.asarray([] if joint is None else joint[0], dtype=int)
        self._cov = np.zeros((0, 0)) if joint is None else np.asarray(joint[1], dtype=float)
        self._reach: dict[tuple[int, ...], FloatArray] = {}

    def mix(self, known_groups: Sequence[Sequence[int]], blocks: Sequence[NDArray[np.intp]]) -> FloatArray:
        mixed: FloatArray = self._other.copy()
        for groups, block in zip(known_groups, blocks, strict=True):
            known = np.concatenate([np.asarray(self._groups[g], dtype=int) for g in groups])
            inside = np.flatnonzero(np.isin(self._indices, known))
            if inside.size:
                seen = self._indices[inside]
                apart = self._sample[np.ix_(block, seen)] - self._other[np.ix_(block, seen)]
                mixed[np.ix_(block, self._indices)] += apart @ self._regression(inside).T
            mixed[np.ix_(block, known)] = self._sample[np.ix_(block, known)]
        return mixed

    def _regression(self, inside: NDArray[np.intp]) -> FloatArray:
        key = tuple(int(i) for i in inside)
        if key not in self._reach:
            given = np.linalg.pinv(self._cov[np.ix_(inside, inside)], hermitian=True)
            self._reach[key] = self._cov[:, inside] @ given
        return self._reach[key]
