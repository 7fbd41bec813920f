"""Readings into distances: cells of repeats, slips set aside, what one reading is worth, means with uncertainty."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from seatwright.cast._caliper_asked import CaliperAsked, CaliperReading, Epoch
from seatwright.cast._caliper_result import ReadingSpread
from seatwright.cast._gauge_study import GaugeStudy, study_gauge
from seatwright.cast._repeatability import PooledSpread, pool_repeats
from seatwright.errors import CannotCompute
from seatwright.quantities import FloatArray, effective_dof

__all__ = ["Cells", "MeanDistance", "Worth", "find_slips", "gather_cells", "study_operators", "weigh_readings"]

Pair = tuple[str, str]
Cells = dict[tuple[bool, Pair], tuple[CaliperReading, ...]]
"""Readings by (is on the cast, pair)."""

_STEPS_MM = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)  # common practice: steps of scales and displays
_ALPHA_SLIP = 0.001  # judgement: over all readings together; a slip must be plain before a reading is left out
_MOST_SLIPS = 0.1  # judgement: more than a tenth of slips is no slip but poor reading
_INTERACTION_P = 0.05  # judgement: operators count as reading distances differently when this is unlikely


def gather_cells(readings: Sequence[CaliperReading]) -> Cells:
    """Group readings by epoch and pair, in order of first appearance."""
    cells: dict[tuple[bool, Pair], list[CaliperReading]] = {}
    for reading in readings:
        cells.setdefault((reading.epoch is Epoch.CAST, reading.pair), []).append(reading)
    return {key: tuple(cell) for key, cell in cells.items()}


def find_slips(cells: Cells) -> tuple[CaliperReading, ...]:
    """Return single readings that plainly do not belong to their repeats (cells of three or more).

    Each reading is compared with the mean of its own repeats by Student's t, with the spread of all other readings; the
    worst is taken out and the rest is tried again.

    References
    ----------
    .. [1] ISO 5725-2:2019, 8.3.4 (single outlying observations); externally studentized, Bonferroni's bound.
    """
    left = {key: list(cell) for key, cell in cells.items()}
    n_all = sum(len(cell) for cell in cells.values())
    slips: list[CaliperReading] = []
    while len(slips) < math.floor(_MOST_SLIPS * n_all):
        worst = _worst_reading(left)
        if worst is None or worst[0] * n_all > _ALPHA_SLIP:
            break
        left[worst[1]].remove(worst[2])
        slips.append(worst[2])
    return tuple(slips)


def _worst_reading(
    cells: dict[tuple[bool, Pair], list[CaliperReading]],
) -> tuple[float, tuple[bool, Pair], CaliperReading] | None:
    sums = {k: float(((x := _lengths(c)) ** 2).sum() - x.size * x.mean() ** 2) for k, c in cells.items() if c}
    dofs = {k: len(c) - 1 for k, c in cells.items()}
    step = _resolution(tuple(r for c in cells.values() for r in c)) / math.sqrt(12.0)
    best = None
    for key, cell in cells.items():
        n = len(cell)
        if n < 3:
            continue
        for reading in cell:
            rest = _lengths([r for r in cell if r is not reading])
            own = float(((rest - rest.mean()) ** 2).sum())
            dof = sum(dofs.values()) - 1
            if dof < 3:
                return None
            spread = max(math.sqrt(max(0.0, sum(sums.values()) - sums[key] + own) / dof), step)
            t = abs(reading.length_mm - float(rest.mean())) / (spread * math.sqrt(1 + 1 / (n - 1)))
            p = 2 * float(stats.t.sf(t, dof))
            if best is None or p < best[0]:
                best = (p, key, reading)
    return best


def _lengths(cell: Sequence[CaliperReading]) -> FloatArray:
    return np.array([r.length_mm for r in cell])


def _resolution(readings: Sequence[CaliperReading]) -> float:
    lengths = _lengths(readings)
    for step in _STEPS_MM:
        if np.abs(lengths / step - np.round(lengths / step)).max() < 1e-3:
            return step
    return _STEPS_MM[-1]


@dataclass(frozen=True, slots=True)
class MeanDistance:
    """One distance of one epoch: mean of what counts, standard uncertainty, number of readings."""

    length_mm: float
    u_mm: float
    n: int


@dataclass(frozen=True, slots=True)
class Worth:
    """All distances of both epochs and what a reading is worth."""

    reference: dict[Pair, MeanDistance]
    cast: dict[Pair, MeanDistance]
    spread: ReadingSpread

    @property
    def dof(self) -> float:
        """Degrees of freedom of the distances' uncertainty; infinite when declared."""
        return math.inf if self.spread.dof is None else self.spread.dof


