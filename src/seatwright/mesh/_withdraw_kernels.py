"""Compiled loops of the straight withdrawal: is some point of a fixed surface above a moving one in the same column.

Triangles are turned so that z is the way out; x and y are the plan. Every overlap is exact at edges: one triangle is
clipped by the other in plan and the two heights are compared at the corners of what is left.
"""

import numpy as np
from numba import njit, prange

__all__ = [
    "block_of_pair",
    "bound_leaves",
    "bound_nodes",
    "find_blocks_kernel",
    "find_blocks_serially",
    "first_hit_of_points",
    "turn_corners",
]


@njit(cache=True)
def turn_corners(corners, frame):  # type: ignore[no-untyped-def]
    """Turn triangles (m, 9) into the frame whose rows are x, y and the way out."""
    turned = np.empty_like(corners)
    for i in range(corners.shape[0]):
        for c in range(3):
            x, y, z = corners[i, 3 * c], corners[i, 3 * c + 1], corners[i, 3 * c + 2]
            for k in range(3):
                turned[i, 3 * c + k] = frame[k, 0] * x + frame[k, 1] * y + frame[k, 2] * z
    return turned


@njit(cache=True)
def bound_leaves(corners, starts, axes, n_above, lowest):  # type: ignore[no-untyped-def]
    """Bounds of each leaf, rows after `n_above` empty ones: extent along each plan axis, then lowest or highest z.

    Thin walls seen nearly along themselves project to slivers at any angle: an upright box would be fat there.
    """
    k_axes = axes.shape[0]
    bounds = np.empty((n_above + starts.shape[0] - 1, 2 * k_axes + 1))
    for leaf in range(starts.shape[0] - 1):
        row = n_above + leaf
        for k in range(k_axes):
            bounds[row, 2 * k], bounds[row, 2 * k + 1] = np.inf, -np.inf
        z = np.inf if lowest else -np.inf
        for i in range(starts[leaf], starts[leaf + 1]):
            for c in range(3):
                x, y = corners[i, 3 * c], corners[i, 3 * c + 1]
                z = min(z, corners[i, 3 * c + 2]) if lowest else max(z, corners[i, 3 * c + 2])
                for k in range(k_axes):
                    along = axes[k, 0] * x + axes[k, 1] * y
                    bounds[row, 2 * k] = min(bounds[row, 2 * k], along)
                    bounds[row, 2 * k + 1] = max(bounds[row, 2 * k + 1], along)
        bounds[row, 2 * k_axes] = z
    return bounds


@njit(cache=True)
def bound_nodes(bounds, n_above):  # type: ignore[no-untyped-def]
    """Fill in the rows above the leaves from below; the last column is the highest z."""
    last = bounds.shape[1] - 1
    for node in range(n_above - 1, -1, -1):
        one, other = 2 * node + 1, 2 * node + 2
        for k in range(0, last, 2):
            bounds[node, k] = min(bounds[one, k], bounds[other, k])
            bounds[node, k + 1] = max(bounds[one, k + 1], bounds[other, k + 1])
        bounds[node, last] = max(bounds[one, last], bounds[other, last])


@njit(cache=True)
def _clip(polygon, n, kept, edge):  # type: ignore[no-untyped-def]
    """Keep what of a polygon (rows x, y, z) lies left of an edge (px, py, qx, qy); returns the number of corners."""
    dx, dy, found = edge[2] - edge[0], edge[3] - edge[1], 0
    for i in range(n):
        j = (i + 1) % n
        one = dx * (polygon[i, 1] - edge[1]) - dy * (polygon[i, 0] - edge[0])
        two = dx * (polygon[j, 1] - edge[1]) - dy * (polygon[j, 0] - edge[0])
        if one >= 0.0:
            for k in range(3):
                kept[found, k] = polygon[i, k]
            found += 1
        if (one > 0.0 and two < 0.0) or (one < 0.0 and two > 0.0):
            t = one / (one - two)
            for k in range(3):
                kept[found, k] = polygon[i, k] + t * (polygon[j, k] - polygon[i, k])
            found += 1
    return found


@njit(cache=True)
def _doubled_area(polygon, n):  # type: ignore[no-untyped-def]
    doubled = 0.0
    for i in range(1, n - 1):
        doubled += (polygon[i, 0] - polygon[0, 0]) * (polygon[i + 1, 1] - polygon[0, 1])
        doubled -= (polygon[i, 1] - polygon[0, 1]) * (polygon[i + 1, 0] - polygon[0, 0])
    return abs(doubled)


