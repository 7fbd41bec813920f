"""Gums, saddles and the land around them, as one field along the arch.

Owns the arch's course (distance along, distance across) and the ridge's profile at each place along it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.ndimage import map_coordinates, spline_filter
from scipy.spatial import cKDTree

from seatwright.demo._blend import join_smoothly, meet_smoothly
from seatwright.quantities import FloatArray

__all__ = ["ArchCourse", "GumSite", "Ridge", "make_course", "make_ridge"]

_PLAN_STEP_MM = 0.5  # judgement: grid of the along/across table
_PLAN_MARGIN_MM = 16.0  # judgement: table reaches past the land
_ALONG_STEP_MM = 0.05  # judgement: profile tables
_LAND_HALF_MM = 9.5  # judgement: half-width of the trimmed cast
_WALL_SPREAD = 0.30  # judgement: ridge widens by this per mm of depth
_LONE_PAPILLA = 0.1  # judgement: what is left of a papilla beside a saddle
_BLUNT_MM = 0.8  # judgement: keeps a narrow ridge from being a knife
_UNDULATION_MM = 0.04  # judgement: gums are not smooth as glass


@dataclass(frozen=True, slots=True)
class ArchCourse:
    """Plan coordinates of the arch: `along` from right to left, `across` positive to the face.

    Attributes
    ----------
    origin_mm : ndarray of shape (2,)
        Plan position of the tables' first entry.
    along_table, across_table : ndarray of shape (nx, ny)
        Spline coefficients.
    half_length_mm : float
        The course runs from minus to plus this.
    """

    origin_mm: FloatArray
    along_table: FloatArray
    across_table: FloatArray
    half_length_mm: float

    def locate(self, x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return (along, across) in mm at plan positions (n,)."""
        index = np.stack([x_mm - self.origin_mm[0], y_mm - self.origin_mm[1]]) / _PLAN_STEP_MM
        along = map_coordinates(self.along_table, index, order=3, mode="nearest", prefilter=False)
        across = map_coordinates(self.across_table, index, order=3, mode="nearest", prefilter=False)
        return along, across


def make_course(centers_mm: FloatArray) -> ArchCourse:
    """Build the course through tooth centers (n, 2), ordered from the patient's right to the left."""
    chord = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(centers_mm, axis=0), axis=1))])
    spline = CubicSpline(chord, centers_mm)
    fine = np.linspace(0, chord[-1], 6001)
    path = spline(fine)
    ends = [(0, -1.0, np.arange(400, 0, -1)), (-1, 1.0, np.arange(1, 401))]
    tails = [path[k] + sign * spline(fine[k], 1) / np.linalg.norm(spline(fine[k], 1)) * 0.05 * steps[:, None]
             for k, sign, steps in ends]  # fmt: skip
    path = np.concatenate([tails[0], path, tails[1]])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    length -= length[-1] / 2
    low = centers_mm.min(axis=0) - _PLAN_MARGIN_MM
    n = np.ceil((centers_mm.max(axis=0) + _PLAN_MARGIN_MM - low) / _PLAN_STEP_MM).astype(int) + 1
    plan = np.stack(np.meshgrid(*(low[k] + _PLAN_STEP_MM * np.arange(n[k]) for k in (0, 1)), indexing="ij"), axis=-1)
    flat = plan.reshape(-1, 2)
    _, nearest = cKDTree(path).query(flat)
    nearest = np.clip(nearest, 1, len(path) - 2)
    tangent = path[nearest + 1] - path[nearest - 1]
    tangent /= np.linalg.norm(tangent, axis=1)[:, None]
    away = flat - path[nearest]
    along = length[nearest] + np.einsum("ij,ij->i", away, tangent)
    across = away[:, 0] * tangent[:, 1] - away[:, 1] * tangent[:, 0]
    shape = (int(n[0]), int(n[1]))
    return ArchCourse(
        origin_mm=low,
        along_table=spline_filter(along.reshape(shape), order=3),
        across_table=spline_filter(across.reshape(shape), order=3),
        half_length_mm=float(chord[-1] / 2),
    )


@dataclass(frozen=True, slots=True)
class GumSite:
    """What the gum does at one tooth's place.

    Attributes
    ----------
    along_mm, width_mm : float
        Where the place is on the course, and how long.
    crest_mm : float
        Height (occlusal coordinate) of the gum at mid-tooth, or of the saddle where the tooth is missing.
    papilla_mm : float
        How much higher it stands between this tooth and a standing neighbor.
    facial_mm, lingual_mm : float
        Half-widths of the ridge at its crest.
    across_mm : float
        Where the crest lies, to the face of the course when positive.
    round_mm : float
        Rounding of the crest.
    standing : bool
        Whether a tooth or implant comes through.
    """

    along_mm: float
    width_mm: float
    crest_mm: float
    papilla_mm: float
    facial_mm: float
    lingual_mm: float
    across_mm: float
    round_mm: float
    standing: bool


