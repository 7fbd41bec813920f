"""The window of paths that guides leave: how wide, what limits each side, what opening it would take.

Owns the picture of a set of directions about one of them. Refuses to choose a path.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.quantities import FloatArray
from seatwright.survey._cone import Cone, angle_between_rad
from seatwright.survey._cones import ConeRegion, intersect_cones, reach_towards
from seatwright.survey._shared_float import find_float_center, reach_with_float
from seatwright.survey._tilt import Tilt, measure_tilt
from seatwright.survey._walls import Wall

__all__ = [
    "SEARCH",
    "PathWindow",
    "SideLimit",
    "centered_window",
    "centroid_of",
    "floating_window",
    "four_sides",
    "lies_inside",
    "rays_around",
    "search_cone",
    "turned",
]

SEARCH = "search"
_NOTHING_MM = 3e-6  # judgement: three nanometers of missing room are none
_AROUND = 96  # judgement: one ray every 3.75 degrees draws a smooth outline; corners of polygons are added
_NAMED_SHARE = 0.05  # judgement: a wall with less than a twentieth of the dual is not named
_AROUND_ONCE = 16  # judgement: enough for a centroid
_AROUND_FLOAT = 48  # judgement: each ray costs a few linear programs


@dataclass(frozen=True, slots=True)
class SideLimit:
    """Where the window ends on one side.

    Attributes
    ----------
    side : str
        ``anterior``, ``posterior``, ``left`` or ``right``: where the withdraw direction leans.
    reach_deg : float
        From the path looked from.
    feature, limit : str
        What ends it, such as ``slide-35`` and ``mesial``; ``search`` is only the limit of the search.
    opening_um_per_deg : float or None
        By how much the gap there would have to grow for one degree more; None where no gap limits.
    """

    side: str
    reach_deg: float
    feature: str
    limit: str
    opening_um_per_deg: float | None


@dataclass(frozen=True, slots=True, eq=False)
class PathWindow:
    """Directions in which the partial leaves.

    Attributes
    ----------
    seat : str
        ``centered``: the males sit in the middle of their play; ``floating``: the whole partial may sit to one side.
    is_empty : bool
    center : ndarray of shape (3,)
        Withdraw direction deepest inside; when empty, the one that needs the least opening.
    center_tilt : Tilt or None
        None when the center leans 90 degrees or more.
    in_radius_deg : float
        From the center to the nearest limit; negative when empty.
    looked_from : ndarray of shape (3,)
        The path through which the extents are measured: the center, or the path chosen.
    antero_posterior_deg, lateral_deg : float
        Extents through it; 0 when it is not inside.
    solid_angle_deg2 : float or None
        Square degrees; None for a floating window.
    sides : tuple of SideLimit
        Empty when the path looked from is not inside.
    outline_deg : ndarray of shape (k, 2)
        Edge as projected angles (posterior, left), in order around.
    outline_limits : tuple of str
        What limits at each point of the outline.
    openings_um : mapping of str to float
        When empty: the gap per side that each deciding feature would need, if all of them open alike.
    n_parts : int
        Separate regions; windows of cones and half-spaces have one.
    """

    seat: str
    is_empty: bool
    center: FloatArray
    center_tilt: Tilt | None
    in_radius_deg: float
    looked_from: FloatArray
    antero_posterior_deg: float
    lateral_deg: float
    solid_angle_deg2: float | None
    sides: tuple[SideLimit, ...]
    outline_deg: FloatArray
    outline_limits: tuple[str, ...]
    openings_um: Mapping[str, float]
    n_parts: int = 1


def search_cone(frame: OcclusalFrame, max_tilt_deg: float) -> Cone:
    """Return the cone of the search: tilts up to a limit from the occlusal normal."""
    return Cone(frame.occlusal, math.radians(max_tilt_deg), SEARCH, f"limit of the search, {max_tilt_deg:g} degrees")


def centered_window(
    cones: Sequence[Cone], walls: Sequence[Wall], frame: OcclusalFrame, looked_from: FloatArray | None = None
) -> PathWindow:
    """Return the window of cones and half-spaces in closed form, seen from a path or from its own center.

    Parameters
    ----------
    cones : sequence of Cone
        Those of all guides, and the search cone.
    walls : sequence of Wall
        The same guides' walls, for what opening a side would take.
    frame : OcclusalFrame
    looked_from : ndarray of shape (3,), optional
        Withdraw direction; the center when absent or outside.
    """
    region = intersect_cones(cones)
    seen = region.center if looked_from is None or not lies_inside(cones, looked_from) else looked_from

    def ray(towards: FloatArray) -> _Ray:
        reach = reach_towards(cones, seen, towards)
        cone = cones[reach.cone]
        return _Ray(reach.angle_rad, cone.feature, cone.limit)

    around = rays_around(seen, _AROUND)
    around += [c - seen * float(np.dot(c, seen)) for c in region.corners if angle_between_rad(c, seen) > 1e-9]
    rays = [] if region.is_empty else [(ray(e), e) for e in around]
    openings = _openings_centered(region, cones, walls) if region.is_empty else {}
    sides = () if region.is_empty else tuple(_side(n, ray(e), walls) for n, e in four_sides(frame))
    window = _draw("centered", (region.center, region.depth_rad), seen, rays, frame, openings=openings)
    area = region.area_sr * math.degrees(1.0) ** 2
    return replace(window, solid_angle_deg2=area, **_extents(sides))


def floating_window(walls: Sequence[Wall], frame: OcclusalFrame, max_tilt_deg: float, start: FloatArray) -> PathWindow:
    """Return the window of one rigid partial that may sit to one side; the search cone ends it too.

    A first direction comes from linear programs; the center is the centroid of what rays about it reach; outline and
    in-radius come from rays about the center.
    """
    middle = find_float_center(walls, start)
    here, slack = middle.withdraw_direction, middle.room.slack_mm
    search = search_cone(frame, max_tilt_deg)
    if slack < -_NOTHING_MM or not lies_inside([search], here):
        gaps = {w.feature: w.gap_mm for w in walls if w.gap_mm > 0}
        openings = {name: (gap - slack) * 1000.0 for name, gap in gaps.items()} if slack < 0 else {}
        longest = max(w.length_mm for w in walls)
        return _draw(
            "floating", (here, math.atan2(min(slack, -_NOTHING_MM), longest)), here, [], frame, openings=openings
        )

    def ray(towards: FloatArray) -> _Ray:
        free, end = reach_with_float(walls, here, towards), reach_towards([search], here, towards)
        if end.angle_rad <= free.angle_rad:
            return _Ray(end.angle_rad, search.feature, search.limit)
        names = [name for name, share in free.limits if share >= _NAMED_SHARE]
        return _Ray(free.angle_rad, " and ".join(dict.fromkeys(n.partition(" ")[0] for n in names)), ", ".join(names))

    for n_rays in (_AROUND_ONCE, _AROUND_FLOAT):
        rays = [(ray(e), e) for e in rays_around(here, n_rays)]
        if n_rays == _AROUND_ONCE:
            here = centroid_of([turned(here, e, r.angle_rad) for r, e in rays], here)
    sides = tuple(_side(name, ray(e), walls) for name, e in four_sides(frame))
    window = _draw("floating", (here, min(r.angle_rad for r, _ in rays)), here, rays, frame, openings={})
    return replace(window, **_extents(sides))


def lies_inside(cones: Sequence[Cone], direction: FloatArray, *, within_rad: float = 1e-9) -> bool:
    """Whether a direction lies in every cone, to within a small angle."""
    return all(angle_between_rad(c.pole, direction) <= c.half_angle_rad + within_rad for c in cones)


@dataclass(frozen=True, slots=True)
class _Ray:
    angle_rad: float
    feature: str
    limit: str


def _draw(
    seat: str,
    middle: tuple[FloatArray, float],
    seen: FloatArray,
    rays: Sequence[tuple[_Ray, FloatArray]],
    frame: OcclusalFrame,
    *,
    openings: Mapping[str, float],
) -> PathWindow:
    center, depth_rad = middle
    ordered = sorted(
        rays, key=lambda item: math.atan2(*(float(np.dot(item[1], a)) for a in (frame.posterior, frame.left)))
    )
    points = [turned(seen, towards, ray.angle_rad) for ray, towards in ordered]
    outline = [_projected_deg(p, frame) for p in points]
    leans = float(np.dot(center, frame.occlusal)) > 1e-6
    return PathWindow(
        seat=seat,
        is_empty=depth_rad < -1e-11,
        center=center,
        center_tilt=measure_tilt(center, frame) if leans else None,
        in_radius_deg=math.degrees(depth_rad),
        looked_from=seen,
        antero_posterior_deg=0.0,
        lateral_deg=0.0,
        solid_angle_deg2=None,
        sides=(),
        outline_deg=np.array(outline).reshape(-1, 2),
        outline_limits=tuple(ray.feature for ray, _ in ordered),
        openings_um=openings,
    )


def _extents(sides: tuple[SideLimit, ...]) -> dict[str, Any]:
    reach = {s.side: s.reach_deg for s in sides}
    return {
        "sides": sides,
        "antero_posterior_deg": reach.get("anterior", 0.0) + reach.get("posterior", 0.0),
        "lateral_deg": reach.get("left", 0.0) + reach.get("right", 0.0),
    }


def _side(name: str, ray: _Ray, walls: Sequence[Wall]) -> SideLimit:
    named = ray.feature.split(" and ")
    lengths = [w.length_mm for w in walls if w.feature in named and w.gap_mm > 0]
    opening = max(lengths) * math.radians(1.0) * 1000.0 if lengths else None
    return SideLimit(name, math.degrees(ray.angle_rad), ray.feature, ray.limit, opening)


def _openings_centered(region: ConeRegion, cones: Sequence[Cone], walls: Sequence[Wall]) -> dict[str, float]:
    """Gap per side that lets each deciding guide open by the missing angle: L tan(atan(g/L) + missing)."""
    lengths = {w.feature: (w.length_mm, w.gap_mm) for w in walls}
    needed = {}
    for feature in dict.fromkeys(cones[i].feature for i in region.binding):
        if feature in lengths:
            length, gap = lengths[feature]
            needed[feature] = 1000.0 * length * math.tan(math.atan2(gap, length) - region.depth_rad)
    return needed


def four_sides(frame: OcclusalFrame) -> list[tuple[str, FloatArray]]:
    """Return the four sides by name with the vector that a lean towards each adds."""
    back, left = frame.posterior, frame.left
    return [("anterior", -back), ("posterior", back), ("left", left), ("right", -left)]


def rays_around(seen: FloatArray, n_rays: int) -> list[FloatArray]:
    """Return unit vectors at right angles to a direction, evenly around it."""
    side = np.array([1.0, 0.0, 0.0]) if abs(seen[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first = np.cross(side, seen)
    first /= np.linalg.norm(first)
    second = np.cross(seen, first)
    turns = np.linspace(0.0, 2 * math.pi, n_rays, endpoint=False)
    return [first * math.cos(t) + second * math.sin(t) for t in turns]


def centroid_of(outline: Sequence[FloatArray], about: FloatArray) -> FloatArray:
    """Centroid of the area inside an outline, in the plane that touches the sphere at `about`."""
    first, second = rays_around(about, 4)[:2]
    flat = np.array([[float(np.dot(p, first)), float(np.dot(p, second))] / np.dot(p, about) for p in outline])
    ahead = np.roll(flat, -1, axis=0)
    cross = flat[:, 0] * ahead[:, 1] - ahead[:, 0] * flat[:, 1]
    if abs(float(cross.sum())) < 1e-18:
        middle = flat.mean(axis=0)
    else:
        middle = ((flat + ahead) * cross[:, None]).sum(axis=0) / (3.0 * cross.sum())
    center = about + middle[0] * first + middle[1] * second
    return np.asarray(center / np.linalg.norm(center))


def turned(start: FloatArray, towards: FloatArray, angle_rad: float) -> FloatArray:
    """Turn a direction towards another by an angle, along their great circle."""
    ahead = towards - start * float(np.dot(start, towards))
    ahead = ahead / np.linalg.norm(ahead)
    return np.asarray(start * math.cos(angle_rad) + ahead * math.sin(angle_rad))


def _projected_deg(direction: FloatArray, frame: OcclusalFrame) -> tuple[float, float]:
    up, back, left = (float(np.dot(direction, a)) for a in (frame.occlusal, frame.posterior, frame.left))
    return math.degrees(math.atan2(back, up)), math.degrees(math.atan2(left, up))