@njit(cache=True)
def block_of_pair(fixed, moving, least_mm):  # type: ignore[no-untyped-def]
    """How far the fixed triangle stands above the moving one where both share a column, and where; -inf when nowhere.

    Both are rows of nine in the turned frame. Triangles seen edge-on have no columns of their own: their edges belong
    to their neighbors too.
    """
    ax, ay, az = moving[0], moving[1], moving[2]
    bx, by, bz = moving[3], moving[4], moving[5]
    cx, cy, cz = moving[6], moving[7], moving[8]
    area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    other = (fixed[3] - fixed[0]) * (fixed[7] - fixed[1]) - (fixed[4] - fixed[1]) * (fixed[6] - fixed[0])
    if abs(area) < 1e-12 or abs(other) < 1e-12:
        return -np.inf, 0.0, 0.0, 0.0
    if area < 0.0:
        bx, by, bz, cx, cy, cz = cx, cy, cz, bx, by, bz
        area = -area
    one, two = np.empty((9, 3)), np.empty((9, 3))
    for c in range(3):
        for k in range(3):
            one[c, k] = fixed[3 * c + k]
    n = _clip(one, 3, two, (ax, ay, bx, by))
    n = _clip(two, n, one, (bx, by, cx, cy))
    n = _clip(one, n, two, (cx, cy, ax, ay))
    if n < 3 or _doubled_area(two, n) < least_mm * least_mm:
        return -np.inf, 0.0, 0.0, 0.0
    low, high = min(az, bz, cz), max(az, bz, cz)
    best, x, y, z = -np.inf, 0.0, 0.0, 0.0
    for i in range(n):
        u = ((bx - two[i, 0]) * (cy - two[i, 1]) - (by - two[i, 1]) * (cx - two[i, 0])) / area
        v = ((cx - two[i, 0]) * (ay - two[i, 1]) - (cy - two[i, 1]) * (ax - two[i, 0])) / area
        below = min(high, max(low, u * az + v * bz + (1.0 - u - v) * cz))
        if two[i, 2] - below > best:
            best, x, y, z = two[i, 2] - below, two[i, 0], two[i, 1], two[i, 2]
    return best, x, y, z


@njit(cache=True)
def _apart(one, i, other, j, last):  # type: ignore[no-untyped-def]
    for k in range(0, last, 2):  # noqa: SIM110 - compiled
        if one[i, k] >= other[j, k + 1] or one[i, k + 1] <= other[j, k]:
            return True
    return False


@njit(cache=True)
def _ask_leaf(fixed, moving, fixed_range, moving_range, least_mm):  # type: ignore[no-untyped-def]
    """Worst block between the triangles of two leaves: height, the two places and where."""
    best, place, other, at = -np.inf, -1, -1, (0.0, 0.0, 0.0)
    for i in range(fixed_range[0], fixed_range[1]):
        for q in range(moving_range[0], moving_range[1]):
            if _misses(fixed[i], moving[q], least_mm):
                continue
            height, x, y, z = block_of_pair(fixed[i], moving[q], least_mm)
            if height > least_mm and height > best:
                best, place, other, at = height, i, q, (x, y, z)
    return best, place, other, at


