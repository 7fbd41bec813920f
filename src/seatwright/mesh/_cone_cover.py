"""The lowest surface over a plan grid that a tapered tool leaves: cones hung from the places it touches. Compiled."""

import numpy as np
from numba import njit, prange

from seatwright.mesh._column_bins import find_top, is_covered
from seatwright.mesh._column_gaps import CLEAR_OF_NODES
from seatwright.mesh._columns import ColumnModel
from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.mesh._surface import IndexArray
from seatwright.quantities import FloatArray

__all__ = ["find_rises", "find_touch_points", "hang_cones"]

_HALVINGS = 24  # judgement: a tenth of a millimeter to 6 nm


@njit(cache=True)
def _stamp(points, cover, left, bottom, pitch, slope, floor):  # type: ignore[no-untyped-def]
    for i in range(points.shape[0]):
        reach = (points[i, 2] - floor) / slope
        first_row = max(int(np.ceil((points[i, 1] - reach - bottom) / pitch)), 0)
        last_row = min(int((points[i, 1] + reach - bottom) / pitch), cover.shape[0] - 1)
        first = max(int(np.ceil((points[i, 0] - reach - left) / pitch)), 0)
        last = min(int((points[i, 0] + reach - left) / pitch), cover.shape[1] - 1)
        for row in range(first_row, last_row + 1):
            dy = bottom + row * pitch - points[i, 1]
            for column in range(first, last + 1):
                dx = left + column * pitch - points[i, 0]
                height = points[i, 2] - slope * np.sqrt(dx * dx + dy * dy)
                cover[row, column] = max(cover[row, column], height)


@njit(cache=True, parallel=True)
def _see_sky(columns, points, slack):  # type: ignore[no-untyped-def]
    free = np.zeros(points.shape[0], dtype=np.bool_)
    for i in prange(points.shape[0]):
        free[i] = not is_covered(columns, points[i, 0], points[i, 1], points[i, 2] + slack)
    return free


@njit(cache=True)
def _cover_between(one, two, most_rise, t):  # type: ignore[no-untyped-def]
    """Height of the cover between two points: straight down, or up at the tool's slope until the second height."""
    return one + t * (two - one) if two < one else min(one + t * most_rise, two)


@njit(cache=True, parallel=True)
def _bisect_rises(columns, inside, outside, cover, slope):  # type: ignore[no-untyped-def]
    n = inside.shape[0]
    ends = np.empty((n, 4))
    for i in prange(n):
        dx, dy = outside[i, 0] - inside[i, 0], outside[i, 1] - inside[i, 1]
        length = np.sqrt(dx * dx + dy * dy)
        a, b = 0.0, 1.0
        for _ in range(_HALVINGS):
            t = 0.5 * (a + b)
            top, _face = find_top(columns, inside[i, 0] + t * dx, inside[i, 1] + t * dy)
            if np.isfinite(top) and top < _cover_between(cover[i, 0], cover[i, 1], slope * length, t):
                a = t
            else:
                b = t
        ends[i, 2] = find_top(columns, inside[i, 0] + a * dx, inside[i, 1] + a * dy)[0]
        ends[i, 3] = max(_cover_between(cover[i, 0], cover[i, 1], slope * length, a), ends[i, 2])
        a = min(max(a, CLEAR_OF_NODES), 1.0 - CLEAR_OF_NODES)
        ends[i, 0], ends[i, 1] = inside[i, 0] + a * dx, inside[i, 1] + a * dy
    return ends


def find_touch_points(model: ColumnModel, faces: IndexArray, taper_rad: float, *, spacing_mm: float) -> FloatArray:
    """Sample the edges on which a tool tapered about the vertical can rest, as far as they see the sky, (n, 3).

    Parameters
    ----------
    model : ColumnModel
        Built with bins.
    faces : ndarray of shape (m, 3)
        The surface's faces.
    taper_rad : float
        Half angle of the tool, > 0.
    spacing_mm : float
        Distance of the samples along an edge.

    Notes
    -----
    On a surface of flat faces these are the edges with one face flatter than the tool and one steeper.
    """
    corners = model.vertices_mm[faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(cross, axis=1)
    is_flat = cross[:, 2] >= np.sin(taper_rad) * size
    start = np.asarray(faces, dtype=np.int64)
    end = np.roll(start, -1, axis=1)
    keys = (np.minimum(start, end) * np.int64(len(model.vertices_mm)) + np.maximum(start, end)).ravel()
    owner = np.repeat(np.arange(len(faces)), 3)
    order = np.argsort(keys, kind="stable")
    same = keys[order][1:] == keys[order][:-1]
    one, two = order[:-1][same], order[1:][same]
    touches = is_flat[owner[one]] != is_flat[owner[two]]
    a, b = model.vertices_mm[start.ravel()[one[touches]]], model.vertices_mm[end.ravel()[one[touches]]]
    counts = np.maximum(np.ceil(np.linalg.norm(b - a, axis=1) / spacing_mm).astype(int), 1) + 1
    index = np.repeat(np.arange(len(a)), counts)
    place = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
    t = (place / (counts[index] - 1))[:, None]
    points = np.ascontiguousarray((1 - t) * a[index] + t * b[index])
    with KERNEL_LOCK:
        free = _see_sky(model.columns, points, 1e-6 * float(np.abs(model.vertices_mm).max()))
    return np.asarray(points[free])


def hang_cones(
    points_mm: FloatArray,
    plan: tuple[float, float, float],
    shape: tuple[int, int],
    taper_rad: float,
    *,
    floor_mm: float,
) -> FloatArray:
    """Height of the highest cone over each node of a grid, -inf where none reaches down to the floor.

    Parameters
    ----------
    points_mm : ndarray of shape (n, 3)
        Tips of the cones, which open downwards.
    plan : (float, float, float)
        x of column 0, y of row 0, distance of the nodes, mm.
    shape : (int, int)
        Rows and columns.
    taper_rad : float
        Half angle of the cones, > 0.
    floor_mm : float
        Cones are followed down to here.
    """
    cover = np.full(shape, -np.inf)
    _stamp(np.ascontiguousarray(points_mm), cover, *plan, 1.0 / np.tan(taper_rad), floor_mm)
    return cover


def find_rises(
    model: ColumnModel, inside_mm: FloatArray, outside_mm: FloatArray, cover_mm: FloatArray, taper_rad: float
) -> FloatArray:
    """Find where, from a plan point over which a cover lies towards another, surface and cover meet, or both end.

    Parameters
    ----------
    model : ColumnModel
    inside_mm, outside_mm : ndarray of shape (n, 2)
    cover_mm : ndarray of shape (n, 2)
        Height of the cover at both points; at the outer one what it rises to, where it rises.
    taper_rad : float
        The cover rises at most this steeply (angle from the vertical).

    Returns
    -------
    ndarray of shape (n, 4)
        x, y, height of the surface just before, height of the cover there.
    """
    with KERNEL_LOCK:
        return np.asarray(
            _bisect_rises(
                model.columns,
                np.ascontiguousarray(inside_mm),
                np.ascontiguousarray(outside_mm),
                np.ascontiguousarray(cover_mm),
                1.0 / np.tan(taper_rad),
            )
        )
