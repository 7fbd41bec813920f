"""Gauge study: several operators, the same parts, repeated readings: what of the scatter is the gauge's, by ANOVA.

Owns the two-way crossed analysis of variance. Knows nothing of what is measured.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities import FloatArray

__all__ = ["GaugeStudy", "VarianceLine", "study_gauge"]

_POOL_ABOVE = 0.25  # common practice: an interaction with p above 0.25 is pooled with the repeat error (AIAG, 4th ed.)
_DISTINCT = 1.41  # definition: root two, as rounded in the formula for distinct categories (AIAG, 4th ed.)


@dataclass(frozen=True, slots=True)
class VarianceLine:
    """One line of the analysis of variance: sum of squares, degrees of freedom, mean square."""

    sum_of_squares: float
    dof: int
    mean_square: float


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """Spread of a gauge split into its causes; all standard deviations are in the readings' unit.

    Attributes
    ----------
    operator, part, interaction, repeat, total : VarianceLine
    f_interaction : float or None
        Test of whether operators read parts differently; None when repeats never differ but operators do.
    p_interaction : float
    is_interaction_kept : bool
        Whether the interaction is a component of its own (p <= 0.25), or pooled with the repeat error.
    s_repeatability : float
        One operator, the same part again ('equipment variation').
    s_reproducibility : float
        Between operators, interaction included where kept ('appraiser variation').
    s_interaction : float
        The part of it that differs from part to part; 0 where pooled.
    s_gauge : float
        Root sum of squares of the two.
    s_part, s_total : float
        Between parts; everything.
    gauge_share : float
        `s_gauge` over `s_total`.
    gauge_to_tolerance : float or None
        6 `s_gauge` over the tolerance's full width, when one is given.
    n_distinct : int
        Categories of parts that the gauge tells apart.
    dof_repeatability : int
    """

    operator: VarianceLine
    part: VarianceLine
    interaction: VarianceLine
    repeat: VarianceLine
    total: VarianceLine
    f_interaction: float | None
    p_interaction: float
    is_interaction_kept: bool
    s_repeatability: float
    s_reproducibility: float
    s_interaction: float
    s_gauge: float
    s_part: float
    s_total: float
    gauge_share: float
    gauge_to_tolerance: float | None
    n_distinct: int
    dof_repeatability: int


def study_gauge(readings: FloatArray, *, tolerance_width: float | None = None) -> GaugeStudy:
    """Split the spread of readings into repeatability, reproducibility and parts.

    Parameters
    ----------
    readings : ndarray of shape (n_parts, n_operators, n_repeats)
        Balanced: every operator read every part equally often, at least twice.
    tolerance_width : float, optional
        Upper minus lower limit, in the readings' unit.

    Returns
    -------
    GaugeStudy

    Raises
    ------
    CannotCompute
        With fewer than two parts, operators or repeats, or when nothing varies at all.

    References
    ----------
    .. [1] Automotive Industry Action Group, Measurement Systems Analysis, 4th ed. 2010, appendix A (variance analysis).
    .. [2] ISO 5725-1:1994, 3.14 and 3.18 (repeatability, reproducibility).

    Examples
    --------
    >>> study = study_gauge(np.array([[[1.0, 1.2], [1.1, 1.3]], [[2.0, 2.2], [2.1, 2.3]]]))
    >>> round(study.s_repeatability, 3)
    0.126
    """
    data = np.asarray(readings, dtype=float)
    if data.ndim != 3 or not np.isfinite(data).all():
        raise ValueOutOfRange("a gauge study needs finite readings by part, operator and repeat")
    if min(data.shape) < 2:
        raise CannotCompute(
            "a gauge study needs at least two parts, two operators and two repeats",
            hint="let a second person read every distance twice",
        )
    if tolerance_width is not None and not tolerance_width > 0:
        raise ValueOutOfRange(f"the tolerance's width must be above 0, got {tolerance_width}")
    operator, part, interaction, repeat, total = _analyze(data)
    if total.sum_of_squares == 0:
        raise CannotCompute("all readings are equal, so there is no spread to split", hint="read more finely")
    f, p = _test_interaction(interaction, repeat)
    return _components(data.shape, (operator, part, interaction, repeat, total), (f, p), tolerance_width)


def _analyze(data: FloatArray) -> tuple[VarianceLine, VarianceLine, VarianceLine, VarianceLine, VarianceLine]:
    n_parts, n_operators, n_repeats = data.shape
    grand = data.mean()
    by_part, by_operator, by_cell = data.mean(axis=(1, 2)), data.mean(axis=(0, 2)), data.mean(axis=2)
    part = n_operators * n_repeats * float(((by_part - grand) ** 2).sum())
    operator = n_parts * n_repeats * float(((by_operator - grand) ** 2).sum())
    crossed = by_cell - by_part[:, None] - by_operator[None, :] + grand
    interaction = n_repeats * float((crossed**2).sum())
    repeat = float(((data - by_cell[:, :, None]) ** 2).sum())
    dof_cross = (n_parts - 1) * (n_operators - 1)
    lines = (
        (operator, n_operators - 1),
        (part, n_parts - 1),
        (interaction, dof_cross),
        (repeat, n_parts * n_operators * (n_repeats - 1)),
        (float(((data - grand) ** 2).sum()), data.size - 1),
    )
    a, b, c, d, e = (VarianceLine(s, dof, s / dof) for s, dof in lines)
    return a, b, c, d, e


def _test_interaction(interaction: VarianceLine, repeat: VarianceLine) -> tuple[float | None, float]:
    if repeat.mean_square == 0:
        return (0.0, 1.0) if interaction.mean_square == 0 else (None, 0.0)
    f = interaction.mean_square / repeat.mean_square
    return f, float(stats.f.sf(f, interaction.dof, repeat.dof))


def _components(
    shape: tuple[int, ...],
    lines: tuple[VarianceLine, VarianceLine, VarianceLine, VarianceLine, VarianceLine],
    test: tuple[float | None, float],
    tolerance_width: float | None,
) -> GaugeStudy:
    n_parts, n_operators, n_repeats = shape
    operator, part, interaction, repeat, _ = lines
    is_kept = test[1] <= _POOL_ABOVE
    if is_kept:
        error, dof_error, against = repeat.mean_square, repeat.dof, interaction.mean_square
        crossed = max(0.0, (interaction.mean_square - repeat.mean_square) / n_repeats)
    else:
        dof_error = repeat.dof + interaction.dof
        error = (repeat.sum_of_squares + interaction.sum_of_squares) / dof_error
        against, crossed = error, 0.0
    between = max(0.0, (operator.mean_square - against) / (n_parts * n_repeats))
    parts = max(0.0, (part.mean_square - against) / (n_operators * n_repeats))
    gauge = error + between + crossed
    s_gauge, s_part = math.sqrt(gauge), math.sqrt(parts)
    return GaugeStudy(
        *lines,
        f_interaction=test[0],
        p_interaction=test[1],
        is_interaction_kept=is_kept,
        s_repeatability=math.sqrt(error),
        s_reproducibility=math.sqrt(between + crossed),
        s_interaction=math.sqrt(crossed),
        s_gauge=s_gauge,
        s_part=s_part,
        s_total=math.sqrt(gauge + parts),
        gauge_share=s_gauge / math.sqrt(gauge + parts) if gauge + parts > 0 else 0.0,
        gauge_to_tolerance=6 * s_gauge / tolerance_width if tolerance_width is not None else None,
        n_distinct=max(1, math.floor(_DISTINCT * s_part / s_gauge)) if s_gauge > 0 else 0,
        dof_repeatability=dof_error,
    )
