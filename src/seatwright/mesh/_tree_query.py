"""Nearest point of a triangle tree to each query point: compiled, exact to rounding."""

import numpy as np
from numba import njit, prange

__all__ = ["BLOCK", "find_nearest_kernel", "make_memory", "nearest_on_tree", "nearest_on_triangle"]

BLOCK = 256  # judgement: points that one thread takes at a time; enough to spread, few enough to balance


@njit(cache=True)
def _on_edge(bx, by, bz, px, py, pz):  # type: ignore[no-untyped-def]
    """Parameter, clamped to 0..1, of the foot of p on the segment from the origin to b."""
    squared = bx * bx + by * by + bz * bz
    if squared <= 0.0:
        return 0.0
    t = (px * bx + py * by + pz * bz) / squared
    return min(1.0, max(0.0, t))


@njit(cache=True)
def nearest_on_triangle(corners, i, px, py, pz):  # type: ignore[no-untyped-def]
    """Squared distance and barycentric weights (v, w of corners 2 and 3) of the foot of p on triangle i.

    References: Ericson, Real-Time Collision Detection (2005), section 5.1.5 (regions of a triangle).
    """
    ax, ay, az = corners[i, 0], corners[i, 1], corners[i, 2]
    abx, aby, abz = corners[i, 3] - ax, corners[i, 4] - ay, corners[i, 5] - az
    acx, acy, acz = corners[i, 6] - ax, corners[i, 7] - ay, corners[i, 8] - az
    apx, apy, apz = px - ax, py - ay, pz - az
    d00 = abx * abx + aby * aby + abz * abz
    d01 = abx * acx + aby * acy + abz * acz
    d11 = acx * acx + acy * acy + acz * acz
    d20 = apx * abx + apy * aby + apz * abz
    d21 = apx * acx + apy * acy + apz * acz
    denominator = d00 * d11 - d01 * d01
    v = d11 * d20 - d01 * d21
    w = d00 * d21 - d01 * d20
    if denominator > 1e-14 * d00 * d11 and v >= 0.0 and w >= 0.0 and v + w <= denominator:
        v, w = v / denominator, w / denominator
        return _squared_to(apx, apy, apz, v * abx + w * acx, v * aby + w * acy, v * abz + w * acz), v, w
    t = _on_edge(abx, aby, abz, apx, apy, apz)
    best, v, w = _squared_to(apx, apy, apz, t * abx, t * aby, t * abz), t, 0.0
    t = _on_edge(acx, acy, acz, apx, apy, apz)
    squared = _squared_to(apx, apy, apz, t * acx, t * acy, t * acz)
    if squared < best:
        best, v, w = squared, 0.0, t
    bcx, bcy, bcz = acx - abx, acy - aby, acz - abz
    t = _on_edge(bcx, bcy, bcz, apx - abx, apy - aby, apz - abz)
    squared = _squared_to(apx, apy, apz, abx + t * bcx, aby + t * bcy, abz + t * bcz)
    if squared < best:
        best, v, w = squared, 1.0 - t, t
    return best, v, w


@njit(cache=True)
def _squared_to(px, py, pz, qx, qy, qz):  # type: ignore[no-untyped-def]
    return (px - qx) ** 2 + (py - qy) ** 2 + (pz - qz) ** 2


@njit(cache=True)
def _squared_to_box(boxes, node, px, py, pz):  # type: ignore[no-untyped-def]
    dx = max(boxes[node, 0] - px, 0.0, px - boxes[node, 3])
    dy = max(boxes[node, 1] - py, 0.0, py - boxes[node, 4])
    dz = max(boxes[node, 2] - pz, 0.0, pz - boxes[node, 5])
    return dx * dx + dy * dy + dz * dz


@njit(cache=True)
def nearest_on_tree(tree, px, py, pz, limit_squared, memory):  # type: ignore[no-untyped-def]
    """Place in the leaf order (-1 when nothing lies within the limit), squared distance and weights v, w.

    `memory` is scratch from `make_memory`, one for each thread at a time: to make it anew cost as much as a query.
    """
    stack, room = memory
    first_leaf = tree.starts.shape[0] - 2
    top, place, best, best_v, best_w = 1, -1, limit_squared, 0.0, 0.0
    stack[0], room[0] = 0, _squared_to_box(tree.boxes, 0, px, py, pz)
    while top > 0:
        top -= 1
        node = stack[top]
        if room[top] >= best:
            continue
        if node >= first_leaf:
            leaf = node - first_leaf
            for i in range(tree.starts[leaf], tree.starts[leaf + 1]):
                squared, v, w = nearest_on_triangle(tree.corners, i, px, py, pz)
                if squared < best:
                    place, best, best_v, best_w = i, squared, v, w
            continue
        near, far = 2 * node + 1, 2 * node + 2
        to_near = _squared_to_box(tree.boxes, near, px, py, pz)
        to_far = _squared_to_box(tree.boxes, far, px, py, pz)
        if to_far < to_near:
            near, far, to_near, to_far = far, near, to_far, to_near
        if to_far < best:
            stack[top], room[top] = far, to_far
            top += 1
        if to_near < best:
            stack[top], room[top] = near, to_near
            top += 1
    return place, best, best_v, best_w


@njit(cache=True)
def make_memory():  # type: ignore[no-untyped-def]
    """Scratch for `nearest_on_tree`: nodes still to visit, and how near each may come."""
    return np.empty(64, dtype=np.int64), np.empty(64, dtype=np.float64)


@njit(cache=True, parallel=True)
def find_nearest_kernel(tree, points, limit):  # type: ignore[no-untyped-def]
    """Place, distance and weights for each row of points; place -1 and distance `limit` beyond the limit."""
    n = points.shape[0]
    places = np.empty(n, dtype=np.int64)
    found = np.empty((n, 3))
    for block in prange((n + BLOCK - 1) // BLOCK):
        memory = make_memory()
        for i in range(block * BLOCK, min(n, (block + 1) * BLOCK)):
            x, y, z = points[i, 0], points[i, 1], points[i, 2]
            place, squared, v, w = nearest_on_tree(tree, x, y, z, limit * limit, memory)
            places[i] = place
            found[i, 0], found[i, 1], found[i, 2] = np.sqrt(squared), v, w
    return places, found