@dataclass(frozen=True, slots=True)
class Ridge:
    """Gum field; tables over the course, all mm."""

    course: ArchCourse
    first_along_mm: float
    crest_mm: FloatArray
    level_mm: FloatArray
    facial_mm: FloatArray
    lingual_mm: FloatArray
    across_mm: FloatArray
    round_mm: FloatArray
    ends_mm: tuple[float, float]
    land_mm: float

    def crest_at(self, along_mm: float) -> float:
        """Return the height of the crest at a place along the course, mm."""
        return float(self._read(np.array([along_mm]))[0][0])

    def distance(self, x_mm: FloatArray, y_mm: FloatArray, up_mm: FloatArray) -> FloatArray:
        """Gum field at plan positions and occlusal heights (n,)."""
        along, across = self.course.locate(x_mm, y_mm)
        crest, level, facial, lingual, middle, rounding = self._read(along)
        fine = np.sin(1.9 * along + 0.7 * across) * np.sin(1.3 * across - 0.8 * up_mm) * np.sin(0.37 * along + 1.0)
        depth = np.maximum(level - up_mm, -2.0)
        t = across - middle
        half = np.where(t > 0, facial, lingual) + _WALL_SPREAD * depth
        wall = (np.hypot(t, _BLUNT_MM) - half) * 0.95
        ridge = meet_smoothly_varying(wall, up_mm - crest, rounding) + _UNDULATION_MM * fine
        land = join_land(across, up_mm, self.land_mm)
        body = join_smoothly(ridge, land, 3.0)
        right, left = self.ends_mm
        end = np.maximum(along - left, right - along)
        return meet_smoothly(body, end, 4.0)

    def _read(self, along_mm: FloatArray) -> tuple[FloatArray, ...]:
        n = len(self.crest_mm)
        at = np.clip((along_mm - self.first_along_mm) / _ALONG_STEP_MM, 0, n - 1.001)
        low = at.astype(np.int64)
        part = at - low
        tables = (self.crest_mm, self.level_mm, self.facial_mm, self.lingual_mm, self.across_mm, self.round_mm)
        return tuple(table[low] * (1 - part) + table[low + 1] * part for table in tables)


def meet_smoothly_varying(first: FloatArray, second: FloatArray, radius_mm: FloatArray) -> FloatArray:
    """Smooth intersection whose rounding varies from point to point."""
    blend: FloatArray = np.maximum(radius_mm - np.abs(first - second), 0.0)
    return np.maximum(first, second) + blend**2 / (4 * radius_mm)


def join_land(across_mm: FloatArray, up_mm: FloatArray, land_mm: float) -> FloatArray:
    """Field of the land under the ridge: flat on top, upright walls, open downwards."""
    return meet_smoothly(np.abs(across_mm) - _LAND_HALF_MM, up_mm - land_mm, 1.5)


def make_ridge(course: ArchCourse, sites: Sequence[GumSite], *, pad_mm: float, land_below_mm: float) -> Ridge:
    """Build the ridge from the sites of all sixteen places, ordered from right to left.

    Parameters
    ----------
    course : ArchCourse
    sites : sequence of GumSite
    pad_mm : float
        Height of the retromolar pads (tuberosities) over the neighboring saddle.
    land_below_mm : float
        How far the land lies under the lowest crest.
    """
    first, last = sites[0], sites[-1]
    start = first.along_mm - first.width_mm / 2 - 4
    along = np.arange(start, last.along_mm + last.width_mm / 2 + 4, _ALONG_STEP_MM)
    places = np.array([first.along_mm - 20.0, *(s.along_mm for s in sites), last.along_mm + 20.0])

    def spread(values: Sequence[float]) -> FloatArray:
        level = PchipInterpolator(places, np.array([values[0], *values, values[-1]]))
        return np.asarray(level(along), dtype=float)

    level = spread([s.crest_mm for s in sites])
    for end in (first, last):
        level = level + (pad_mm * np.exp(-(((along - end.along_mm) / 4.5) ** 2)) if not end.standing else 0.0)
    return Ridge(
        course=course,
        first_along_mm=float(along[0]),
        crest_mm=level + _papillae(along, sites),
        level_mm=level,
        facial_mm=spread([s.facial_mm for s in sites]),
        lingual_mm=spread([s.lingual_mm for s in sites]),
        across_mm=spread([s.across_mm for s in sites]),
        round_mm=spread([s.round_mm for s in sites]),
        ends_mm=(first.along_mm - 5.0, last.along_mm + 5.0),
        land_mm=min(s.crest_mm for s in sites) - land_below_mm,
    )


def _papillae(along: FloatArray, sites: Sequence[GumSite]) -> FloatArray:
    """Rise of the gum between standing neighbors, and a small one beside a lone tooth."""
    rise = np.zeros_like(along)
    for left, right in pairwise(sites):
        if not (left.standing or right.standing):
            continue
        at = (left.along_mm + left.width_mm / 2 + right.along_mm - right.width_mm / 2) / 2
        both = left.standing and right.standing
        height = (
            min(left.papilla_mm, right.papilla_mm) if both else _LONE_PAPILLA * max(left.papilla_mm, right.papilla_mm)
        )
        spread = 0.34 * (left.width_mm + right.width_mm) / 2
        rise = rise + height * np.exp(-(((along - at) / spread) ** 2))
    return rise