def weigh_readings(cells: Cells, asked: CaliperAsked, gauge: GaugeStudy | None) -> Worth:
    """Pool the repeats and give each distance its mean and uncertainty.

    Raises
    ------
    CannotCompute
        If nothing was repeated and no uncertainty is declared.
    """
    readings = [r for cell in cells.values() for r in cell]
    resolution = _resolution(readings)
    least = resolution / math.sqrt(12.0)
    pooled = _pool(cells)
    if pooled is None and asked.u_distance_um <= 0:
        raise CannotCompute(
            "nothing was read twice and no uncertainty is declared, so no movement can be judged",
            hint="read every distance again (three times is usual, jaws lifted in between), or state --caliper-u-um",
        )
    s_reading = max(pooled.s, least) if pooled is not None else 0.0
    s_operators = 0.0
    if gauge is not None and gauge.p_interaction < _INTERACTION_P:
        s_operators = gauge.s_interaction
    declared = asked.u_distance_um * 1e-3
    n_typical = float(np.median([len(c) for c in cells.values()]))
    parts = np.array([s_reading / math.sqrt(n_typical), declared, s_operators])
    from_repeats = pooled.dof if pooled is not None and pooled.s >= least else math.inf
    dof = effective_dof(parts, [from_repeats, math.inf, gauge.interaction.dof if gauge and s_operators else math.inf])
    means: tuple[dict[Pair, MeanDistance], dict[Pair, MeanDistance]] = ({}, {})
    for (on_cast, pair), cell in cells.items():
        n_operators = max(1, len({r.operator for r in cell}))
        variance = s_reading**2 / len(cell) + declared**2 + s_operators**2 / n_operators
        means[on_cast][pair] = MeanDistance(float(_lengths(cell).mean()), math.sqrt(variance), len(cell))
    spread = ReadingSpread(
        pooled, resolution, s_reading * 1e3, asked.u_distance_um, s_operators * 1e3, _known(dof), 1.0
    )
    return Worth(means[0], means[1], spread)


def _known(dof: float) -> float | None:
    return None if math.isinf(dof) else round(dof, 6)


def _pool(cells: Cells) -> PooledSpread | None:
    by_operator = [
        [r.length_mm for r in cell if r.operator == name] for cell in cells.values() for name in _operators(cell)
    ]
    if not any(len(cell) > 1 for cell in by_operator):
        return None
    return pool_repeats(by_operator)


def _operators(cell: Sequence[CaliperReading]) -> list[str]:
    return list(dict.fromkeys(r.operator for r in cell))


def study_operators(cells: Cells, tolerance_um: float) -> GaugeStudy | None:
    """Split the spread between operators when every one of them read the same distances equally often; else None.

    Both epochs count, each distance of each epoch as one part; the tolerance's width is twice `tolerance_um`.
    """
    names = list(dict.fromkeys(r.operator for cell in cells.values() for r in cell))
    if len(names) < 2 or "" in names:
        return None
    table = []
    for cell in cells.values():
        by_name = [[r.length_mm for r in cell if r.operator == name] for name in names]
        if any(by_name) and not all(by_name):
            return None
        table.append(by_name)
    n_repeats = {len(row) for rows in table for row in rows}
    if len(n_repeats) != 1 or min(n_repeats) < 2 or len(table) < 2:
        return None
    data = np.array(table)
    if np.ptp(data) == 0:
        return None
    return study_gauge(data, tolerance_width=2e-3 * tolerance_um)
