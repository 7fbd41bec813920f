"""Margins as line styles: what the crown's edge is made of, told by the line alone.

Solid broad: metal collar. Solid thin: metal knife edge. Ladder of ticks: ceramic butt. Dots: glass-ceramic. Dashes:
zirconia. Dashes with ticks: zirconia veneered to its edge. No color is needed.
"""

from collections.abc import Iterator, Mapping
from itertools import pairwise

import numpy as np

from seatwright.case import Margin, MarginKind, Margins, Surface
from seatwright.figures._outlines import PlacedTooth
from seatwright.figures._svg import Sheet, path_through
from seatwright.quantities import FloatArray

__all__ = ["MARGIN_WORDS", "draw_margin_line", "draw_margin_sides", "draw_margins", "margin_kinds"]

MARGIN_WORDS = {
    MarginKind.METAL_COLLAR: "metal collar",
    MarginKind.METAL_KNIFE_EDGE: "metal knife edge",
    MarginKind.CERAMIC_BUTT: "ceramic butt",
    MarginKind.GLASS_CERAMIC: "glass-ceramic",
    MarginKind.ZIRCONIA: "zirconia",
    MarginKind.ZIRCONIA_VENEERED: "zirconia, veneered edge",
}

_TICK_PITCH_MM = 1.0
_TICK_MM = 1.5


def margin_kinds(margins: Margins) -> tuple[tuple[Surface, Margin], ...]:
    """Return the four margins with their sides."""
    return tuple(margins.by_surface().items())


def draw_margins(sheet: Sheet, tooth: PlacedTooth, margins: Margins) -> None:
    """Draw each side's margin just inside the outline."""
    draw_margin_sides(sheet, tooth, {surface: margin.kind for surface, margin in margin_kinds(margins)})


def draw_margin_sides(sheet: Sheet, tooth: PlacedTooth, kinds: Mapping[Surface, MarginKind | None]) -> None:
    """Draw each side's margin just inside the outline; a side without one stays empty."""
    for surface, run in _runs(tooth):
        kind = kinds.get(surface)
        if kind is not None:
            draw_margin_line(sheet, run, kind, inwards_to=np.asarray(tooth.center))


def draw_margin_line(sheet: Sheet, run: FloatArray, kind: MarginKind, *, inwards_to: FloatArray) -> None:
    """Draw one margin along a run of points, on the side of `inwards_to`."""
    along = np.gradient(run, axis=0)
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    normal[((inwards_to - run) * normal).sum(axis=1) < 0] *= -1
    if kind is MarginKind.METAL_COLLAR:
        _stroke(sheet, run + 0.65 * normal, 1.3)
    elif kind is MarginKind.METAL_KNIFE_EDGE:
        _stroke(sheet, run + 0.15 * normal, 0.6)
    elif kind is MarginKind.GLASS_CERAMIC:
        _stroke(sheet, run + 0.75 * normal, 0.8, dashes="0 1.5", cap="round")
    elif kind is MarginKind.ZIRCONIA:
        _stroke(sheet, run + 0.7 * normal, 0.8, dashes="2 1")
    elif kind is MarginKind.ZIRCONIA_VENEERED:
        _stroke(sheet, run + (_TICK_MM + 0.2) * normal, 0.5, dashes="2 1")
        _ticks(sheet, run, normal)
    else:
        _stroke(sheet, run + _TICK_MM * normal, 0.2)
        _ticks(sheet, run, normal)


def _stroke(sheet: Sheet, run: FloatArray, width_mm: float, *, dashes: str = "none", cap: str = "butt") -> None:
    data = path_through([(float(x), float(y)) for x, y in run], closed=False)
    sheet.path(data, width_mm=width_mm, stroke_dasharray=dashes, stroke_linecap=cap)


def _ticks(sheet: Sheet, run: FloatArray, normal: FloatArray) -> None:
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(run, axis=0), axis=1))])
    n = max(int(lengths[-1] / _TICK_PITCH_MM), 1)
    at = np.linspace(0.0, lengths[-1], n + 1)
    starts = np.column_stack([np.interp(at, lengths, run[:, k]) for k in (0, 1)])
    inward = np.column_stack([np.interp(at, lengths, normal[:, k]) for k in (0, 1)])
    ends = starts + _TICK_MM * inward
    data = "".join(
        path_through([(float(a[0]), float(a[1])), (float(b[0]), float(b[1]))], closed=False)
        for a, b in zip(starts, ends, strict=True)
    )
    sheet.path(data, width_mm=0.3)


def _runs(tooth: PlacedTooth) -> Iterator[tuple[Surface, FloatArray]]:
    """Yield each side's part of the outline, trimmed a little at the corners."""
    sides = tooth.surface_of
    n = len(sides)
    breaks = [i for i in range(n) if sides[i] is not sides[i - 1]]
    for start, end in pairwise([*breaks, breaks[0] + n]):
        run = tooth.outline[np.arange(start, end + 1) % n]
        if len(run) >= 4:
            yield sides[start], run[1:-1]
