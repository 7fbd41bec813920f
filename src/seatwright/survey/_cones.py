"""Sets of directions as intersections of cones and half-spaces on the sphere, in closed form.

Owns the geometry alone: a cone is a pole and a half angle, a half-space is a cone of 90 degrees. Refuses to know what
they come from.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.quantities import FloatArray
from seatwright.survey._arcs import measure_area_sr
from seatwright.survey._cone import Cone, angle_between_rad

__all__ = ["ConeRegion", "Reach", "intersect_cones", "reach_towards"]

_TOUCH = 1e-11  # judgement: rounding of a cosine; 1e-11 is far below a thousandth of a degree at any half angle used
_EASE_RAD = 1e-9  # judgement: lets the last corners stand clear of each other; far below a thousandth of a degree
_STEPS = 60  # judgement: halvings; 2^-60 of a turn is below rounding


@dataclass(frozen=True, slots=True, eq=False)
class ConeRegion:
    """Directions that lie in every cone.

    Attributes
    ----------
    is_empty : bool
    center : ndarray of shape (3,)
        The direction deepest inside; when empty, the one that needs the least opening.
    depth_rad : float
        Angle from the center to the nearest limit (the in-radius); negative when empty: by so much every cone would
        have to open before a direction is common to all.
    binding : tuple of int
        Places of the cones that decide center and depth.
    corners : ndarray of shape (k, 3)
        Where two limits meet on the boundary.
    area_sr : float
        Solid angle; 0 when empty.
    """

    is_empty: bool
    center: FloatArray
    depth_rad: float
    binding: tuple[int, ...]
    corners: FloatArray
    area_sr: float


@dataclass(frozen=True, slots=True)
class Reach:
    """How far one may turn from a direction before the first limit, and which one that is."""

    angle_rad: float
    cone: int


def intersect_cones(cones: Sequence[Cone]) -> ConeRegion:
    """Intersect cones and half-spaces on the sphere.

    Parameters
    ----------
    cones : sequence of Cone
        At least one; one of them narrower than a half-space (a search limit will do), so that the answer is bounded.

    Returns
    -------
    ConeRegion

    Raises
    ------
    ValueOutOfRange
        If no cone is given, or none is narrower than 90 degrees.

    Notes
    -----
    Two circles p.d = cos a and q.d = cos b meet on the sphere where d lies on the line common to their planes: at most
    two points, in closed form. The region is not empty exactly when one of these points, or a point of a circle that
    no other one meets, satisfies every cone. Its depth is the largest r for which the cones, each narrowed by r, still
    meet; narrowing may be negative. The area is that of Gauss and Bonnet: 2 pi less the turning of the boundary, an arc
    of a cone of half angle b over an azimuth f turning by f cos b.

    Examples
    --------
    >>> up = np.array([0.0, 0.0, 1.0])
    >>> region = intersect_cones([Cone(up, math.radians(6.0))])
    >>> round(math.degrees(region.depth_rad), 6), round(region.area_sr, 5)
    (6.0, 0.03442)
    """
    if not cones or min(c.half_angle_rad for c in cones) >= math.pi / 2:
        raise ValueOutOfRange("directions stay unbounded: one cone narrower than 90 degrees is needed")
    poles = np.array([c.pole / np.linalg.norm(c.pole) for c in cones], dtype=float)
    angles = np.array([c.half_angle_rad for c in cones], dtype=float)
    depth, center = _deepest(poles, angles)
    is_empty = depth < -_TOUCH
    margins = angles - np.array([angle_between_rad(p, center) for p in poles])
    binding = tuple(int(i) for i in np.flatnonzero(margins <= margins.min() + 1e-7))
    corners = np.empty((0, 3)) if is_empty else _inside(_meetings(poles, np.cos(angles)), poles, np.cos(angles))
    area = 0.0 if depth <= _EASE_RAD else measure_area_sr(poles, angles)
    return ConeRegion(is_empty, center, depth, binding, corners, area)


def reach_towards(cones: Sequence[Cone], from_direction: FloatArray, towards: FloatArray) -> Reach:
    """Turn from a direction towards another until the first cone is left; closed form on the great circle.

    Parameters
    ----------
    cones : sequence of Cone
    from_direction, towards : ndarray of shape (3,)
        Of any length; not parallel.

    Raises
    ------
    ValueOutOfRange
        If the two directions are parallel, so that they span no great circle.
    """
    start = from_direction / np.linalg.norm(from_direction)
    ahead = towards - start * float(np.dot(start, towards))
    length = float(np.linalg.norm(ahead))
    if length < 1e-12:
        raise ValueOutOfRange("two parallel directions span no great circle")
    ahead = ahead / length
    best, which = math.pi, -1
    for i, cone in enumerate(cones):
        a, b = float(np.dot(cone.pole, start)), float(np.dot(cone.pole, ahead))
        size, edge = math.hypot(a, b), math.cos(cone.half_angle_rad)
        if size <= abs(edge):
            continue
        angle = math.atan2(b, a) + math.acos(edge / size)
        if 0.0 <= angle < best:
            best, which = angle, i
    return Reach(best, which)


def _deepest(poles: FloatArray, angles: FloatArray) -> tuple[float, FloatArray]:
    low, high = -math.pi, float(angles.min())
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        if len(_common(poles, angles - middle)):
            low = middle
        else:
            high = middle
    narrowed = angles - low + _EASE_RAD
    round_ones = narrowed < math.pi
    kept, edges = poles[round_ones], np.cos(narrowed[round_ones])
    found = _inside(_meetings(kept, edges), kept, edges) if len(kept) else np.empty((0, 3))
    if not len(found):
        found = _common(poles, narrowed)
    center = found.sum(axis=0)
    length = float(np.linalg.norm(center))
    if length < 1e-9:  # opposite poles, or narrower than rounding: no one middle
        return low, poles[int(np.argmin(angles))]
    return low, center / length


def _common(poles: FloatArray, angles: FloatArray) -> FloatArray:
    """Directions that show that cones meet: corners, else points of lone circles; empty when they do not."""
    if angles.min() < 0.0:
        return np.empty((0, 3))
    whole = angles >= math.pi
    if whole.all():
        return np.array([[0.0, 0.0, 1.0]])
    kept, edges = poles[~whole], np.cos(angles[~whole])
    candidates = np.concatenate([_meetings(kept, edges), kept, _any_on_circles(kept, edges)])
    return _inside(candidates, kept, edges)


def _inside(candidates: FloatArray, poles: FloatArray, edges: FloatArray) -> FloatArray:
    good = (np.einsum("ik,jk->ij", candidates, poles) >= edges - _TOUCH).all(axis=1)
    return np.asarray(candidates[good])


def _any_on_circles(poles: FloatArray, edges: FloatArray) -> FloatArray:
    """One point of each circle: the one nearest to the mean pole, so that a lone circle inside another is seen."""
    side = np.where(np.abs(poles[:, :1]) < 0.9, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]])
    across = np.cross(side, poles)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    return np.asarray(poles * edges[:, None] + across * np.sqrt(np.maximum(1.0 - edges**2, 0.0))[:, None])


def _meetings(poles: FloatArray, edges: FloatArray) -> FloatArray:
    """All points where two of the circles p.d = edge meet on the unit sphere, shape (k, 3)."""
    i, j = np.triu_indices(len(poles), 1)
    p, q = poles[i], poles[j]
    line = np.cross(p, q)
    squared = np.einsum("ij,ij->i", line, line)
    good = squared > 1e-24
    p, q, line, squared = p[good], q[good], line[good], squared[good]
    a, b = edges[i][good], edges[j][good]
    c = np.einsum("ij,ij->i", p, q)
    foot = (p * (a - b * c)[:, None] + q * (b - a * c)[:, None]) / squared[:, None]
    left = 1.0 - np.einsum("ij,ij->i", foot, foot)
    meets = left >= -_TOUCH
    up = line[meets] * np.sqrt(np.maximum(left[meets], 0.0) / squared[meets])[:, None]
    found: FloatArray = np.concatenate([foot[meets] + up, foot[meets] - up])
    length = np.linalg.norm(found, axis=1, keepdims=True)
    return np.asarray(found / np.where(length > 0, length, 1.0))
