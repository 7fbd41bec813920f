"""Compiled counting on faces and edges: pieces, edges without exactly two faces, volumes, where faces look.

Compiled functions carry no types: the compiler infers them, and a checker cannot see through it.
"""

import numpy as np
from numba import njit

__all__ = ["count_odd_edges", "label_pieces", "measure_lean", "sum_sixfold_volumes"]

_LARGE_FAN = 64  # judgement: beyond it sorting is quicker than comparing all pairs


@njit(cache=True)
def label_pieces(faces, n_vertices):  # type: ignore[no-untyped-def]
    """Label each face with its connected piece, most faces first (ties: lowest vertex); also return how many."""
    parent = np.arange(n_vertices)
    for f in range(faces.shape[0]):
        for k in range(2):
            a, b = faces[f, 0], faces[f, k + 1]
            while parent[a] != a:
                parent[a] = parent[parent[a]]
                a = parent[a]
            while parent[b] != b:
                parent[b] = parent[parent[b]]
                b = parent[b]
            if a != b:
                parent[max(a, b)] = min(a, b)
    counts = np.zeros(n_vertices, dtype=np.int64)
    roots = np.empty(faces.shape[0], dtype=np.int64)
    for f in range(faces.shape[0]):
        a = np.int64(faces[f, 0])
        while parent[a] != a:
            a = parent[a]
        roots[f] = a
        counts[a] += 1
    found = np.flatnonzero(counts)
    order = np.argsort(-counts[found], kind="mergesort")
    rank = np.empty(n_vertices, dtype=np.int32)
    for place in range(len(order)):
        rank[found[order[place]]] = place
    labels = np.empty(faces.shape[0], dtype=np.int32)
    for f in range(faces.shape[0]):
        labels[f] = rank[roots[f]]
    return labels, len(found)


@njit(cache=True)
def count_odd_edges(faces, n_vertices, piece, n_pieces):  # type: ignore[no-untyped-def]
    """Count, a piece, edges without exactly two faces; and edges that two faces run along in the same sense."""
    starts = np.zeros(n_vertices + 1, dtype=np.int64)
    for f in range(faces.shape[0]):
        for k in range(3):
            starts[min(faces[f, k], faces[f, (k + 1) % 3]) + 1] += 1
    starts = np.cumsum(starts)
    at = starts[:-1].copy()
    code = np.empty(starts[-1], dtype=np.int64)
    owner = np.empty(starts[-1], dtype=np.int32)
    for f in range(faces.shape[0]):
        for k in range(3):
            a, b = np.int64(faces[f, k]), np.int64(faces[f, (k + 1) % 3])
            place = at[min(a, b)]
            code[place], owner[place] = 2 * max(a, b) + (1 if a < b else 0), piece[f]
            at[min(a, b)] += 1
    odd = np.zeros(n_pieces, dtype=np.int64)
    n_faults = 0
    for v in range(n_vertices):
        first, last = starts[v], starts[v + 1]
        n_faults += _judge_fan(code[first:last], owner[first:last], odd)
    return odd, n_faults


@njit(cache=True)
def _judge_fan(code, owner, odd):  # type: ignore[no-untyped-def]
    """Judge the edges from one vertex to higher ones; `odd` is added to, faults are returned."""
    n, faults = len(code), 0
    if n > _LARGE_FAN:
        order = np.argsort(code)
        code, owner = code[order], owner[order]
    done = np.zeros(n, dtype=np.bool_)
    for i in range(n):
        if done[i]:
            continue
        count, balance = 1, 1 if code[i] & 1 else -1
        for j in range(i + 1, n):
            if code[j] >> 1 == code[i] >> 1:
                done[j] = True
                count += 1
                balance += 1 if code[j] & 1 else -1
            elif n > _LARGE_FAN:
                break
        if count != 2:
            odd[owner[i]] += 1
        elif balance != 0:
            faults += 1
    return faults


@njit(cache=True)
def sum_sixfold_volumes(vertices, faces, piece, n_pieces, middle):  # type: ignore[no-untyped-def]
    """Six times the signed volume that each piece encloses about a middle (divergence theorem)."""
    total = np.zeros(n_pieces)
    for f in range(faces.shape[0]):
        i, j, k = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, az = vertices[i, 0] - middle[0], vertices[i, 1] - middle[1], vertices[i, 2] - middle[2]
        bx, by, bz = vertices[j, 0] - middle[0], vertices[j, 1] - middle[1], vertices[j, 2] - middle[2]
        cx, cy, cz = vertices[k, 0] - middle[0], vertices[k, 1] - middle[1], vertices[k, 2] - middle[2]
        total[piece[f]] += ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    return total


@njit(cache=True)
def measure_lean(vertices, faces, is_marked):  # type: ignore[no-untyped-def]
    """Twice the area of all faces; the same, each face by its share of marked corners; and the sum of face crosses."""
    area, marked, looks = 0.0, 0.0, np.zeros(3)
    for f in range(faces.shape[0]):
        i, j, k = faces[f, 0], faces[f, 1], faces[f, 2]
        ux, uy, uz = (
            vertices[j, 0] - vertices[i, 0],
            vertices[j, 1] - vertices[i, 1],
            vertices[j, 2] - vertices[i, 2],
        )
        vx, vy, vz = (
            vertices[k, 0] - vertices[i, 0],
            vertices[k, 1] - vertices[i, 1],
            vertices[k, 2] - vertices[i, 2],
        )
        x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        size = np.sqrt(x * x + y * y + z * z)
        area += size
        marked += size * (is_marked[i] + is_marked[j] + is_marked[k]) / 3.0
        looks[0] += x
        looks[1] += y
        looks[2] += z
    return area, marked, looks
