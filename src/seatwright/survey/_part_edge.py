"""Where the window of a rigid part ends along one way: closed in on between a free and a blocked direction."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from seatwright.mesh import Block, Withdrawal, find_block, follow_block, map_blocks
from seatwright.quantities import FloatArray
from seatwright.survey._cone import Cone, angle_between_rad
from seatwright.survey._cones import reach_towards
from seatwright.survey._window import lies_inside

__all__ = ["PartLimit", "edge_between", "edge_tolerance_deg", "reach_of_part"]

_STEP_DEG = 2.0  # judgement: the grid's, see the window's search
_EDGE_DEG = 0.04  # judgement: below the 0.05 degree to which edges are promised
_EDGE_SHARE = 0.04  # judgement: of the width, for windows narrower than a degree
_FINEST_DEG = 0.01  # judgement: finer than any bench sets
_BEYOND_RAD = 1e-5  # judgement: 0.0006 degree past the edge only what limits is blocked
_HALVINGS = 24  # judgement: a bracket of 2 degrees ends below a millionth of a degree
_TRIES = 40  # judgement: more than any bracket needs


@dataclass(frozen=True, slots=True)
class PartLimit:
    """Where the window ends along one ray, and what the part meets there.

    Attributes
    ----------
    reach_deg : float
        From the direction looked from; half the bracket's width is its uncertainty.
    at_mm : (float, float, float) or None
        Place on the cast that the part meets; None at the limit of the search.
    travel_mm : float
        Travel after which it does.
    opening_um_per_deg : float or None
        Gap that one degree more would take there: travel times one degree.
    """

    reach_deg: float
    at_mm: tuple[float, float, float] | None
    travel_mm: float
    opening_um_per_deg: float | None


def edge_tolerance_deg(width_deg: float) -> float:
    """Width of the bracket to which an edge is closed in on, for a window of a width, degrees."""
    return max(_FINEST_DEG, min(_EDGE_DEG, _EDGE_SHARE * width_deg))


def reach_of_part(
    pair: Withdrawal,
    from_direction: FloatArray,
    towards: FloatArray,
    search: Cone,
    *,
    locate: bool = False,
) -> PartLimit:
    """Turn from a free direction until the part meets the cast, or the limit of the search is reached.

    Parameters
    ----------
    pair : Withdrawal
    from_direction, towards : ndarray of shape (3,)
    search : Cone
    locate : bool
        Also find the place that limits most, by looking at every block just beyond the edge.

    Notes
    -----
    Between a free and a blocked angle, the point that is blocked is followed inwards to where it comes free, and the
    whole part is tried just inside of that; every second time halfway.
    """
    start = from_direction / np.linalg.norm(from_direction)
    ahead = towards - start * float(np.dot(start, towards))
    ahead /= np.linalg.norm(ahead)

    def at(angle: float) -> FloatArray:
        return np.asarray(start * math.cos(angle) + ahead * math.sin(angle))

    end = max(reach_towards([search], start, ahead).angle_rad, 0.0) if lies_inside([search], start) else 0.0
    low, high, block = _bracket(pair, at, end)
    if block is None:
        return PartLimit(math.degrees(end), None, 0.0, None)
    low, high, block = _close_in(
        pair, at, (low, high, block), lambda angle: math.radians(edge_tolerance_deg(math.degrees(angle)))
    )
    if locate:
        beyond = map_blocks(pair, at(high + _BEYOND_RAD))
        block = max(beyond, key=lambda b: b.height_mm, default=block)
    opening = block.height_mm * math.radians(1.0) * 1000.0
    return PartLimit(math.degrees(0.5 * (low + high)), block.at_mm, block.height_mm, opening)


def edge_between(pair: Withdrawal, free: FloatArray, blocked: FloatArray, tolerance_rad: float) -> float:
    """Return the share of the way, from a free direction to a blocked one, at which the edge lies.

    The way is straight between the two vectors of shape (3,), so along their great circle; 1 when the end is free too.
    """
    block = find_block(pair, blocked)
    angle = angle_between_rad(free, blocked)
    if block is None or angle <= tolerance_rad:
        return 1.0 if block is None else 0.5
    low, high, _ = _close_in(
        pair, lambda share: free + share * (blocked - free), (0.0, 1.0, block), lambda _: tolerance_rad / angle
    )
    return 0.5 * (low + high)


def _close_in(
    pair: Withdrawal,
    at: Callable[[float], FloatArray],
    bracket: tuple[float, float, Block],
    tolerance: Callable[[float], float],
) -> tuple[float, float, Block]:
    low, high, block = bracket
    halve = False
    for _ in range(_TRIES):
        high = _lets_go(pair, block, at, low, high)
        width = tolerance(high)
        if high - low <= width:
            break
        probe = 0.5 * (low + high) if halve else max(high - 0.9 * width, low)
        halve = not halve
        new = find_block(pair, at(probe))
        if new is None:
            low = probe
        else:
            high, block = probe, new
    return low, high, block


def _bracket(pair: Withdrawal, at: Callable[[float], FloatArray], end: float) -> tuple[float, float, Block | None]:
    """Last free and first blocked angle, in steps of the grid, and what blocks; no block up to the end: (end, end)."""
    low, step = 0.0, math.radians(_STEP_DEG)
    while low < end:
        high = min(low + step, end)
        block = find_block(pair, at(high))
        if block is not None:
            return low, high, block
        low = high
    return end, end, None


def _lets_go(pair: Withdrawal, block: Block, at: Callable[[float], FloatArray], low: float, high: float) -> float:
    """Angle down to which one pair of triangles keeps blocking, to a thousandth of the bracket or better."""
    ask = follow_block(pair, block)
    inside, outside = high, low
    for _ in range(_HALVINGS):
        middle = 0.5 * (inside + outside)
        if ask(at(middle)):
            inside = middle
        else:
            outside = middle
    return inside
