"""Closed solids over a plan grid: between a lower and an upper height wherever a mask holds, with upright walls."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["EdgeEnds", "raise_solid"]

EdgeEnds = Callable[[NDArray[np.int64], NDArray[np.int64], FloatArray, FloatArray], FloatArray]
"""Where the solid ends between an inner and an outer node: given node rows and columns of both, (n, 2) each, and
x, y of both, (n, 2) each, return (n, 4): x, y, low, high."""

_NO_HEIGHT_MM = 1e-5  # judgement: 10 nm, far above rounding; less is an edge, not a wall
# corners 0 to 3 and edges 4 to 7 (after each corner), counter-clockwise from the lower left
_RING = (0, 4, 1, 5, 2, 6, 3, 7)
_CORNER_STEPS = ((0, 0), (0, 1), (1, 1), (1, 0))


def _polygons(case: int) -> list[list[int]]:
    """Polygons of one cell by which corners are inside; two corners across from each other stay apart."""
    inside = [bool(case >> k & 1) for k in range(4)]
    if case in (5, 10):
        return [[k, 4 + k, 4 + (k - 1) % 4] for k in range(4) if inside[k]]
    cuts = [inside[k] != inside[(k + 1) % 4] for k in range(4)]
    ring = [t for t in _RING if (inside[t] if t < 4 else cuts[t - 4])]
    return [ring] if ring else []


_CASES = [_polygons(case) for case in range(16)]


def raise_solid(
    mask: NDArray[np.bool_],
    low_mm: FloatArray,
    high_mm: FloatArray,
    plan: tuple[float, float, float],
    ends: EdgeEnds,
) -> Surface | None:
    """Raise a closed solid between two heights over the nodes of a grid; None where the mask is empty.

    Parameters
    ----------
    mask : ndarray of shape (rows, columns), bool
        Nodes over which there is solid; none on the border of the grid.
    low_mm, high_mm : ndarray of shape (rows, columns)
        Heights at the nodes; only read where the mask holds.
    plan : (float, float, float)
        x of column 0, y of row 0, distance of the nodes, mm.
    ends : callable
        Says where between an inner and an outer node the solid ends, and its heights there; see `EdgeEnds`.

    Notes
    -----
    Marching squares: each cell's outline runs through the ends on its edges, and neighbors share them, so that every
    edge of the solid carries exactly two faces. Where both heights agree the solid tapers out without a wall.
    """
    if not mask.any():
        return None
    number = np.full(mask.shape, -1, dtype=np.int64)
    rows, columns = np.nonzero(mask)
    number[rows, columns] = np.arange(len(rows))
    left, bottom, pitch = plan
    nodes = np.column_stack([left + columns * pitch, bottom + rows * pitch, low_mm[mask], high_mm[mask]])
    cut_ids, cuts = _cut_edges(mask, plan, ends, first=len(nodes))
    points = np.vstack([nodes, cuts])
    tokens = _cell_tokens(number, cut_ids)
    case = sum((mask[r : mask.shape[0] - 1 + r, c : mask.shape[1] - 1 + c].astype(int) << k)
               for k, (r, c) in enumerate(_CORNER_STEPS))  # fmt: skip
    triangles, walls = [], []
    for code in range(1, 16):
        cells = tokens[np.asarray(case) == code]
        for polygon in _CASES[code] if len(cells) else ():
            triangles += [cells[:, [polygon[0], polygon[k], polygon[k + 1]]] for k in range(1, len(polygon) - 1)]
            pairs = zip(polygon, polygon[1:] + polygon[:1], strict=True)
            walls += [cells[:, [a, b]] for a, b in pairs if a >= 4 and b >= 4]
    return _close(points, np.vstack(triangles), np.vstack(walls))


def _cut_edges(
    mask: NDArray[np.bool_], plan: tuple[float, float, float], ends: EdgeEnds, *, first: int
) -> tuple[tuple[NDArray[np.int64], NDArray[np.int64]], FloatArray]:
    """Give numbers to the cut edges of the grid (along a row, up a column); ask where the solid ends on them."""
    left, bottom, pitch = plan
    ids, inner, outer = [], [], []
    for step in ((0, 1), (1, 0)):
        here = mask[: mask.shape[0] - step[0], : mask.shape[1] - step[1]]
        there = mask[step[0] :, step[1] :]
        cut = np.full(here.shape, -1, dtype=np.int64)
        at = np.argwhere(here != there)
        cut[tuple(at.T)] = first + np.arange(len(at))
        first += len(at)
        is_here = here[tuple(at.T)][:, None]
        inner.append(np.where(is_here, at, at + step))
        outer.append(np.where(is_here, at + step, at))
        ids.append(cut)
    a, b = np.vstack(inner), np.vstack(outer)
    xy = [np.column_stack([left + k[:, 1] * pitch, bottom + k[:, 0] * pitch]) for k in (a, b)]
    return (ids[0], ids[1]), ends(a, b, xy[0], xy[1])


def _cell_tokens(number: NDArray[np.int64], cut_ids: tuple[NDArray[np.int64], NDArray[np.int64]]) -> NDArray[np.int64]:
    along, up = cut_ids
    corners = [number[r : number.shape[0] - 1 + r, c : number.shape[1] - 1 + c] for r, c in _CORNER_STEPS]
    edges = [along[:-1], up[:, 1:], along[1:], up[:, :-1]]
    return np.stack([*corners, *edges], axis=-1)


def _close(points: FloatArray, triangles: NDArray[np.int64], walls: NDArray[np.int64]) -> Surface:
    """Top, bottom and walls of a solid whose points are rows of x, y, low, high."""
    n = len(points)
    upper = np.where(points[:, 3] - points[:, 2] > _NO_HEIGHT_MM, np.arange(n) + n, np.arange(n))
    a, b = walls[:, 0], walls[:, 1]
    faces = np.vstack(
        [
            upper[triangles],
            triangles[:, ::-1],
            np.column_stack([a, b, upper[b]]),
            np.column_stack([a, upper[b], upper[a]]),
        ]
    )
    one, two, three = faces.T
    faces = faces[(one != two) & (two != three) & (three != one)]
    vertices = np.vstack([points[:, [0, 1, 2]], points[:, [0, 1, 3]]])
    used, renumbered = np.unique(faces, return_inverse=True)
    return Surface(vertices[used], renumbered.reshape(faces.shape).astype(np.int32))
