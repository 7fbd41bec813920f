"""All rigid guides of one partial together: is there a path that serves them, and which of them decide."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.findings import Verdict, judge_upper_limit
from seatwright.survey._cone import Cone, angle_between_rad
from seatwright.survey._cones import intersect_cones
from seatwright.survey._walls import Guide, Wall, centered_cones
from seatwright.survey._window import SEARCH, PathWindow, centered_window, floating_window, search_cone

__all__ = ["AxisAngle", "RigidEntry", "enter_guides"]

_FIXED_DEG = 1.0  # judgement: below one degree there is nothing to choose on a tilting table


@dataclass(frozen=True, slots=True)
class AxisAngle:
    """Angle between the axes of two guides that decide."""

    one: str
    other: str
    angle_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class RigidEntry:
    """What the guides leave together.

    Attributes
    ----------
    guides, walls, cones : tuple
        `cones` ends with the search's.
    window : PathWindow
        Centered.
    floating : PathWindow or None
        None without guides, or when two of them leave to opposite sides.
    verdict : Verdict
        Whether one path serves all with every male centered; the axes' uncertainty counts where several decide.
    verdict_floating : Verdict
        The same with one common float.
    deciding : tuple of str
        Guides that decide, `search` left out.
    angles : tuple of AxisAngle
        Between the axes of the deciding ones, widest first.
    """

    guides: tuple[Guide, ...]
    walls: tuple[Wall, ...]
    cones: tuple[Cone, ...]
    window: PathWindow
    floating: PathWindow | None
    verdict: Verdict
    verdict_floating: Verdict
    deciding: tuple[str, ...]
    angles: tuple[AxisAngle, ...]

    @property
    def is_fixed(self) -> bool:
        """Whether a path is there and less than a degree is left around it."""
        if not self.guides or (self.window.is_empty and (self.floating is None or self.floating.is_empty)):
            return False
        return max(w.in_radius_deg for w in (self.window, self.floating) if w is not None) < _FIXED_DEG


def enter_guides(
    guides: Sequence[Guide], frame: OcclusalFrame, max_tilt_deg: float, *, u_axis_deg: float
) -> RigidEntry:
    """Intersect what the guides admit, centered and with one common float.

    Parameters
    ----------
    guides : sequence of Guide
    frame : OcclusalFrame
        In the guides' frame.
    max_tilt_deg : float
        Largest tilt from the occlusal normal.
    u_axis_deg : float
        Standard uncertainty of one guide's axis.

    The needed opening is judged against zero with the guard bands of JCGM 106:2012, 8.3; its uncertainty is that of one
    axis over the square root of the number of features that decide, zero when one feature decides alone.
    """
    walls = tuple(w for g in guides for w in g.walls)
    cones = (*(c for g in guides for c in centered_cones(g)), search_cone(frame, max_tilt_deg))
    window = centered_window(cones, walls, frame)
    floating = None
    opposed = any(float(np.dot(one.axis, other.axis)) <= 0 for one, other in combinations(guides, 2))
    if walls and not opposed:
        start = np.mean([g.axis for g in guides], axis=0)
        floating = floating_window(walls, frame, max_tilt_deg, start if window.is_empty else window.center)
    region = intersect_cones(cones)
    features = tuple(dict.fromkeys(cones[i].feature for i in region.binding))
    deciding = tuple(f for f in features if f != SEARCH)
    u = 0.0 if len(features) < 2 else u_axis_deg / math.sqrt(len(features))
    by_id = {g.id: g for g in guides}
    angles = [
        AxisAngle(a, b, math.degrees(angle_between_rad(by_id[a].axis, by_id[b].axis)))
        for a, b in combinations(deciding, 2)
    ]
    return RigidEntry(
        guides=tuple(guides),
        walls=walls,
        cones=cones,
        window=window,
        floating=floating,
        verdict=judge_upper_limit(-window.in_radius_deg, 0.0, u),
        verdict_floating=_verdict_floating(floating, u, opposed=opposed),
        deciding=deciding,
        angles=tuple(sorted(angles, key=lambda a: -a.angle_deg)),
    )


def _verdict_floating(floating: PathWindow | None, u_deg: float, *, opposed: bool) -> Verdict:
    if opposed:
        return Verdict.DOES_NOT_CONFORM
    if floating is None:
        return Verdict.CONFORMS
    return judge_upper_limit(-floating.in_radius_deg, 0.0, u_deg)
