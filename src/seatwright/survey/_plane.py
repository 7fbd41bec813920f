"""Directions as points of the plane that touches the sphere at the occlusal normal, where great circles are straight.

Owns areas of directions as polygons: any shape, with holes, in several pieces. Refuses to know what bounds them.
"""

import math

import numpy as np
import shapely
from shapely import Polygon

from seatwright.arch import OcclusalFrame
from seatwright.quantities import FloatArray
from seatwright.survey._cone import pair_across

__all__ = [
    "find_deepest",
    "from_plane",
    "measure_depth_rad",
    "measure_solid_angle_sr",
    "polygons_of",
    "ring_directions",
    "to_plane",
]

_TURNS = 8  # judgement: directions in which a deeper place is looked for
_FINEST_RAD = 1e-7  # judgement: far below a thousandth of a degree
_FIRST_STEP = 0.3  # judgement: share of the depth; halved until nothing deeper is found


def to_plane(directions: FloatArray, frame: OcclusalFrame) -> FloatArray:
    """Return the points of directions of shape (..., 3): tangents of the lean to the back and to the left, (..., 2).

    Examples
    --------
    >>> x, y, z = np.eye(3)
    >>> to_plane(np.array([0.0, 1.0, 1.0]), OcclusalFrame(z, y, x))
    array([1., 0.])
    """
    ways = np.asarray(directions, dtype=float)
    return np.stack([ways @ frame.posterior, ways @ frame.left], axis=-1) / (ways @ frame.occlusal)[..., None]


def from_plane(points: FloatArray, frame: OcclusalFrame) -> FloatArray:
    """Return the unit directions, shape (..., 3), of points of the plane, shape (..., 2)."""
    at = np.asarray(points, dtype=float)
    ways = frame.occlusal + at[..., :1] * frame.posterior + at[..., 1:] * frame.left
    return np.asarray(ways / np.linalg.norm(ways, axis=-1, keepdims=True))


def polygons_of(area: shapely.Geometry) -> list[Polygon]:
    """Return the polygons with an area in any geometry, rings closed to the left."""
    parts = shapely.get_parts(area).ravel()
    flat = [p for part in parts for p in (polygons_of(part) if part.geom_type.startswith("Multi") else [part])]
    return [shapely.orient_polygons(p) for p in flat if isinstance(p, Polygon) and p.area > 0]


def ring_directions(area: Polygon, frame: OcclusalFrame) -> tuple[FloatArray, ...]:
    """Return the rings of a polygon as unit directions, shape (k, 3) each: the outline first, then the holes."""
    return tuple(from_plane(shapely.get_coordinates(ring)[:-1], frame) for ring in (area.exterior, *area.interiors))


def find_deepest(area: Polygon, frame: OcclusalFrame) -> tuple[FloatArray, float]:
    """Return the direction deepest inside an area of any shape, and its depth in radians: the in-radius.

    Notes
    -----
    From the middle of the widest circle in the plane, the place is moved on the sphere while it grows deeper.
    """
    rings = ring_directions(area, frame)
    middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(area))[0]
    here = from_plane(middle, frame)
    depth = measure_depth_rad(rings, here)
    step = _FIRST_STEP * depth
    while step > _FINEST_RAD:
        first, second = pair_across(here)
        turns = np.arange(_TURNS) * 2 * math.pi / _TURNS
        tried = here + math.tan(step) * (np.cos(turns)[:, None] * first + np.sin(turns)[:, None] * second)
        tried /= np.linalg.norm(tried, axis=1, keepdims=True)
        depths = [measure_depth_rad(rings, way) for way in tried]
        best = int(np.argmax(depths))
        if depths[best] > depth + 1e-12 and area.contains(shapely.Point(to_plane(tried[best], frame))):
            here, depth = tried[best], depths[best]
        else:
            step /= 2
    return here, depth


def measure_depth_rad(rings: tuple[FloatArray, ...], direction: FloatArray) -> float:
    """Return the angle from a direction to the nearest great-circle arc of rings of shape (k, 3)."""
    starts = np.vstack(rings)
    ends = np.vstack([np.roll(r, -1, axis=0) for r in rings])
    across = np.cross(starts, ends)
    size = np.linalg.norm(across, axis=1)
    normal = across / np.maximum(size, 1e-300)[:, None]
    foot = direction - normal * (normal @ direction)[:, None]
    over = np.einsum("ij,ij->i", np.cross(starts, foot), normal) >= 0
    over &= np.einsum("ij,ij->i", np.cross(foot, ends), normal) >= 0
    over &= size > 1e-14
    to_line = np.arcsin(np.clip(np.abs(normal @ direction), 0.0, 1.0))
    to_corner = np.arctan2(np.linalg.norm(np.cross(starts, direction), axis=1), starts @ direction)
    return float(min(to_corner.min(), np.min(to_line[over], initial=math.pi)))


def measure_solid_angle_sr(area: Polygon, frame: OcclusalFrame) -> float:
    """Return the solid angle of an area of any shape, holes taken out: signed triangles from the occlusal normal."""
    total = 0.0
    for ring in ring_directions(shapely.orient_polygons(area), frame):
        one, other = ring, np.roll(ring, -1, axis=0)
        triple = np.einsum("ij,ij->i", np.cross(one, other), np.broadcast_to(frame.occlusal, one.shape))
        beside = 1.0 + one @ frame.occlusal + other @ frame.occlusal + np.einsum("ij,ij->i", one, other)
        total += float(np.sum(2.0 * np.arctan2(triple, beside)))
    return abs(total)
