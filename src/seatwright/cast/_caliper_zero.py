"""Did all distances change alike, whatever their length? Then the caliper's zero changed, not the cast."""

import math
from collections.abc import Sequence

import numpy as np
from scipy import stats

from seatwright.cast._caliper_result import PairReport
from seatwright.quantities import FloatArray, Measured

__all__ = ["find_zero_shift"]

_LEAST_PAIRS = 4  # definition: an offset and a scale leave two distances to contradict them
_LEAST_RATIO = 1.5  # judgement: lengths more alike than this cannot tell an offset from a scale
_ALPHA_REJECT = 0.01  # judgement: what an offset must beat (no change, and a scale) has to fail plainly
_ALPHA_ACCEPT = 0.05  # common practice: level at which the offset itself is held


def find_zero_shift(pairs: Sequence[PairReport], *, dof: float) -> Measured | None:
    """Return the offset that explains the changes of all distances, when no change and a scale both fail to.

    Parameters
    ----------
    pairs : sequence of PairReport
    dof : float
        Degrees of freedom of the changes' uncertainty.

    Notes
    -----
    Three weighted fits of the changes: none, one offset, one scale; each square sum is tested as chi-square, or as F
    when the uncertainty is estimated. Few movements of marks change all distances alike; a zero that was not set does.
    """
    used = [
        (p.change_um, (p.reference_mm + p.cast_mm) / 2)
        for p in pairs
        if p.change_um is not None and p.reference_mm is not None and p.cast_mm is not None and not p.is_set_aside
    ]
    if len(used) < _LEAST_PAIRS:
        return None
    change = np.array([c.value for c, _ in used])
    u = np.array([c.u for c, _ in used])
    length = np.array([mean for _, mean in used])
    if length.max() < _LEAST_RATIO * length.min():
        return None
    n = change.size
    offset, u_offset, off = _fit(change, u, np.ones(n))
    _, _, scaled = _fit(change, u, length)
    none = _p(float(((change / u) ** 2).sum()), n, dof)
    both_fail = none < _ALPHA_REJECT and _p(scaled, n - 1, dof) < _ALPHA_REJECT
    is_offset = both_fail and _p(off, n - 1, dof) > _ALPHA_ACCEPT
    return Measured(offset, u_offset, "µm", dof) if is_offset else None


def _fit(change: FloatArray, u: FloatArray, shape: FloatArray) -> tuple[float, float, float]:
    """Return factor, its standard uncertainty and the weighted square sum left by change = factor * shape."""
    strength = float(((shape / u) ** 2).sum())
    factor = float((change * shape / u**2).sum()) / strength
    return factor, 1 / math.sqrt(strength), float((((change - factor * shape) / u) ** 2).sum())


def _p(square_sum: float, n: int, dof: float) -> float:
    if math.isinf(dof):
        return float(stats.chi2.sf(square_sum, n))
    return float(stats.f.sf(square_sum / n, n, dof))
