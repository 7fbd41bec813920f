"""Repeatability of any repeated reading, in the terms of ISO 5725: pooled within-cell spread and the outlying cell.

Owns the one-way statistics. Knows nothing of scans, calipers or units.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities import FloatArray

__all__ = ["PooledSpread", "cochran_limit", "pool_repeats", "spread_interval"]


@dataclass(frozen=True, slots=True)
class PooledSpread:
    """Repeatability from cells of repeated readings.

    Attributes
    ----------
    s : float
        Repeatability standard deviation, in the readings' unit (ISO 5725-1, 3.15).
    dof : int
        Degrees of freedom: repeats beyond the first of each cell.
    s_between : float
        Standard deviation between cell means beyond what repeatability explains; 0 when it explains all.
    limit : float
        Repeatability limit: two single readings differ by more in 5 % of cases (ISO 5725-6, 4.1.4: 2.8 s_r).
    outlying_cell : int or None
        Cell whose spread is too large by Cochran's test at 5 %.
    cochran : float
        Largest cell variance over the sum of all; 0 when all are 0.
    """

    s: float
    dof: int
    s_between: float
    limit: float
    outlying_cell: int | None
    cochran: float


def pool_repeats(cells: Sequence[Sequence[float] | FloatArray]) -> PooledSpread:
    """Pool the spread within cells of repeated readings.

    Parameters
    ----------
    cells : sequence of sequences of float
        Repeated readings of the same thing, one sequence per thing; sequences of one reading say nothing of the spread.

    Raises
    ------
    CannotCompute
        If nothing was repeated.

    References
    ----------
    .. [1] ISO 5725-2:2019, 7.4.5 (repeatability and between-cell variance), 8.3.3 (Cochran's test).

    Examples
    --------
    >>> pooled = pool_repeats([[1.0, 3.0], [2.0, 2.0], [5.0]])
    >>> pooled.s, pooled.dof
    (1.0, 2)
    """
    repeated = [k for k, cell in enumerate(cells) if len(cell) > 1]
    if not repeated:
        raise CannotCompute("nothing was read twice, so its repeatability is unknown", hint="repeat each reading")
    arrays = [np.asarray(cell, dtype=float) for cell in cells]
    if not all(np.isfinite(a).all() for a in arrays):
        raise ValueOutOfRange("readings must be finite numbers")
    sums = np.array([float(((arrays[k] - arrays[k].mean()) ** 2).sum()) for k in repeated])
    dofs = np.array([len(arrays[k]) - 1 for k in repeated])
    s = math.sqrt(float(sums.sum()) / int(dofs.sum()))
    variances = sums / dofs
    total = float(variances.sum())
    cochran = float(variances.max()) / total if total > 0 else 0.0
    n_typical = 1 + round(float(dofs.mean()))
    is_outlying = len(repeated) > 1 and cochran > cochran_limit(len(repeated), n_typical)
    return PooledSpread(
        s=s,
        dof=int(dofs.sum()),
        s_between=_between(arrays, s),
        limit=float(stats.norm.ppf(0.975)) * math.sqrt(2.0) * s,
        outlying_cell=repeated[int(np.argmax(variances))] if is_outlying else None,
        cochran=cochran,
    )


def _between(arrays: list[FloatArray], s: float) -> float:
    filled = [a for a in arrays if a.size]
    sizes = np.array([a.size for a in filled], dtype=float)
    if len(filled) < 2:
        return 0.0
    means = np.array([float(a.mean()) for a in filled])
    grand = float((sizes * means).sum() / sizes.sum())
    between = float((sizes * (means - grand) ** 2).sum()) / (len(filled) - 1)
    n_mean = (sizes.sum() - (sizes**2).sum() / sizes.sum()) / (len(filled) - 1)
    return math.sqrt(max(0.0, (between - s**2) / n_mean))


def cochran_limit(n_cells: int, n_repeats: int, *, level: float = 0.95) -> float:
    """Critical value of Cochran's test for the largest of several variances.

    References
    ----------
    .. [1] ISO 5725-2:2019, 8.3.3.2; printed there as a table, computed here from the F law with Bonferroni's bound.

    Examples
    --------
    >>> round(cochran_limit(10, 3), 3)
    0.445
    """
    dof = n_repeats - 1
    f = float(stats.f.ppf(1 - (1 - level) / n_cells, dof, (n_cells - 1) * dof))
    return 1 / (1 + (n_cells - 1) / f)


def spread_interval(s: float, dof: float, *, level: float = 0.95) -> tuple[float, float]:
    """Coverage interval of a standard deviation from its estimate, by the chi-square law.

    Examples
    --------
    >>> low, high = spread_interval(1.0, 10)
    >>> round(low, 3), round(high, 3)
    (0.699, 1.755)
    """
    if not dof > 0 or s < 0:
        raise ValueOutOfRange(f"need s >= 0 and positive degrees of freedom, got {s} and {dof}")
    tail = (1 - level) / 2
    return (
        s * math.sqrt(dof / float(stats.chi2.ppf(1 - tail, dof))),
        s * math.sqrt(dof / float(stats.chi2.ppf(tail, dof))),
    )