def _find_blocks(fixed, moving, least_mm, first_only):  # type: ignore[no-untyped-def]
    """For each moving leaf: height of the worst block, places of the two triangles (-1 when free) and where.

    `fixed` and `moving` hold turned corners, leaf starts and bounds. With `first_only`, work stops after any block.
    """
    corners, starts, bounds = fixed
    others, other_starts, other_bounds = moving
    m, last = other_starts.shape[0] - 1, bounds.shape[1] - 1
    depth, pair, at = np.full(m, -np.inf), np.full((m, 2), -1, dtype=np.int64), np.zeros((m, 3))
    found = np.zeros(1, dtype=np.int64)
    first_leaf = starts.shape[0] - 2
    n_chunks = min(m, 512)
    for chunk in prange(n_chunks):
        stack = np.empty(64, dtype=np.int64)
        for j in range(chunk * m // n_chunks, (chunk + 1) * m // n_chunks):
            if first_only and found[0] > 0:
                break
            top = 1
            stack[0] = 0
            while top > 0:
                top -= 1
                node = stack[top]
                low = other_bounds[j, last] + least_mm
                if bounds[node, last] <= low or _apart(bounds, node, other_bounds, j, last):
                    continue
                if node < first_leaf:
                    stack[top], stack[top + 1] = 2 * node + 2, 2 * node + 1
                    top += 2
                    continue
                leaf = (starts[node - first_leaf], starts[node - first_leaf + 1])
                height, i, q, where = _ask_leaf(corners, others, leaf, (other_starts[j], other_starts[j + 1]), least_mm)
                if height > depth[j]:
                    depth[j], pair[j, 0], pair[j, 1] = height, i, q
                    at[j, 0], at[j, 1], at[j, 2] = where
                    found[0] = 1
                    top = 0 if first_only else top
    return depth, pair, at


find_blocks_kernel = njit(cache=True, parallel=True)(_find_blocks)
find_blocks_serially = njit(cache=True)(_find_blocks)
"""The same for small parts, where starting threads costs more than the work."""


@njit(cache=True)
def _misses(fixed, moving, least_mm):  # type: ignore[no-untyped-def]
    """Whether the fixed triangle cannot stand above the moving one: by height, or by its box in plan."""
    if max(fixed[2], fixed[5], fixed[8]) <= min(moving[2], moving[5], moving[8]) + least_mm:
        return True
    for k in range(2):
        if max(fixed[k], fixed[3 + k], fixed[6 + k]) <= min(moving[k], moving[3 + k], moving[6 + k]):
            return True
        if min(fixed[k], fixed[3 + k], fixed[6 + k]) >= max(moving[k], moving[3 + k], moving[6 + k]):
            return True
    return False


@njit(cache=True)
def _meets_box(boxes, node, origin, inverse):  # type: ignore[no-untyped-def]
    enter, leave = 0.0, np.inf
    for k in range(3):
        one, other = (boxes[node, k] - origin[k]) * inverse[k], (boxes[node, 3 + k] - origin[k]) * inverse[k]
        if one > other:
            one, other = other, one
        enter, leave = max(enter, one), min(leave, other)
    return enter <= leave


@njit(cache=True)
def _travel_to(corners, i, origin, way):  # type: ignore[no-untyped-def]
    """Travel along `way` to triangle i, -1 when it is missed (Moeller and Trumbore 1997)."""
    e0, e1, e2 = corners[i, 3] - corners[i, 0], corners[i, 4] - corners[i, 1], corners[i, 5] - corners[i, 2]
    f0, f1, f2 = corners[i, 6] - corners[i, 0], corners[i, 7] - corners[i, 1], corners[i, 8] - corners[i, 2]
    p0, p1, p2 = way[1] * f2 - way[2] * f1, way[2] * f0 - way[0] * f2, way[0] * f1 - way[1] * f0
    determinant = e0 * p0 + e1 * p1 + e2 * p2
    if abs(determinant) < 1e-14:
        return -1.0
    t0, t1, t2 = origin[0] - corners[i, 0], origin[1] - corners[i, 1], origin[2] - corners[i, 2]
    u = (t0 * p0 + t1 * p1 + t2 * p2) / determinant
    if u < 0.0 or u > 1.0:
        return -1.0
    q0, q1, q2 = t1 * e2 - t2 * e1, t2 * e0 - t0 * e2, t0 * e1 - t1 * e0
    v = (way[0] * q0 + way[1] * q1 + way[2] * q2) / determinant
    if v < 0.0 or u + v > 1.0:
        return -1.0
    return (f0 * q0 + f1 * q1 + f2 * q2) / determinant


@njit(cache=True)
def first_hit_of_points(tree, points, way, least_mm):  # type: ignore[no-untyped-def]
    """Return the first of some points that meets the tree on its way: (point, place, travel), -1 when none does."""
    inverse = np.empty(3)
    for k in range(3):
        inverse[k] = 1.0 / way[k] if way[k] != 0.0 else np.inf
    first_leaf = tree.starts.shape[0] - 2
    stack = np.empty(64, dtype=np.int64)
    for j in range(points.shape[0]):
        top = 1
        stack[0] = 0
        while top > 0:
            top -= 1
            node = stack[top]
            if not _meets_box(tree.boxes, node, points[j], inverse):
                continue
            if node < first_leaf:
                stack[top], stack[top + 1] = 2 * node + 2, 2 * node + 1
                top += 2
                continue
            for i in range(tree.starts[node - first_leaf], tree.starts[node - first_leaf + 1]):
                travel = _travel_to(tree.corners, i, points[j], way)
                if travel > least_mm:
                    return j, i, travel
    return -1, -1, 0.0
