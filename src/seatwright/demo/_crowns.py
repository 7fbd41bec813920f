"""A tooth as a field in its own frame: mesial, facial, occlusal, origin at the middle of the neck.

Owns crown form: neck, height of contour, cusps, marginal ridges, fissures, incisal edge, and the step of a crown's
margin. Knows nothing of the arch.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from seatwright.demo._blend import ease, join_smoothly, meet_smoothly
from seatwright.demo._tooth_tables import Cusp, Kind, ToothTable
from seatwright.quantities import FloatArray

__all__ = ["CrownEdge", "CrownShape", "make_crown_shape"]

_TABLE_STEPS = 600  # judgement: profile tables to about 0.02 mm
_LOWEST = -1.2  # judgement: roots end this far below the neck, in crown lengths


@dataclass(frozen=True, slots=True)
class CrownEdge:
    """The step of a crown's margin over the root.

    Attributes
    ----------
    step_mm : float
        How far the edge stands out; zero for a natural tooth.
    collar_mm : float
        Width of the metal collar under the veneer; zero for a butt edge.
    facial_mm, lingual_mm : float
        Height of the edge over the neck at mid-facial and mid-lingual.
    rise_mm : float
        Rise of the edge between the teeth.
    """

    step_mm: float = 0.0
    collar_mm: float = 0.0
    facial_mm: float = 0.0
    lingual_mm: float = 0.0
    rise_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class CrownShape:
    """A crown (with or without root) ready to be evaluated.

    Attributes
    ----------
    width_md_mm, width_bl_mm, height_mm : float
    mesial_mm, facial_mm, lingual_mm : ndarray of shape (n,)
        Half-widths over height, from `_LOWEST` to 1.05 crown lengths.
    kind : Kind
    edge : CrownEdge
    rooted : bool
        False for a pontic: it ends just under the neck.
    """

    width_md_mm: float
    width_bl_mm: float
    height_mm: float
    mesial_mm: FloatArray
    facial_mm: FloatArray
    lingual_mm: FloatArray
    kind: Kind
    edge: CrownEdge
    rooted: bool
    screw_channel: bool

    def distance(self, points: FloatArray) -> FloatArray:
        """Field at points (n, 3): mesial, facial, occlusal in mm."""
        m, f, o = points.T
        side = self._side(m, f, o)
        if self.edge.step_mm > 0:
            side = side - self._margin_step(m, f, o)
        top = self._top(m, f, o)
        solid = meet_smoothly(side, top, self.kind.edge_mm)
        if not self.rooted:
            lower = -(o + 0.15 * self.height_mm) + 0.035 * (m**2 + f**2)
            solid = meet_smoothly(solid, lower, 1.2)
        return solid

    def _side(self, m: FloatArray, f: FloatArray, o: FloatArray) -> FloatArray:
        """About the distance to the upright wall, first order in the superellipse."""
        steps = (o / self.height_mm - _LOWEST) / (1.05 - _LOWEST) * (len(self.mesial_mm) - 1)
        at = np.clip(steps, 0, len(self.mesial_mm) - 1.001)
        low = at.astype(np.int64)
        part = at - low

        def read(table: FloatArray) -> FloatArray:
            return table[low] * (1 - part) + table[low + 1] * part

        b = np.where(f >= 0, read(self.facial_mm), read(self.lingual_mm))
        a = read(self.mesial_mm) * (1 + self.kind.narrowing * np.clip(2 * f / self.width_bl_mm, -1.2, 1.2))
        if self.kind.groove:
            b = b * (1 - self._developmental_grooves(m, f, o))
        n = self.kind.exponent
        u, v = np.abs(m) / a + 1e-9, np.abs(f) / b + 1e-9
        x, y = u**n, v**n
        rho = (x + y) ** (1 / n)
        slope = rho ** (1 - n) * np.hypot(x / (u * a), y / (v * b))
        return (rho - 1) / slope

    def _developmental_grooves(self, m: FloatArray, f: FloatArray, o: FloatArray) -> FloatArray:
        """Share by which facial and lingual grooves draw the wall in."""
        half = self.width_md_mm / 2
        at = np.where(f > 0, self.kind.groove, 0.02) * half
        rise = ease((o / self.height_mm - 0.35) / 0.5)
        return 0.09 * np.exp(-(((m - at) / 0.9) ** 2)) * rise

    def _margin_step(self, m: FloatArray, f: FloatArray, o: FloatArray) -> FloatArray:
        """How far the crown stands out over the root surface, mm."""
        middle = (self.edge.facial_mm + self.edge.lingual_mm) / 2
        tilt = (self.edge.facial_mm - self.edge.lingual_mm) / self.width_bl_mm
        height = middle + tilt * f + self.edge.rise_mm * np.minimum(2 * np.abs(m) / self.width_md_mm, 1.3) ** 2
        over = self.edge.step_mm * ease((o - height) / 0.3 + 0.5)
        if self.edge.collar_mm > 0:
            over = over + 0.5 * self.edge.step_mm * ease((o - height - self.edge.collar_mm) / 0.3 + 0.5)
        fade: FloatArray = 1 - ease((o / self.height_mm - 0.40) / 0.25)
        return over * fade

    def _top(self, m: FloatArray, f: FloatArray, o: FloatArray) -> FloatArray:
        """About the distance above the occlusal surface or incisal edge."""
        half = self.width_md_mm / 2
        if not self.kind.cusps:
            corner = np.where(m > 0, 0.35, 0.6) * np.minimum(np.abs(m) / half, 1.2) ** 5
            edge = self.height_mm * (1 - 0.024 * f) - corner
            return np.asarray((o - edge) * 0.95, dtype=float)
        height = self._cusp_height(self.kind.cusps[0], m, f)
        for cusp in self.kind.cusps[1:]:
            height = -join_smoothly(-height, -self._cusp_height(cusp, m, f), 0.22)
        for level, side in ((self.kind.ridge_mesial, 1.0), (self.kind.ridge_distal, -1.0)):
            if level:
                away = m * side - 0.80 * half
                ridge = level * self.height_mm - np.sqrt((0.75 * away) ** 2 + 0.09) + 0.3
                height = -join_smoothly(-height, -ridge, 0.3)
        if self.screw_channel:
            hole = np.hypot(m, f)
            height = height - 0.35 * (1 - ease((hole - 0.8) / 0.3))
        return (o - height) * 0.85

    def _cusp_height(self, cusp: Cusp, m: FloatArray, f: FloatArray) -> FloatArray:
        half_m, half_f = self.width_md_mm / 2, self.width_bl_mm / 2
        dm, df = m - cusp.mesial * half_m, f - cusp.facial * half_f
        to_m, to_f = (cusp.to_mesial - cusp.mesial) * half_m, (cusp.to_facial - cusp.facial) * half_f
        length = float(np.hypot(to_m, to_f))
        to_m, to_f = to_m / length, to_f / length
        along = dm * to_m + df * to_f
        across = dm * to_f - df * to_m
        inner, beside, outer = self.kind.slopes
        blunt = self.kind.tip_mm * inner
        fall = np.where(along > 0, inner, outer) * along
        return cusp.height * self.height_mm + blunt - np.sqrt(fall**2 + (beside * across) ** 2 + blunt**2)


def make_crown_shape(
    table: ToothTable,
    *,
    width_md_mm: float,
    width_bl_mm: float,
    size: float = 1.0,
    edge: CrownEdge = CrownEdge(),
    rooted: bool = True,
    screw_channel: bool = False,
) -> CrownShape:
    """Build a crown from mean sizes; `size` scales all of them but the edge."""
    md, bl = width_md_mm * size, width_bl_mm * size
    neck_md, neck_bl, kind = table.neck_md_mm * size, table.neck_bl_mm * size, table.kind
    heights = np.linspace(_LOWEST, 1.05, _TABLE_STEPS)
    c = kind.contact
    mesial = _profile(
        heights,
        ((0.0, neck_md / 2), (0.5 * c, 0.28 * neck_md + 0.22 * md), (c, md / 2), (1.0, kind.top_width * md / 2)),
    )
    facial = _profile(heights, ((0.0, neck_bl / 2), *((h, w * bl) for h, w in kind.neck_to_tip_facial)))
    lingual = _profile(heights, ((0.0, neck_bl / 2), *((h, w * bl) for h, w in kind.neck_to_tip_lingual)))
    return CrownShape(
        width_md_mm=md,
        width_bl_mm=bl,
        height_mm=table.crown_mm * size,
        mesial_mm=mesial,
        facial_mm=facial,
        lingual_mm=lingual,
        kind=kind,
        edge=replace(edge, rise_mm=0.6 * table.neck_curve_mm),
        rooted=rooted,
        screw_channel=screw_channel,
    )


def _profile(heights: FloatArray, nodes: tuple[tuple[float, float], ...]) -> FloatArray:
    """Smooth profile through (height, half-width), tapering into the root below the neck."""
    neck = nodes[0][1]
    top = nodes[-1]
    inside = ((_LOWEST, 0.72 * neck), (-0.3, 0.94 * neck), *nodes, (1.05, top[1] * 0.98))
    x, y = zip(*inside, strict=True)
    return np.asarray(PchipInterpolator(x, y)(heights), dtype=float)
