"""The best path among those admitted: coarse over all, fine for the best, then closed in on; what each degree costs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.errors import CannotCompute
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._admitted import Admitted
from seatwright.survey._cone import angle_between_rad, pair_across
from seatwright.survey._measures import (
    MEASURES,
    PathMeasures,
    PathMeter,
    PathTable,
    PathWeights,
    measure_paths,
    measures_of,
)
from seatwright.survey._tilt import Tilt, measure_tilt
from seatwright.survey._window import four_sides, turned

__all__ = ["BestPath", "RankedPath", "TradeOff", "find_best_path", "measure_trade_offs"]

_KEPT, _SHOWN = 30, 5  # judgement: as many as full measuring does in seconds; a few to look at
_CLOSER = 4  # judgement: halvings of the grid's step, to a tenth of a degree
_STEP_DEG = 1.0  # definition: trade-offs are told per degree


@dataclass(frozen=True, slots=True)
class RankedPath:
    """One path tried, with its measures."""

    withdraw_direction: tuple[float, float, float]
    tilt: Tilt
    measures: PathMeasures


@dataclass(frozen=True, slots=True)
class TradeOff:
    """What one degree more towards a side changes: positive is more of the measure.

    `admitted` says whether the path one degree on is still admitted by attachments and guide planes, and by a framework
    where there is one.
    """

    side: str
    admitted: bool
    guide_planes: float
    retention: float
    balance: float
    block_out: float
    tissue: float
    visible_metal: float
    score: float


@dataclass(frozen=True, slots=True, eq=False)
class BestPath:
    """The best path and the next ones.

    `ranked` starts with the best, each at least a degree from those before; `n_tried` counts the coarse grid.
    """

    direction: FloatArray
    ranked: tuple[RankedPath, ...]
    n_tried: int


def find_best_path(
    meter: PathMeter, admitted: Admitted, weights: PathWeights, *, progress: Progress = SILENT
) -> BestPath:
    """Search the directions that are admitted for the least weighted sum of the measures.

    Parameters
    ----------
    meter : PathMeter
    admitted : Admitted
        By attachments, guide planes and the limit of the search, and by a rigid part where there is one.
    weights : PathWeights
    progress : Progress

    Raises
    ------
    CannotCompute
        If no direction is admitted.

    Notes
    -----
    About 1000 directions evenly over the window, measured on the coarse copy; the best 30 again on the full scan;
    then around the best, six neighbors at half the step, and so on. What is narrower than the grid can be missed.
    """
    grid, step = admitted.spread()
    progress.report(0.1, f"measuring {len(grid)} paths")
    row = weights.as_row()
    coarse = measure_paths(meter, grid, fine=False)
    kept = _best_admitted(grid[np.argsort(coarse.values @ row, kind="stable")], admitted)
    progress.report(0.5, "measuring the best on the full scan")
    fine = measure_paths(meter, kept, fine=True)
    order = np.argsort(fine.values @ row, kind="stable")
    ranked = [_ranked(meter, kept[k], fine, int(k), weights) for k in order]
    best, score = kept[order[0]], float(fine.values[order[0]] @ row)
    for level in range(_CLOSER):
        progress.report(0.7 + 0.07 * level, "closing in")
        step /= 2
        around = [d for d in _neighbors(best, step) if admitted.admits(d)]
        if not around:
            continue
        table = measure_paths(meter, np.array(around), fine=True)
        least = int(np.argmin(table.values @ row))
        if float(table.values[least] @ row) < score - 1e-9:
            best, score = around[least], float(table.values[least] @ row)
            ranked.insert(0, _ranked(meter, best, table, least, weights))
    return BestPath(best, _apart(ranked), len(grid))


def measure_trade_offs(
    meter: PathMeter, direction: FloatArray, admitted: Admitted, weights: PathWeights
) -> tuple[PathMeasures, FloatArray, tuple[TradeOff, ...]]:
    """Measure one path finely, what its tips read, and what a degree towards each of the four sides changes.

    Parameters
    ----------
    meter : PathMeter
    direction : ndarray of shape (3,)
        Withdraw direction.
    admitted : Admitted
        Tells whether the path a degree on is admitted.
    weights : PathWeights

    Returns
    -------
    measures : PathMeasures
    reads_mm : ndarray of shape (c,)
        Undercut at each tip of the meter.
    trade_offs : tuple of TradeOff
    """
    sides = four_sides(meter.frame)
    ahead_of = [turned(direction, e, math.radians(_STEP_DEG)) for _, e in sides]
    table = measure_paths(meter, np.array([direction, *ahead_of]), fine=True)
    change = table.values[1:] - table.values[0]
    offs = []
    for (name, _), ahead, row in zip(sides, ahead_of, change, strict=True):
        named = {m.name: float(v) for m, v in zip(MEASURES, row, strict=True) if m.name != "tilt"}
        offs.append(TradeOff(name, admitted.admits(ahead), **named, score=float(row @ weights.as_row())))
    return measures_of(meter, table, 0, weights), table.reads_mm[0], tuple(offs)


def _ranked(meter: PathMeter, direction: FloatArray, table: PathTable, row: int, weights: PathWeights) -> RankedPath:
    x, y, z = (float(v) for v in direction)
    return RankedPath((x, y, z), measure_tilt(direction, meter.frame), measures_of(meter, table, row, weights))


def _apart(ranked: Sequence[RankedPath]) -> tuple[RankedPath, ...]:
    """Return the best few that differ: each at least a degree from those before it."""
    shown: list[RankedPath] = []
    for path in ranked:
        way = np.array(path.withdraw_direction)
        away = [angle_between_rad(way, np.array(other.withdraw_direction)) for other in shown]
        if len(shown) < _SHOWN and all(angle >= math.radians(_STEP_DEG) for angle in away):
            shown.append(path)
    return tuple(shown)


def _best_admitted(ordered: FloatArray, admitted: Admitted) -> FloatArray:
    """Return the first of an order that are admitted exactly, shape (k, 3)."""
    kept: list[FloatArray] = []
    for way in ordered:
        if admitted.admits(way):
            kept.append(way)
        if len(kept) == _KEPT:
            break
    if not kept:
        raise CannotCompute("none of the paths tried is free", hint="the window is narrower than the search's grid")
    return np.array(kept)


def _neighbors(direction: FloatArray, step: float) -> list[FloatArray]:
    first, second = pair_across(direction)
    turns = np.arange(6) * math.pi / 3
    return [turned(direction, first * math.cos(t) + second * math.sin(t), step) for t in turns]
