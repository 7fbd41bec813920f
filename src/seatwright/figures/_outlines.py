"""Tooth shapes in plan: four outlines of our own, bent into place on the arch.

Owns shape only. A tooth is drawn in its own directions first: a towards mesial, b towards facial, both from -1 to 1,
then scaled to its widths and turned along the arch.
"""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.arch import ToothPlace
from seatwright.case import Arch, Surface
from seatwright.figures._svg import Point
from seatwright.quantities import FloatArray

__all__ = ["PlacedTooth", "arch_side", "place_tooth"]

_Shape = tuple[tuple[float, float], ...]

# Corner points (a, b), from the mesial-facial corner towards distal, all own design.
_MOLAR_UPPER: _Shape = (
    (0.90, 0.70),
    (0.46, 0.97),
    (0.04, 0.92),
    (-0.46, 0.94),
    (-0.86, 0.60),
    (-0.97, -0.10),
    (-0.76, -0.80),
)
_MOLAR_UPPER += ((-0.30, -0.92), (0.34, -1.0), (0.84, -0.74), (1.0, 0.0))
_MOLAR_LOWER: _Shape = (
    (0.88, 0.74),
    (0.50, 0.97),
    (0.12, 0.93),
    (-0.28, 0.95),
    (-0.62, 0.83),
    (-0.90, 0.50),
    (-0.98, -0.08),
)
_MOLAR_LOWER += ((-0.80, -0.78), (-0.42, -0.95), (0.04, -0.91), (0.48, -0.98), (0.86, -0.76), (1.0, 0.0))
_PREMOLAR: _Shape = (
    (0.80, 0.66),
    (0.36, 0.99),
    (-0.32, 0.99),
    (-0.80, 0.66),
    (-0.96, 0.0),
    (-0.74, -0.66),
    (-0.26, -1.0),
)
_PREMOLAR += ((0.34, -0.98), (0.80, -0.62), (0.97, 0.02))
_CANINE: _Shape = (
    (0.88, 0.34),
    (0.46, 0.82),
    (0.02, 1.0),
    (-0.44, 0.78),
    (-0.93, 0.26),
    (-0.82, -0.34),
    (-0.42, -0.86),
)
_CANINE += ((0.02, -1.0), (0.44, -0.86), (0.82, -0.32))
_INCISOR: _Shape = (
    (0.99, 0.44),
    (0.62, 0.90),
    (0.0, 1.0),
    (-0.62, 0.90),
    (-0.99, 0.40),
    (-0.76, -0.36),
    (-0.44, -0.84),
)
_INCISOR += ((0.0, -1.0), (0.44, -0.84), (0.76, -0.34))

_SAMPLES_PER_SPAN = 12


def arch_side(tooth: int) -> float:
    """Return +1 on the patient's left, -1 on the right."""
    return 1.0 if tooth // 10 in (2, 3) else -1.0


@dataclass(frozen=True, slots=True)
class PlacedTooth:
    """A tooth's outline on the page.

    Attributes
    ----------
    tooth : int
    center : (float, float)
        Page position, mm.
    outline : ndarray of shape (n, 2)
        Closed outline on the page, mm, last point not repeated.
    surface_of : tuple of Surface
        Side of the crown that each outline point belongs to.
    facial, mesial : ndarray of shape (2,)
        Unit directions on the page.
    half_md_mm, half_bl_mm : float
        Half widths on the page.
    """

    tooth: int
    center: Point
    outline: FloatArray
    surface_of: tuple[Surface, ...]
    facial: FloatArray
    mesial: FloatArray
    half_md_mm: float
    half_bl_mm: float

    def at(self, mesial: float, facial: float) -> Point:
        """Return the page position at own coordinates (-1 to 1 inside the crown's widths)."""
        spot = np.asarray(self.center) + self.mesial * self.half_md_mm * mesial + self.facial * self.half_bl_mm * facial
        return float(spot[0]), float(spot[1])

    def beside(self, surface: Surface, gap_mm: float) -> Point:
        """Return the page position just outside one side."""
        along = {Surface.MESIAL: (1.0, 0.0), Surface.DISTAL: (-1.0, 0.0), Surface.FACIAL: (0.0, 1.0)}
        mesial, facial = along.get(surface, (0.0, -1.0))
        out = self.mesial * mesial * (self.half_md_mm + gap_mm) + self.facial * facial * (self.half_bl_mm + gap_mm)
        return self.center[0] + float(out[0]), self.center[1] + float(out[1])

    def beside_lingual(self, gap_mm: float) -> Point:
        """Return the page position a little inside the arch."""
        return self.beside(Surface.LINGUAL, gap_mm)


def place_tooth(place: ToothPlace, arch: Arch, *, origin: Point, scale: float) -> PlacedTooth:
    """Draw one tooth at its nominal place.

    Parameters
    ----------
    place : ToothPlace
    arch : Arch
        The maxilla is drawn with its front up, the mandible with its front down, so that the patient's right is always
        on the left of the page and nothing is mirrored.
    origin : (float, float)
        Page position of the front of the arch curve, mm.
    scale : float
        Page mm per mm in the mouth.
    """
    down = 1.0 if arch is Arch.MAXILLA else -1.0
    turn = np.array([[1.0, 0.0], [0.0, down]])
    heading = turn @ np.array([math.cos(place.heading_rad), math.sin(place.heading_rad)])
    facial = turn @ np.array([math.sin(place.heading_rad), -math.cos(place.heading_rad)])
    mesial = -arch_side(place.tooth) * heading
    center = np.asarray(origin) + scale * (turn @ np.array([place.x_mm, place.y_mm]))
    half_md, half_bl = scale * place.width_md_mm / 2, scale * place.width_bl_mm / 2

    def on_page(own: FloatArray) -> FloatArray:
        page: FloatArray = center + own[:, :1] * half_md * mesial + own[:, 1:] * half_bl * facial
        return page

    own = _smooth_closed(np.array(_shape_of(place.tooth, arch)))
    return PlacedTooth(
        tooth=place.tooth,
        center=(float(center[0]), float(center[1])),
        outline=on_page(own),
        surface_of=tuple(_surface_at(a, b) for a, b in own),
        facial=facial,
        mesial=mesial,
        half_md_mm=half_md,
        half_bl_mm=half_bl,
    )


def _shape_of(tooth: int, arch: Arch) -> tuple[tuple[float, float], ...]:
    position = tooth % 10
    if position >= 6:
        return _MOLAR_UPPER if arch is Arch.MAXILLA else _MOLAR_LOWER
    if position >= 4:
        return _PREMOLAR
    return _CANINE if position == 3 else _INCISOR


def _surface_at(a: float, b: float) -> Surface:
    if abs(b) >= abs(a):
        return Surface.FACIAL if b > 0 else Surface.LINGUAL
    return Surface.MESIAL if a > 0 else Surface.DISTAL


def _smooth_closed(corners: FloatArray) -> FloatArray:
    """Return a closed Catmull-Rom curve through the corners, shape (n * samples, 2)."""
    before, after, after_next = (np.roll(corners, shift, axis=0) for shift in (1, -1, -2))
    t = np.linspace(0.0, 1.0, _SAMPLES_PER_SPAN, endpoint=False)[None, :, None]
    p0, p1, p2, p3 = (p[:, None, :] for p in (before, corners, after, after_next))
    curve = 0.5 * (2 * p1 + (p2 - p0) * t + (2 * p0 - 5 * p1 + 4 * p2 - p3) * t**2 + (3 * p1 - p0 - 3 * p2 + p3) * t**3)
    return np.asarray(curve.reshape(-1, 2))
