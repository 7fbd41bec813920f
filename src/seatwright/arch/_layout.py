"""Where teeth stand on an average arch, when no scan tells better.

Owns the nominal horseshoe: mean crown widths set side by side along a published arch curve, in plan, seen from the
occlusal side. A drawing and a default span use it; a verdict never does.
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from seatwright.case import Arch

__all__ = ["ToothPlace", "arch_curve_depth_mm", "nominal_layout", "nominal_span_mm"]


@dataclass(frozen=True, slots=True)
class ToothPlace:
    """A tooth's nominal place in plan.

    Attributes
    ----------
    tooth : int
        ISO 3950 number.
    x_mm, y_mm : float
        Center of the crown: x to the patient's left, y towards the back (LPS, z dropped). The curve's front is y = 0.
    heading_rad : float
        Direction of the arch at the tooth, from the patient's right to the left, measured from +x.
    width_md_mm, width_bl_mm : float
        Mean crown width along and across the arch.
    """

    tooth: int
    x_mm: float
    y_mm: float
    heading_rad: float
    width_md_mm: float
    width_bl_mm: float


# Mean crown widths in mm, (mesiodistal, buccolingual), positions 1 to 8: Wheeler's Dental Anatomy, Physiology and
# Occlusion, Table 1-1, from memory (evidence: tooth_widths_wheeler).
_WIDTHS_MM = {  # evidence: tooth_widths_wheeler
    Arch.MAXILLA: ((8.5, 7.0), (6.5, 6.0), (7.5, 8.0), (7.0, 9.0), (7.0, 9.0), (10.0, 11.0), (9.0, 11.0), (8.5, 10.0)),
    Arch.MANDIBLE: (
        (5.0, 6.0),
        (5.5, 6.5),
        (7.0, 7.5),
        (7.0, 7.5),
        (7.0, 8.0),
        (11.0, 10.5),
        (10.5, 10.0),
        (10.0, 9.5),
    ),
}
_EXPONENT = 0.8  # evidence: arch_beta_curve
# judgement: gives intermolar widths within 3 mm of published means
_RATIO_DEPTH_WIDTH = {Arch.MAXILLA: 0.80, Arch.MANDIBLE: 0.78}
_SAMPLES = 4001  # judgement: arc length to 1 µm


def arch_curve_depth_mm(x_mm: float, *, width_mm: float, depth_mm: float) -> float:
    """Distance Y of the beta arch curve from its posterior chord at lateral offset x, all mm.

    References
    ----------
    .. [1] Braun S, Hnat WP, Fender DE, Legan HL. The form of the human dental arch. Angle Orthod 1998;68:29-36
       (from memory): Y = 3.0314 D ((x/W + 1/2)(1/2 - x/W))^0.8; the constant is 2^1.6, so that Y(0) = D.

    Examples
    --------
    >>> round(arch_curve_depth_mm(10.0, width_mm=55.0, depth_mm=40.0), 3)
    35.709
    """
    return float(_depths_mm(np.array([x_mm]), width_mm, depth_mm)[0])


def _depths_mm(x_mm: NDArray[np.float64], width_mm: float, depth_mm: float) -> NDArray[np.float64]:
    fraction = (x_mm / width_mm + 0.5) * (0.5 - x_mm / width_mm)
    return np.asarray(4.0**_EXPONENT * depth_mm * np.clip(fraction, 0.0, None) ** _EXPONENT)


@cache
def nominal_layout(arch: Arch) -> dict[int, ToothPlace]:
    """Return the nominal place of each of the sixteen teeth of an arch, keyed by ISO 3950 number."""
    widths = _WIDTHS_MM[arch]
    half_length = sum(md for md, _ in widths)
    arch_width = 2 * half_length / _curve(arch, 1.0)[1][-1]  # the curve's depth goes with its width, so its length does
    points, lengths = _curve(arch, arch_width)
    middle = lengths[-1] / 2
    right, left = (1, 2) if arch is Arch.MAXILLA else (4, 3)
    places: dict[int, ToothPlace] = {}
    for quadrant, sign in ((right, -1.0), (left, 1.0)):
        reached = 0.0
        for position, (md, bl) in enumerate(widths, start=1):
            along = middle + sign * (reached + md / 2)
            reached += md
            x, y, heading = _at(points, lengths, along)
            tooth = 10 * quadrant + position
            places[tooth] = ToothPlace(tooth, x, y, heading, md, bl)
    return places


def nominal_span_mm(arch: Arch, teeth: tuple[int, ...]) -> float:
    """Greatest distance between nominal centers of the given teeth, mm; zero for fewer than two."""
    layout = nominal_layout(arch)
    return max(
        (
            math.hypot(layout[a].x_mm - layout[b].x_mm, layout[a].y_mm - layout[b].y_mm)
            for i, a in enumerate(teeth)
            for b in teeth[i + 1 :]
        ),
        default=0.0,
    )


def _curve(arch: Arch, width_mm: float) -> tuple[np.ndarray, np.ndarray]:
    depth = _RATIO_DEPTH_WIDTH[arch] * width_mm
    angle = np.linspace(-math.pi / 2, math.pi / 2, _SAMPLES)
    x = width_mm / 2 * np.sin(angle)
    y = depth - _depths_mm(x, width_mm, depth)
    points = np.column_stack([x, y])
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return points, lengths


def _at(points: np.ndarray, lengths: np.ndarray, along_mm: float) -> tuple[float, float, float]:
    x = float(np.interp(along_mm, lengths, points[:, 0]))
    y = float(np.interp(along_mm, lengths, points[:, 1]))
    step = 0.5
    ahead = [float(np.interp(along_mm + step, lengths, points[:, k])) for k in (0, 1)]
    behind = [float(np.interp(along_mm - step, lengths, points[:, k])) for k in (0, 1)]
    return x, y, math.atan2(ahead[1] - behind[1], ahead[0] - behind[0])
