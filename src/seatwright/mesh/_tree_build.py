"""Bounding-box tree over triangles, built level by level: an implicit, balanced binary tree."""

from typing import NamedTuple

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["Tree", "build_tree"]

_LEAF_SIZE = 6  # judgement: fastest of 4 to 16 on 400k triangles
_TOP_LEVELS = 4  # judgement: sixteen pieces keep some cores busy evenly


class Tree(NamedTuple):
    """Arrays of a tree; node i has the children 2i + 1 and 2i + 2, leaves come last."""

    boxes: FloatArray
    """(n_nodes, 6): lower corner, upper corner, mm."""
    corners: FloatArray
    """(m, 9): the three corners of each triangle in leaf order, mm."""
    face_ids: NDArray[np.int32]
    """(m,): the face that stands at each place of the leaf order."""
    starts: NDArray[np.int64]
    """(n_leaves + 1,): range of places of each leaf."""


def build_tree(surface: Surface) -> Tree:
    """Build the tree over all faces with an area; O(m log m)."""
    corners, middles, has_area = gather_corners(surface.vertices_mm, surface.faces)
    ids = np.flatnonzero(has_area).astype(np.int32)
    if len(ids) < len(has_area):
        corners, middles = corners[ids], middles[ids]
    depth = max(0, int(np.ceil(np.log2(max(1.0, len(ids) / _LEAF_SIZE)))))
    levels = [np.array([0, len(ids)], dtype=np.int64)]
    for _level in range(depth):
        levels.append(_halve(levels[-1]))
    order = np.arange(len(ids), dtype=np.int64)
    with KERNEL_LOCK:
        for level in range(min(depth, _TOP_LEVELS)):
            _split_ranges(order, middles, levels[level], 1)
        if depth > _TOP_LEVELS:
            # small enough for a core's cache: each piece is finished by one core
            _split_ranges(order, middles, levels[_TOP_LEVELS], depth - _TOP_LEVELS)
        corners = _reorder(corners, order)
        boxes = _fit_boxes(corners, levels[-1])
    return Tree(boxes, corners, ids[order], levels[-1])


def _halve(starts: NDArray[np.int64]) -> NDArray[np.int64]:
    finer = np.empty(2 * len(starts) - 1, dtype=np.int64)
    finer[::2] = starts
    finer[1::2] = (starts[:-1] + starts[1:]) // 2
    return finer


@njit(cache=True, nogil=True)
def gather_corners(vertices, faces):  # type: ignore[no-untyped-def]
    """Corners (m, 9), middles (m, 3) and whether each face has an area."""
    m = faces.shape[0]
    corners, middles, has_area = np.empty((m, 9)), np.empty((m, 3)), np.empty(m, dtype=np.bool_)
    for f in range(m):
        for c in range(3):
            for k in range(3):
                corners[f, 3 * c + k] = vertices[faces[f, c], k]
        for k in range(3):
            middles[f, k] = (corners[f, k] + corners[f, 3 + k] + corners[f, 6 + k]) / 3
        ux, uy, uz = corners[f, 3] - corners[f, 0], corners[f, 4] - corners[f, 1], corners[f, 5] - corners[f, 2]
        vx, vy, vz = corners[f, 6] - corners[f, 0], corners[f, 7] - corners[f, 1], corners[f, 8] - corners[f, 2]
        has_area[f] = uy * vz != uz * vy or uz * vx != ux * vz or ux * vy != uy * vx
    return corners, middles, has_area


@njit(cache=True, parallel=True)
def _split_ranges(order, middles, starts, n_levels):  # type: ignore[no-untyped-def]
    """Halve each range about the median of its widest axis, and its halves, `n_levels` deep; rows are moved along."""
    for k in prange(starts.shape[0] - 1):
        _split(order, middles, starts[k], starts[k + 1], n_levels)


@njit(cache=True)
def _split(order, middles, first, last, n_levels):  # type: ignore[no-untyped-def]
    stack = np.empty((64, 3), dtype=np.int64)
    stack[0, 0], stack[0, 1], stack[0, 2] = first, last, n_levels
    top = 1
    while top > 0:
        top -= 1
        start, end, left = stack[top, 0], stack[top, 1], stack[top, 2]
        middle = (start + end) // 2
        if end - start > 1:
            _select(order, middles, _widest_axis(middles, start, end), (start, end - 1, middle))
        if left > 1:
            stack[top, 0], stack[top, 1], stack[top, 2] = start, middle, left - 1
            stack[top + 1, 0], stack[top + 1, 1], stack[top + 1, 2] = middle, end, left - 1
            top += 2


@njit(cache=True)
def _widest_axis(middles, start, end):  # type: ignore[no-untyped-def]
    low, high = middles[start].copy(), middles[start].copy()
    for i in range(start + 1, end):
        for axis in range(3):
            low[axis], high[axis] = min(low[axis], middles[i, axis]), max(high[axis], middles[i, axis])
    best = 0
    for axis in range(1, 3):
        if high[axis] - low[axis] > high[best] - low[best]:
            best = axis
    return best


@njit(cache=True)
def _select(order, middles, axis, bounds):  # type: ignore[no-untyped-def]
    """Quickselect: everything before `wanted` is not larger along the axis than what follows."""
    left, right, wanted = bounds
    while left < right:
        pivot = middles[(left + right) // 2, axis]
        i, j = left, right
        while i <= j:
            while middles[i, axis] < pivot:
                i += 1
            while middles[j, axis] > pivot:
                j -= 1
            if i <= j:
                order[i], order[j] = order[j], order[i]
                for k in range(3):
                    middles[i, k], middles[j, k] = middles[j, k], middles[i, k]
                i += 1
                j -= 1
        if wanted <= j:
            right = j
        elif wanted >= i:
            left = i
        else:
            return


@njit(cache=True, parallel=True)
def _reorder(rows, order):  # type: ignore[no-untyped-def]
    moved = np.empty_like(rows)
    for i in prange(rows.shape[0]):
        moved[i] = rows[order[i]]
    return moved


@njit(cache=True, parallel=True)
def _fit_boxes(corners, starts):  # type: ignore[no-untyped-def]
    n_leaves = starts.shape[0] - 1
    boxes = np.empty((2 * n_leaves - 1, 6))
    first_leaf = n_leaves - 1
    for leaf in prange(n_leaves):
        for k in range(3):
            low, high = np.inf, -np.inf
            for i in range(starts[leaf], starts[leaf + 1]):
                for c in range(3):
                    value = corners[i, 3 * c + k]
                    low, high = min(low, value), max(high, value)
            boxes[first_leaf + leaf, k], boxes[first_leaf + leaf, 3 + k] = low, high
    for node in range(first_leaf - 1, -1, -1):
        for k in range(3):
            boxes[node, k] = min(boxes[2 * node + 1, k], boxes[2 * node + 2, k])
            boxes[node, 3 + k] = max(boxes[2 * node + 1, 3 + k], boxes[2 * node + 2, 3 + k])
    return boxes
