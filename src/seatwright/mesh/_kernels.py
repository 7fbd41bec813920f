"""Small compiled loops shared by the mesh room: no matrix library runs beside a parallel loop.

Parallel kernels must never run from two threads at once (the workqueue layer ends the process): every public function
that starts one holds `KERNEL_LOCK`.

Compiled functions carry no types: the compiler infers them, and a checker cannot see through it.
"""

from threading import Lock

import numpy as np
from numba import njit

__all__ = [
    "KERNEL_LOCK",
    "MIX",
    "add_at_vertices",
    "cross_edges",
    "find_bounds",
    "find_single_edges",
    "is_in_boxes",
    "move_rows",
    "rotate_rows",
]

KERNEL_LOCK = Lock()

# definition: any odd 64-bit numbers mix the bits of three coordinates
MIX = (np.uint64(0x9E3779B97F4A7C15), np.uint64(0xC2B2AE3D27D4EB4F), np.uint64(0x165667B19E3779F9))


@njit(cache=True)
def find_bounds(rows):  # type: ignore[no-untyped-def]
    """Return the lowest and the highest value of each column of rows (n, 3), shape (2, 3); NaN where one is NaN."""
    bounds = np.empty((2, 3))
    for k in range(3):
        low = high = rows[0, k]
        for i in range(rows.shape[0]):
            value = rows[i, k]
            if not low <= value:
                low = value
            if not high >= value:
                high = value
        bounds[0, k], bounds[1, k] = low, high
    return bounds


@njit(cache=True)
def is_in_boxes(rows, boxes, margin):  # type: ignore[no-untyped-def]
    """Whether each of the rows (n, 3) lies in one of the boxes (k, 2, 3), lowest and highest corner, or that near."""
    inside = np.zeros(rows.shape[0], dtype=np.bool_)
    for i in range(rows.shape[0]):
        for box in range(boxes.shape[0]):
            fits = True
            for k in range(3):
                fits &= boxes[box, 0, k] - margin <= rows[i, k] <= boxes[box, 1, k] + margin
            if fits:
                inside[i] = True
                break
    return inside


@njit(cache=True, nogil=True)
def move_rows(rows, transform):  # type: ignore[no-untyped-def]
    """Apply a 4x4 rigid motion to rows (n, 3)."""
    moved = np.empty_like(rows)
    for i in range(rows.shape[0]):
        x, y, z = rows[i, 0], rows[i, 1], rows[i, 2]
        for k in range(3):
            moved[i, k] = transform[k, 0] * x + transform[k, 1] * y + transform[k, 2] * z + transform[k, 3]
    return moved


@njit(cache=True)
def rotate_rows(rows, transform):  # type: ignore[no-untyped-def]
    """Apply only the rotation of a 4x4 rigid motion to rows (n, 3)."""
    moved = np.empty_like(rows)
    for i in range(rows.shape[0]):
        x, y, z = rows[i, 0], rows[i, 1], rows[i, 2]
        for k in range(3):
            moved[i, k] = transform[k, 0] * x + transform[k, 1] * y + transform[k, 2] * z
    return moved


@njit(cache=True, nogil=True)
def add_at_vertices(vertices, faces):  # type: ignore[no-untyped-def]
    """Sum the unit normals of the faces around each vertex, weighted by the corner angle; all in scalars."""
    total = np.zeros_like(vertices)
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = vertices[b, 0] - vertices[a, 0], vertices[b, 1] - vertices[a, 1], vertices[b, 2] - vertices[a, 2]
        vx, vy, vz = vertices[c, 0] - vertices[a, 0], vertices[c, 1] - vertices[a, 1], vertices[c, 2] - vertices[a, 2]
        x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        length = np.sqrt(x * x + y * y + z * z)
        if length <= 0:
            continue
        x, y, z = x / length, y / length, z / length
        uv, uu, vv = ux * vx + uy * vy + uz * vz, ux * ux + uy * uy + uz * uz, vx * vx + vy * vy + vz * vz
        at_a, at_b, at_c = np.arctan2(length, uv), np.arctan2(length, uu - uv), np.arctan2(length, vv - uv)
        total[a, 0] += x * at_a
        total[a, 1] += y * at_a
        total[a, 2] += z * at_a
        total[b, 0] += x * at_b
        total[b, 1] += y * at_b
        total[b, 2] += z * at_b
        total[c, 0] += x * at_c
        total[c, 1] += y * at_c
        total[c, 2] += z * at_c
    return total


@njit(cache=True, nogil=True)
def cross_edges(vertices, faces):  # type: ignore[no-untyped-def]
    """Cross product of two edges of each face (m, 3): its normal times twice its area."""
    cross = np.empty((faces.shape[0], 3))
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = vertices[b, 0] - vertices[a, 0], vertices[b, 1] - vertices[a, 1], vertices[b, 2] - vertices[a, 2]
        vx, vy, vz = vertices[c, 0] - vertices[a, 0], vertices[c, 1] - vertices[a, 1], vertices[c, 2] - vertices[a, 2]
        cross[f, 0], cross[f, 1], cross[f, 2] = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    return cross


@njit(cache=True, nogil=True)
def find_single_edges(faces, n_vertices):  # type: ignore[no-untyped-def]
    """Mark faces (m,) with an edge that no other face has: edges are sorted by their smaller vertex, then compared."""
    m = faces.shape[0]
    starts = np.zeros(n_vertices + 1, dtype=np.int64)
    for f in range(m):
        for k in range(3):
            starts[min(faces[f, k], faces[f, (k + 1) % 3]) + 1] += 1
    for v in range(n_vertices):
        starts[v + 1] += starts[v]
    place, other, owner = starts[:-1].copy(), np.empty(3 * m, dtype=np.int32), np.empty(3 * m, dtype=np.int32)
    for f in range(m):
        for k in range(3):
            one, two = faces[f, k], faces[f, (k + 1) % 3]
            at = place[min(one, two)]
            other[at], owner[at] = max(one, two), f
            place[min(one, two)] += 1
    is_single = np.zeros(m, dtype=np.bool_)
    for v in range(n_vertices):
        for i in range(starts[v], starts[v + 1]):
            n_same = 0
            for j in range(starts[v], starts[v + 1]):
                n_same += other[j] == other[i]
            if n_same == 1:
                is_single[owner[i]] = True
    return is_single
