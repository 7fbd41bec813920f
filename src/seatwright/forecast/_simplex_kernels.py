"""Compiled steps of the dual simplex walk. Knows arrays only; `_simplex` says what they are for."""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from seatwright.quantities import FloatArray

__all__ = ["solve_from_pool"]

_FAST = {"reassoc", "contract", "nsz"}
"""Sums may be reordered so that they run in parallel lanes; infinities and NaN keep their meaning."""


@njit(cache=True, fastmath=_FAST)
def _share_of(row: FloatArray, inverse: FloatArray, share: FloatArray) -> None:
    """Write the entering row as a mixture of the basis rows."""
    share[:] = 0.0
    for k in range(row.size):
        weight = row[k]
        if weight != 0.0:
            for i in range(row.size):
                share[i] += weight * inverse[k, i]


@njit(cache=True, fastmath=_FAST)
def _leaving_row(share: FloatArray, duals: FloatArray) -> int:
    """Return which basis row leaves, -1 when none can: then no placement satisfies the rows."""
    bound = 1e300
    for i in range(share.size):
        if share[i] > 1e-9:
            bound = min(bound, (duals[i] + 1e-13) / share[i])
    leaving = -1
    largest = 0.0
    for i in range(share.size):
        # Among the rows that may leave within rounding, the largest pivot keeps the inverse true (Harris 1973).
        if share[i] > max(1e-9, largest) and duals[i] / share[i] <= bound:
            leaving = i
            largest = share[i]
    return leaving


@njit(cache=True, fastmath=_FAST)
def _exchange(leaving: int, share: FloatArray, inverse: FloatArray, duals: FloatArray) -> None:
    """Put the entering row in the leaving one's place."""
    step = duals[leaving] / share[leaving]
    for i in range(share.size):
        duals[i] = max(duals[i] - step * share[i], 0.0)
    duals[leaving] = step
    divisor = share[leaving]
    share[leaving] -= 1.0
    for k in range(share.size):
        factor = inverse[k, leaving] / divisor
        if factor != 0.0:
            for i in range(share.size):
                inverse[k, i] -= factor * share[i]


@njit(cache=True, fastmath=_FAST)
def _worst_row(rows: FloatArray, limits: FloatArray, z: FloatArray, n_checked: int) -> tuple[int, float]:
    """Return the most violated row at z (-1 for none), and the worst violation at z with its slack set to zero."""
    n = z.size
    worst = 1e-9
    worst_at_zero = 0.0
    entering = -1
    for row in range(n_checked):
        total = -limits[row]
        for k in range(n - 1):
            total += rows[row, k] * z[k]
        worst_at_zero = max(worst_at_zero, total)
        total += rows[row, n - 1] * z[n - 1]
        if total > worst:
            worst = total
            entering = row
    return entering, worst_at_zero


@njit(cache=True, fastmath=_FAST)
def _walk(  # noqa: PLR0917 - a compiled kernel takes plain arrays
    rows: FloatArray,
    limits: FloatArray,
    basis: NDArray[np.int64],
    inverse: FloatArray,
    duals: FloatArray,
    stop_below: float,
    n_checked: int,
) -> float:
    """Walk to the optimum; return the slack, -inf when no placement exists, nan when the walk did not end."""
    n = basis.size
    z, share, tight = np.zeros(n), np.zeros(n), np.zeros(n)
    for _ in range(1000):
        bound = 0.0
        for i in range(n):
            tight[i] = limits[basis[i]]
            bound += duals[i] * tight[i]
        if bound < stop_below:
            return bound
        for k in range(n):
            total = 0.0
            for i in range(n):
                total += inverse[k, i] * tight[i]
            z[k] = total
        entering, worst_at_zero = _worst_row(rows, limits, z, n_checked)
        if entering < 0:
            return float(z[n - 1])
        if stop_below > -1e300 and worst_at_zero < 1e-9:
            return 0.0  # this placement seats already: enough when only the sign is asked
        _share_of(rows[entering], inverse, share)
        leaving = _leaving_row(share, duals)
        if leaving < 0:
            return -np.inf
        _exchange(leaving, share, inverse, duals)
        basis[leaving] = entering
    return np.nan


@njit(cache=True)
def solve_from_pool(  # noqa: PLR0913, PLR0917 - a compiled kernel takes plain arrays
    rows: FloatArray,
    limits: FloatArray,
    start: NDArray[np.int64],
    bases: NDArray[np.int64],
    inverses: FloatArray,
    weights: FloatArray,
    stop_below: float,
    n_checked: int,
    slack: FloatArray,
    last_basis: NDArray[np.int64],
    groups: NDArray[np.int64],
    weights_of_groups: FloatArray,
) -> None:
    """Solve each trial from its starting basis; fill slack, last basis and the groups' weights."""
    n = rows.shape[1]
    basis = np.zeros(n, dtype=np.int64)
    inverse = np.zeros((n, n))
    duals = np.zeros(n)
    for trial in range(limits.shape[0]):
        which = start[trial]
        basis[:] = bases[which]
        inverse[:, :] = inverses[which]
        duals[:] = weights[which]
        slack[trial] = _walk(rows, limits[trial], basis, inverse, duals, stop_below, n_checked)
        last_basis[trial] = basis
        total = 0.0
        for i in range(n):
            if groups[basis[i]] >= 0:
                total += duals[i]
        if total > 1e-3:
            for i in range(n):
                if groups[basis[i]] >= 0:
                    weights_of_groups[trial, groups[basis[i]]] += duals[i] / total
