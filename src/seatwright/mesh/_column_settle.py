"""From a column that is open back to the cover's edge and along it to the nearest open column: compiled, exact."""

import numpy as np
from numba import njit

from seatwright.mesh._column_bins import NO_FACE, find_first_crossing
from seatwright.mesh._column_walk import AT_LEVEL, back_to_cover, foot_on_edge

__all__ = ["is_free_way", "settle_unblocked"]

_MAX_STEPS = 10  # judgement: two to four are usual
_TOUCH = 10.0  # judgement: in slacks; a line that only touches the solid where it ends, in a corner, is free
_MOST_TOUCH_MM = 1e-3  # judgement: a tenth of what gauge quality promises
_HALVINGS = 16  # judgement: an edge of a millimeter to 15 nm


@njit(cache=True)
def _settle(columns, x, y, level, ex, ey, s, limit, tiny):  # type: ignore[no-untyped-def]
    """From a column that may be open at s, go back to the cover's edge, then to the foot on it, while that is nearer.

    Returns distance and direction; `limit` when the column at s is covered or the way to it runs within the solid.
    """
    best, best_x, best_y = limit, ex, ey
    is_clamped, best_face, best_side = True, NO_FACE, AT_LEVEL
    foot_x, foot_y = x, y
    for _ in range(_MAX_STEPS):
        r, face, side = back_to_cover(columns, x, y, level, ex, ey, s, tiny)
        if r >= best or (face != NO_FACE and side == AT_LEVEL and columns.corners[face, 11] > 0.0):
            # covered, no nearer, or come up through an upper side, so that the line ran within the solid
            if is_clamped:
                if best_face == NO_FACE or best >= limit:
                    break
                return _slide(columns, x, y, level, best, best_x, best_y, foot_x, foot_y, tiny)
            is_clamped = True  # the line through the edge led too far: the edge itself
        else:
            best, best_x, best_y, best_face, best_side = r, ex, ey, face, side
            is_clamped = False
        if best_face == NO_FACE or best_side == AT_LEVEL or best <= tiny:
            break
        foot_x, foot_y = foot_on_edge(columns.corners, best_face, best_side, x, y, is_clamped)
        d = np.hypot(foot_x - x, foot_y - y)
        if d <= tiny or d >= best * (1.0 - 1e-5):
            break
        ex, ey, s = (foot_x - x) / d, (foot_y - y) / d, best
    return best, best_x, best_y


@njit(cache=True)
def _slide(columns, x, y, level, best, best_x, best_y, foot_x, foot_y, tiny):  # type: ignore[no-untyped-def]
    """Slide along an edge of the cover towards its foot as far as the other side of the opening lets it."""
    from_x, from_y = x + best * best_x, y + best * best_y
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        t = 0.5 * (low + high)
        dx, dy = from_x + t * (foot_x - from_x) - x, from_y + t * (foot_y - from_y) - y
        d = np.hypot(dx, dy)
        if d >= best:
            break
        r, _face, _side = back_to_cover(columns, x, y, level, dx / d, dy / d, d + 100.0 * tiny, tiny)
        if r < best:
            best, best_x, best_y, low = r, dx / d, dy / d, t
        else:
            high = t
    return best, best_x, best_y


@njit(cache=True)
def is_free_way(columns, p, q, ex, ey, r, may_touch):  # type: ignore[no-untyped-def]
    """Whether the level line from q runs r far outside the solid; `may_touch` lets its end touch, as in a corner."""
    off = np.sqrt((q[0] - p[0]) ** 2 + (q[1] - p[1]) ** 2 + (q[2] - p[2]) ** 2)
    needed = r - min(_TOUCH * off, _MOST_TOUCH_MM) if may_touch else r
    return find_first_crossing(columns, q[0], q[1], q[2], ex, ey, r) >= needed


@njit(cache=True)
def settle_unblocked(columns, p, q, level, ex, ey, s, limit, tiny, may_touch):  # type: ignore[no-untyped-def]
    """As `_settle`, but `limit` when the horizontal line from q to the column meets the solid; see `is_free_way`."""
    r, sx, sy = _settle(columns, p[0], p[1], level, ex, ey, s, limit, tiny)
    if r >= limit or not is_free_way(columns, p, q, sx, sy, r, may_touch):
        return limit, ex, ey
    return r, sx, sy
