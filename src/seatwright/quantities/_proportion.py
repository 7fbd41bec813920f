"""A proportion seen in trials, with its exact interval."""

import math
from dataclasses import dataclass

import scipy

from seatwright.errors import ValueOutOfRange

__all__ = ["Proportion", "count_proportion"]


@dataclass(frozen=True, slots=True)
class Proportion:
    """Share of trials with a property.

    Attributes
    ----------
    value : float
        n_hits / n_trials.
    u : float
        Standard error of `value`.
    low, high : float
        Exact (Clopper-Pearson) two-sided interval.
    n_hits, n_trials : int
    """

    value: float
    u: float
    low: float
    high: float
    n_hits: int
    n_trials: int


def count_proportion(n_hits: int, n_trials: int, *, level: float = 0.95) -> Proportion:
    """Return the share of hits with its standard error and exact interval.

    References
    ----------
    .. [1] Clopper CJ, Pearson ES. Biometrika 1934;26:404-413.

    Examples
    --------
    >>> round(count_proportion(0, 299).high, 4)
    0.0123
    """
    if not 0 <= n_hits <= n_trials or n_trials < 1:
        raise ValueOutOfRange(f"need 0 <= hits <= trials and at least one trial, got {n_hits} of {n_trials}")
    share = n_hits / n_trials
    tail = (1 - level) / 2
    low = float(scipy.stats.beta.ppf(tail, n_hits, n_trials - n_hits + 1)) if n_hits else 0.0
    high = float(scipy.stats.beta.ppf(1 - tail, n_hits + 1, n_trials - n_hits)) if n_hits < n_trials else 1.0
    return Proportion(share, math.sqrt(share * (1 - share) / n_trials), low, high, n_hits, n_trials)
