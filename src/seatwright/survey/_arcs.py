"""The boundary of a region of directions: arcs of the cones that bound it, and the area inside."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.quantities import FloatArray
from seatwright.survey._cone import Cone, angle_between_rad, pair_across, point_on_cone

__all__ = ["Arc", "boundary_arcs", "measure_area_sr"]

_TOUCH = 1e-11  # judgement: rounding of a cosine; 1e-11 is far below a thousandth of a degree at any half angle used


@dataclass(frozen=True, slots=True)
class Arc:
    """Part of a region's boundary: on which cone, from which azimuth to which, counter-clockwise about its pole."""

    cone: int
    start_rad: float
    end_rad: float


def boundary_arcs(cones: Sequence[Cone]) -> tuple[Arc, ...]:
    """Return the arcs that bound the intersection, cone by cone; equal cones count once."""
    poles = np.array([c.pole / np.linalg.norm(c.pole) for c in cones], dtype=float)
    return _arcs(poles, np.array([c.half_angle_rad for c in cones], dtype=float))


def _arcs(poles: FloatArray, angles: FloatArray) -> tuple[Arc, ...]:
    found = []
    for i in range(len(poles)):
        twin = any(np.linalg.norm(poles[i] - poles[j]) < 1e-12 and abs(angles[i] - angles[j]) < 1e-12 for j in range(i))
        if not twin:
            found += [Arc(i, start, end) for start, end in _free_azimuths(i, poles, angles)]
    return tuple(found)


def _free_azimuths(i: int, poles: FloatArray, angles: FloatArray) -> list[tuple[float, float]]:
    """Stretches of circle i that lie inside every other cone."""
    first, second = pair_across(poles[i])
    along, around = math.cos(angles[i]), math.sin(angles[i])
    level, a, b = poles @ poles[i] * along, poles @ first * around, poles @ second * around
    size, center = np.hypot(a, b), np.arctan2(b, a)
    others = [
        j for j in range(len(poles)) if j != i and not np.allclose([size[j], level[j]], [0.0, math.cos(angles[j])])
    ]
    cuts = []
    for j in others:
        room = math.cos(angles[j]) - level[j]
        if abs(room) < size[j]:
            half = math.acos(room / size[j])
            cuts += [(center[j] - half) % (2 * math.pi), (center[j] + half) % (2 * math.pi)]

    def is_free(azimuth: float) -> bool:
        return all(
            level[j] + a[j] * math.cos(azimuth) + b[j] * math.sin(azimuth) >= math.cos(angles[j]) - _TOUCH
            for j in others
        )

    if not cuts:
        return [(0.0, 2 * math.pi)] if is_free(0.0) else []
    cuts = sorted(cuts)
    stretches = zip(cuts, [*cuts[1:], cuts[0] + 2 * math.pi], strict=True)
    return [(start, end) for start, end in stretches if end - start > 1e-12 and is_free(0.5 * (start + end))]


def measure_area_sr(poles: FloatArray, angles: FloatArray) -> float:
    """Solid angle inside the cones by Gauss and Bonnet; poles (n, 3) of unit length, half angles (n,)."""
    arcs = _arcs(poles, angles)
    ends = [_ends(poles[arc.cone], angles[arc.cone], arc) for arc in arcs]
    turning = sum((arc.end_rad - arc.start_rad) * math.cos(angles[arc.cone]) for arc in arcs)
    if len(arcs) > 1:
        starts = np.array([start for start, _ in ends])
        for arc, (_, end) in zip(arcs, ends, strict=True):
            following = arcs[int(np.argmin(np.linalg.norm(starts - end, axis=1)))]
            leaving, entering = np.cross(poles[arc.cone], end), np.cross(poles[following.cone], end)
            turning += angle_between_rad(leaving, entering)
    return max(2 * math.pi - turning, 0.0)


def _ends(pole: FloatArray, angle: float, arc: Arc) -> tuple[FloatArray, FloatArray]:
    cone = Cone(pole, float(angle))
    return point_on_cone(cone, arc.start_rad), point_on_cone(cone, arc.end_rad)
