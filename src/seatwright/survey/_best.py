"""The best path among those admitted: coarse over all, fine for the best, then closed in on; what each degree costs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.errors import CannotCompute
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray
from seatwright.survey._cone import Cone, pair_across
from seatwright.survey._cones import intersect_cones
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
from seatwright.survey._window import four_sides, lies_inside, turned

__all__ = ["BestPath", "RankedPath", "TradeOff", "even_directions", "find_best_path", "measure_trade_offs"]

_TRIED, _KEPT, _SHOWN = 1000, 30, 5  # judgement: a grid of about a degree in 20 degrees; a few to look at
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

    `admitted` says whether the path one degree on is still admitted by attachments and guide planes.
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

    `ranked` starts with the best; `n_tried` counts the coarse grid.
    """

    direction: FloatArray
    ranked: tuple[RankedPath, ...]
    n_tried: int


def find_best_path(
    meter: PathMeter, cones: Sequence[Cone], weights: PathWeights, *, progress: Progress = SILENT
) -> BestPath:
    """Search the directions that all cones admit for the least weighted sum of the measures.

    Parameters
    ----------
    meter : PathMeter
    cones : sequence of Cone
        Attachments, guide planes and the limit of the search.
    weights : PathWeights
    progress : Progress

    Raises
    ------
    CannotCompute
        If the cones leave no direction.

    Notes
    -----
    About 1000 directions evenly over the window, measured on the coarse copy; the best 30 again on the full scan;
    then around the best, six neighbors at half the step, and so on. What is narrower than the grid can be missed.
    """
    grid, step = even_directions(cones)
    progress.report(0.1, f"measuring {len(grid)} paths")
    row = weights.as_row()
    coarse = measure_paths(meter, grid, fine=False)
    kept = grid[np.argsort(coarse.values @ row, kind="stable")[:_KEPT]]
    progress.report(0.5, "measuring the best on the full scan")
    fine = measure_paths(meter, kept, fine=True)
    order = np.argsort(fine.values @ row, kind="stable")
    ranked = [_ranked(meter, kept[k], fine, int(k), weights) for k in order[:_SHOWN]]
    best, score = kept[order[0]], float(fine.values[order[0]] @ row)
    for level in range(_CLOSER):
        progress.report(0.7 + 0.07 * level, "closing in")
        step /= 2
        around = [d for d in _neighbors(best, step) if lies_inside(cones, d)]
        if not around:
            continue
        table = measure_paths(meter, np.array(around), fine=True)
        least = int(np.argmin(table.values @ row))
        if float(table.values[least] @ row) < score - 1e-9:
            best, score = around[least], float(table.values[least] @ row)
            ranked.insert(0, _ranked(meter, best, table, least, weights))
    return BestPath(best, tuple(ranked[:_SHOWN]), len(grid))


def measure_trade_offs(
    meter: PathMeter, direction: FloatArray, cones: Sequence[Cone], weights: PathWeights
) -> tuple[PathMeasures, FloatArray, tuple[TradeOff, ...]]:
    """Measure one path finely, what its tips read, and what a degree towards each of the four sides changes."""
    sides = four_sides(meter.frame)
    ahead_of = [turned(direction, e, math.radians(_STEP_DEG)) for _, e in sides]
    table = measure_paths(meter, np.array([direction, *ahead_of]), fine=True)
    change = table.values[1:] - table.values[0]
    offs = []
    for (name, _), ahead, row in zip(sides, ahead_of, change, strict=True):
        named = {m.name: float(v) for m, v in zip(MEASURES, row, strict=True) if m.name != "tilt"}
        offs.append(TradeOff(name, lies_inside(cones, ahead), **named, score=float(row @ weights.as_row())))
    return measures_of(meter, table, 0, weights), table.reads_mm[0], tuple(offs)


def _ranked(meter: PathMeter, direction: FloatArray, table: PathTable, row: int, weights: PathWeights) -> RankedPath:
    x, y, z = (float(v) for v in direction)
    return RankedPath((x, y, z), measure_tilt(direction, meter.frame), measures_of(meter, table, row, weights))


def even_directions(cones: Sequence[Cone]) -> tuple[FloatArray, float]:
    """Return about 1000 directions evenly over a window, its center first, and their spacing in radians."""
    region = intersect_cones(cones)
    if region.is_empty:
        raise CannotCompute("no direction is left to search", hint="see what leaves none: the window is empty")
    step = math.sqrt(max(region.area_sr, 1e-12) / _TRIED / math.sqrt(0.75))
    corners = [region.center @ c for c in region.corners]
    reach = math.acos(max(-1.0, min([*corners, math.cos(max(region.depth_rad, 1e-6))])))
    n = int(1.3 * reach / step) + 2
    first, second = pair_across(region.center)
    i, j = np.meshgrid(np.arange(-2 * n, 2 * n + 1), np.arange(-2 * n, 2 * n + 1))
    x, y = step * (i + 0.5 * j).ravel(), step * math.sqrt(0.75) * j.ravel()
    near = np.argsort(np.hypot(x, y), kind="stable")
    near = near[np.hypot(x, y)[near] <= 1.3 * reach + step]
    lean = np.hypot(x, y)[near]
    across = x[near, None] * first + y[near, None] * second
    share = np.divide(np.sin(lean), lean, out=np.ones_like(lean), where=lean > 0)
    ways = np.cos(lean)[:, None] * region.center + share[:, None] * across
    inside = np.all([ways @ c.pole >= math.cos(c.half_angle_rad) - 1e-12 for c in cones], axis=0)
    return np.vstack([region.center, ways[inside & (lean > 0)]]), step


def _neighbors(direction: FloatArray, step: float) -> list[FloatArray]:
    first, second = pair_across(direction)
    turns = np.arange(6) * math.pi / 3
    return [turned(direction, first * math.cos(t) + second * math.sin(t), step) for t in turns]
