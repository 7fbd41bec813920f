"""A framework's window in a technician's terms: tilts, extents, and what limits each side."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.mesh import Withdrawal, find_block
from seatwright.quantities import FloatArray
from seatwright.survey._cone import Cone
from seatwright.survey._cones import reach_towards
from seatwright.survey._framework_remarks import Place
from seatwright.survey._part_edge import PartLimit, reach_of_part
from seatwright.survey._part_window import PartRegion
from seatwright.survey._path import InsertionPath
from seatwright.survey._tilt import Tilt, measure_tilt
from seatwright.survey._window import SEARCH, four_sides, search_cone

__all__ = ["FrameworkRegion", "FrameworkSide", "RegionViewer", "describe_region"]


@dataclass(frozen=True, slots=True)
class FrameworkSide:
    """Where the window ends on one side: how far, what is met there, and what opening one degree more would take."""

    side: str
    reach_deg: float
    at_mm: Place | None
    place: str
    opening_um_per_deg: float | None


@dataclass(frozen=True, slots=True, eq=False)
class FrameworkRegion:
    """One connected region of paths along which the framework enters.

    Attributes
    ----------
    withdraw_direction : (float, float, float)
        Deepest inside.
    tilt : Tilt
    in_radius_deg : float
        From there to the nearest limit.
    solid_angle_deg2 : float
        Square degrees, holes taken out.
    looked_from : (float, float, float)
        The path, where it lies in this region; else the deepest direction.
    antero_posterior_deg, lateral_deg : float
        Extents through it, up to the first limit on each side.
    sides : tuple of FrameworkSide
    outline_deg : ndarray of shape (k, 2)
        Outer edge as projected angles (posterior, left); of any shape.
    holes_deg : tuple of ndarray of shape (k, 2)
        Edges of what is blocked inside.
    """

    withdraw_direction: Place
    tilt: Tilt
    in_radius_deg: float
    solid_angle_deg2: float
    looked_from: Place
    antero_posterior_deg: float
    lateral_deg: float
    sides: tuple[FrameworkSide, ...]
    outline_deg: FloatArray
    holes_deg: tuple[FloatArray, ...]


@dataclass(frozen=True, slots=True, eq=False)
class RegionViewer:
    """What regions are told with: cast and part where it sits, how far was searched, and names of places."""

    pair: Withdrawal
    frame: OcclusalFrame
    max_tilt_deg: float
    name_place: Callable[[Place], str]


def describe_region(
    viewer: RegionViewer, region: PartRegion, path: InsertionPath | None, cones: Sequence[Cone] = ()
) -> FrameworkRegion:
    """Tell a region by tilts, extents and what limits each side, seen from the path where it lies inside.

    Parameters
    ----------
    viewer : RegionViewer
    region : PartRegion
    path : InsertionPath or None
    cones : sequence of Cone
        Guides that limit the region too; named where they end a side before the part does.
    """
    frame, seen = viewer.frame, region.center
    if path is not None:
        own = np.array(path.withdraw_direction)
        if (
            float(np.dot(own, frame.occlusal)) > 0
            and region.contains(own, frame)
            and find_block(viewer.pair, own) is None
        ):
            seen = own
    search = search_cone(frame, viewer.max_tilt_deg)
    limits = [(n, reach_of_part(viewer.pair, seen, way, search, locate=True), way) for n, way in four_sides(frame)]
    sides = tuple(_nearer(_side(name, limit, viewer.name_place), cones, seen, way) for name, limit, way in limits)
    reach = {s.side: s.reach_deg for s in sides}
    x, y, z = (float(v) for v in region.center)
    u, v, w = (float(v) for v in seen)
    return FrameworkRegion(
        withdraw_direction=(x, y, z),
        tilt=measure_tilt(region.center, frame),
        in_radius_deg=region.in_radius_deg,
        solid_angle_deg2=region.solid_angle_deg2,
        looked_from=(u, v, w),
        antero_posterior_deg=reach["anterior"] + reach["posterior"],
        lateral_deg=reach["left"] + reach["right"],
        sides=sides,
        outline_deg=_projected_deg(region.outline, frame),
        holes_deg=tuple(_projected_deg(hole, frame) for hole in region.holes),
    )


def _nearer(side: FrameworkSide, cones: Sequence[Cone], seen: FloatArray, way: FloatArray) -> FrameworkSide:
    """Return the side as the part limits it, or as the guides do where they end it first."""
    if not cones:
        return side
    reach = reach_towards(cones, seen, way)
    degrees, cone = math.degrees(reach.angle_rad), cones[reach.cone]
    if degrees >= side.reach_deg or cone.feature == SEARCH:
        return side
    return FrameworkSide(side.side, degrees, None, f"{cone.feature} {cone.limit}", None)


def _projected_deg(directions: FloatArray, frame: OcclusalFrame) -> FloatArray:
    up = directions @ frame.occlusal
    flat = [np.arctan2(directions @ axis, up) for axis in (frame.posterior, frame.left)]
    return np.asarray(np.degrees(np.column_stack(flat)))


def _side(name: str, limit: PartLimit, name_place: Callable[[Place], str]) -> FrameworkSide:
    place = "limit of the search" if limit.at_mm is None else name_place(limit.at_mm)
    return FrameworkSide(name, limit.reach_deg, limit.at_mm, place, limit.opening_um_per_deg)
