"""Propagation of distributions by Monte Carlo, adaptive, and its comparison with the law of propagation.

Owns JCGM 101, clauses 7 and 8. Refuses to know what is propagated.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.quantities._propagation import Budget
from seatwright.quantities._rigid import FloatArray

__all__ = [
    "Comparison",
    "Distribution",
    "compare_with_budget",
    "propagate_distributions",
    "propagate_jointly",
    "summarize_draws",
]

_BLOCK = 10_000  # JCGM 101:2008, 7.9.4 b: block size for 95 %
_AT_ONCE = 5
"""Blocks drawn at a time when several outputs are propagated together."""


@dataclass(frozen=True, slots=True)
class Distribution:
    """Summary of an output's distribution from draws.

    Attributes
    ----------
    mean, u : float
        Average and standard deviation of the draws.
    low, high : float
        Probabilistically symmetric coverage interval.
    shortest_low, shortest_high : float
        Shortest coverage interval.
    level : float
    n_trials : int
    converged : bool
        False when the trial limit was reached before the numbers were stable.
    """

    mean: float
    u: float
    low: float
    high: float
    shortest_low: float
    shortest_high: float
    level: float
    n_trials: int
    converged: bool = True


@dataclass(frozen=True, slots=True)
class Comparison:
    """Verdict of JCGM 101, clause 8, on whether the law of propagation may be used.

    Attributes
    ----------
    agrees : bool
        Both end points agree within `tolerance`.
    d_low, d_high : float
        Absolute differences of the end points.
    tolerance : float
        Half of the last of the two significant digits of u.
    """

    agrees: bool
    d_low: float
    d_high: float
    tolerance: float


def summarize_draws(draws: FloatArray, *, level: float = 0.95, converged: bool = True) -> Distribution:
    """Return mean, spread and both coverage intervals of draws, shape (n,), n >= 100.

    References
    ----------
    .. [1] JCGM 101:2008, 7.6 and 7.7 (interval from the ordered values; the shortest by search).

    Examples
    --------
    >>> import numpy as np
    >>> summarize_draws(np.arange(1001.0)).mean
    500.0
    """
    if draws.size < 100 or not 0 < level < 1:
        raise ValueOutOfRange(f"need at least 100 draws and 0 < level < 1, got {draws.size} and {level}")
    ordered = np.sort(draws)
    n = ordered.size
    inside = math.floor(level * n + 0.5)
    first = max(math.floor((n - inside) / 2 + 0.5), 1) - 1
    widths = ordered[inside:] - ordered[: n - inside]
    start = int(np.argmin(widths))
    return Distribution(
        float(draws.mean()),
        float(draws.std(ddof=1)),
        float(ordered[first]),
        float(ordered[first + inside]),
        float(ordered[start]),
        float(ordered[start + inside]),
        level,
        n,
        converged,
    )


def propagate_distributions(
    draw_output: Callable[[np.random.Generator, int], FloatArray],
    rng: np.random.Generator,
    *,
    level: float = 0.95,
    n_digits: int = 2,
    max_trials: int = 2_000_000,
) -> Distribution:
    """Propagate distributions adaptively until mean, u and end points are stable to `n_digits` of u.

    Parameters
    ----------
    draw_output : callable
        (rng, n) -> n draws of the output, shape (n,).
    rng : numpy.random.Generator
        Source of randomness; the same state gives the same answer.
    level, n_digits : float, int
        Coverage probability; significant digits of u that must stand.
    max_trials : int
        Give up (``converged`` False) beyond this many.

    References
    ----------
    .. [1] JCGM 101:2008, 7.9.4 (adaptive procedure) and 7.9.2 (numerical tolerance).

    Examples
    --------
    >>> import numpy as np
    >>> out = propagate_distributions(lambda g, n: g.standard_normal(n), np.random.default_rng(1))
    >>> abs(out.u - 1) < 0.05, out.converged
    (True, True)
    """
    block = max(_BLOCK, math.ceil(100 / (1 - level)))
    blocks: list[FloatArray] = []
    stats: list[tuple[float, float, float, float]] = []
    converged = False
    while not converged and len(blocks) * block < max_trials:
        draws = draw_output(rng, block)
        blocks.append(draws)
        part = summarize_draws(draws, level=level)
        stats.append((part.mean, part.u, part.low, part.high))
        if len(blocks) > 1:
            # The pooled spread, from the blocks' own moments: every draw counts.
            means = np.array([s[0] for s in stats])
            pooled = math.sqrt(float(np.mean([s[1] ** 2 for s in stats]) + means.var()))
            tolerance = numerical_tolerance(pooled, n_digits)
            spread = 2 * np.std(np.array(stats), axis=0, ddof=1) / math.sqrt(len(blocks))
            converged = bool(np.all(spread < tolerance))
    return summarize_draws(np.concatenate(blocks), level=level, converged=converged)


def propagate_jointly(
    draw_outputs: Callable[[np.random.Generator, int], FloatArray],
    rng: np.random.Generator,
    *,
    level: float = 0.95,
    n_digits: int = 1,
    max_trials: int = 1_000_000,
) -> tuple[FloatArray, bool]:
    """Draw several outputs together until mean, u and end points of each are stable to `n_digits` of its u.

    Parameters
    ----------
    draw_outputs : callable
        (rng, n) -> draws of shape (n_outputs, n).

    Returns
    -------
    draws : ndarray of shape (n_outputs, n_trials)
    converged : bool

    References
    ----------
    .. [1] JCGM 101:2008, 7.9.4 with its note for several outputs.
    """
    parts: list[FloatArray] = []
    stats: list[FloatArray] = []
    converged = False
    tail = (1 - level) / 2
    while not converged and len(stats) * _BLOCK < max_trials:
        drawn = draw_outputs(rng, _AT_ONCE * _BLOCK)
        parts.append(drawn)
        blocks = drawn.reshape(drawn.shape[0], _AT_ONCE, _BLOCK)
        low, high = np.quantile(blocks, [tail, 1 - tail], axis=2)
        for k in range(_AT_ONCE):
            one = blocks[:, k]
            stats.append(np.array([one.mean(axis=1), one.std(axis=1, ddof=1), low[:, k], high[:, k]]))
        table = np.array(stats)
        tolerance = np.array([numerical_tolerance(float(u), n_digits) for u in table[:, 1].mean(axis=0)])
        spread = 2 * table.std(axis=0, ddof=1) / math.sqrt(len(stats))
        converged = bool(np.all(spread < tolerance))
    return np.concatenate(parts, axis=1), converged


def numerical_tolerance(u: float, n_digits: int) -> float:
    """Return half a unit of the last of `n_digits` significant digits of u (JCGM 101:2008, 7.9.2)."""
    if u <= 0:
        return 0.5 * 10.0**-12
    return float(0.5 * 10.0 ** (math.floor(math.log10(u)) - n_digits + 1))


def compare_with_budget(draws: Distribution, budget: Budget, *, n_digits: int = 2) -> Comparison:
    """Compare coverage intervals of Monte Carlo and of the law of propagation.

    References
    ----------
    .. [1] JCGM 101:2008, 8.1 and 8.2.
    """
    low, high = budget.interval(draws.level)
    d_low, d_high = abs(low - draws.low), abs(high - draws.high)
    tolerance = numerical_tolerance(budget.u, n_digits)
    return Comparison(d_low <= tolerance and d_high <= tolerance, d_low, d_high, tolerance)
