"""How a figure of marks lies on paper: distances know no left or right, so tooth numbers in the names are used."""

import re
from collections.abc import Sequence

import numpy as np

from seatwright.arch import nominal_layout
from seatwright.case import Arch
from seatwright.quantities import FloatArray

__all__ = ["nominal_places", "orient_figure", "tooth_of"]

_TOOTH = re.compile(r"^\s*([1-4])\s?\.?([1-8])(?!\d)")


def tooth_of(mark: str) -> int | None:
    """Return the ISO 3950 tooth number that a mark's name begins with, or None.

    Examples
    --------
    >>> tooth_of("44 mesial"), tooth_of("4.4"), tooth_of("bar"), tooth_of("444")
    (44, 44, None, None)
    """
    found = _TOOTH.match(mark)
    return int(found[1] + found[2]) if found else None


def nominal_places(marks: Sequence[str]) -> dict[str, tuple[float, float]]:
    """Return where marks named after teeth of one arch stand on an average arch, mm (patient's left, back).

    Marks without a tooth number are left out; all are, when both arches are named.
    """
    teeth = {mark: tooth for mark in marks if (tooth := tooth_of(mark)) is not None}
    for arch in (Arch.MANDIBLE, Arch.MAXILLA):
        layout = nominal_layout(arch)
        if teeth and all(tooth in layout for tooth in teeth.values()):
            return {mark: (layout[tooth].x_mm, layout[tooth].y_mm) for mark, tooth in teeth.items()}
    return {}


def orient_figure(points_mm: FloatArray, marks: Sequence[str]) -> tuple[FloatArray, bool]:
    """Return the rotation or reflection (d, d) into the sketch's axes, and whether it rests on tooth numbers.

    With three or more marks named after teeth the sketch shows the arch as the clinician faces it; else the longest
    extent lies across. Heights, in space, are upright but may be mirrored.
    """
    d = points_mm.shape[1]
    centered = points_mm - points_mm.mean(axis=0)
    _, _, axes = np.linalg.svd(centered, full_matrices=True)
    if d == 1:
        return np.eye(1), False
    places = nominal_places(marks)
    known = [k for k, mark in enumerate(marks) if mark in places]
    flat = centered @ axes[:2].T
    if len({places[marks[k]] for k in known}) < 3:
        return axes, False
    target = np.array([places[marks[k]] for k in known])
    seen = flat[known] - flat[known].mean(axis=0)
    left, _, right = np.linalg.svd((target - target.mean(axis=0)).T @ seen)
    turned = axes.copy()
    turned[:2] = (left @ right) @ axes[:2]
    return turned, True
