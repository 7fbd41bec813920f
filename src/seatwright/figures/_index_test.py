"""The index test as a picture: for each end that was fixed, the index from the side and the gap read at every seat."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from seatwright.cast import FoilReading, IndexResult, tooth_of
from seatwright.figures._ink import ACCENT, FAINT, INK, QUIET, SHADE, Ink
from seatwright.figures._movements import choose_enlargement
from seatwright.figures._svg import Box, Sheet, path_through
from seatwright.figures._text import wrap_text
from seatwright.findings import Verdict

__all__ = ["draw_index_test"]

_WIDTH_MM = 186.0
_LEFT_MM, _RIGHT_MM = 36.0, 168.0
_OVERHANG_MM = 8.0
_DEEPEST_MM = 14.0
_FIELD_MM = 22.0  # what `choose_enlargement` fills
_INDEX_MM = 3.2
_POST_MM = 5.0
_ROW_MM = 45.0
_RIGHT_QUADRANTS = (1, 4)  # ISO 3950: the patient's right


@dataclass(frozen=True, slots=True)
class _Strip:
    """How seats and gaps become places on the page."""

    across: dict[str, float]
    factor: int
    off: frozenset[str]
    maybe: frozenset[str]
    tolerance_um: float

    def depth(self, gap_um: float) -> float:
        return min(gap_um / 1000.0 * self.factor, 1.15 * _DEEPEST_MM)


def draw_index_test(result: IndexResult) -> str:
    """Draw one strip per end that was fixed: where the index is held, the gaps that the foils leave, who is off.

    Gaps are drawn larger by a stated factor; a post ends between two ticks, the foil that entered and the one that did
    not. An abutment that alone explains every gap is filled; several that may are ringed.
    """
    strip = _fit(result)
    lines = wrap_text(result.headline, _WIDTH_MM, 5.0, bold=True, max_lines=4)
    top = 6.2 * len(lines) + 4.0
    height = top + _ROW_MM * len(result.fixed) + 14.0
    sheet = Sheet(
        "index-test",
        _WIDTH_MM,
        height,
        title=f"Index test, gaps drawn {strip.factor} times larger",
        description=_describe(result, strip),
    )
    ink = ACCENT if result.verdict is Verdict.DOES_NOT_CONFORM else INK
    for k, line in enumerate(lines):
        sheet.text((0.0, 5.0 + 6.2 * k), line, size_mm=5.0, bold=True, ink=ink)
    for row, fixed in enumerate(result.fixed):
        _draw_strip(sheet, fixed, [r for r in result.readings if r.fixed == fixed], strip, top + _ROW_MM * row)
    _draw_key(sheet, strip, height - 8.0)
    return sheet.to_svg()


def _fit(result: IndexResult) -> _Strip:
    names = _along_arch(result)
    at = dict(zip(result.seats, result.places_mm, strict=True))
    steps = [math.dist(at[a], at[b]) for a, b in pairwise(names)]
    reached = np.concatenate([[0.0], np.cumsum(steps)])
    scale = (_RIGHT_MM - _LEFT_MM) / max(float(reached[-1]), 1.0)
    limits = [v for r in result.readings for v in (r.passes_um, r.stops_um) if v is not None]
    deepest_um = max([*limits, 1.2 * result.asked.tolerance_um])
    held = frozenset(s for c in result.candidates for s in c.seats)
    sure = held if len(result.candidates) == 1 else frozenset[str]()
    return _Strip(
        {name: _LEFT_MM + scale * float(x) for name, x in zip(names, reached, strict=True)},
        choose_enlargement(deepest_um / 1000.0 * _FIELD_MM / _DEEPEST_MM),
        sure,
        held - sure,
        result.asked.tolerance_um,
    )


def _along_arch(result: IndexResult) -> list[str]:
    """Return the seats from the patient's right to the left; seats that are no teeth, each beside its nearest."""
    numbers = {name: tooth_of(name) for name in result.seats}
    if all(numbers.values()):
        return sorted(result.seats, key=lambda name: _position(numbers[name] or 0))
    at = {name: np.array(place) for name, place in zip(result.seats, result.places_mm, strict=True)}
    middle = np.mean(list(at.values()), axis=0)
    rest = list(result.seats)
    chain = [max(rest, key=lambda name: float(np.linalg.norm(at[name] - middle)))]
    rest.remove(chain[0])
    while rest:
        nearest = min(rest, key=lambda name: float(np.linalg.norm(at[name] - at[chain[-1]])))
        chain.append(nearest)
        rest.remove(nearest)
    return chain


def _position(tooth: int) -> int:
    return -(tooth % 10) if tooth // 10 in _RIGHT_QUADRANTS else tooth % 10


def _draw_strip(sheet: Sheet, fixed: str, readings: list[FoilReading], strip: _Strip, top: float) -> None:
    under = top + 9.0
    foot = under + 1.15 * _DEEPEST_MM + 5.0
    sheet.text((0.0, under - 1.0), "fixed at", size_mm=3.4, ink=QUIET)
    sheet.text((0.0, under + 4.2), fixed, size_mm=4.8, bold=True)
    xs = list(strip.across.values())
    limit = under + strip.depth(strip.tolerance_um)
    sheet.rectangle(
        Box(min(xs) - _OVERHANG_MM, under - _INDEX_MM, max(xs) + _OVERHANG_MM, under),
        stroke=INK,
        fill=SHADE,
        width_mm=0.4,
    )
    sheet.line((min(xs) - _OVERHANG_MM, limit), (max(xs) + _OVERHANG_MM, limit), QUIET, 0.3, stroke_dasharray="2 1.2")
    sheet.text((max(xs) + _OVERHANG_MM + 1.0, limit + 1.2), f"{strip.tolerance_um:g}", size_mm=3.3, ink=QUIET)
    gaps = {r.at: r for r in readings}
    for name, x in strip.across.items():
        ink = ACCENT if name in strip.off else INK
        if name == fixed:
            _draw_post(sheet, x, under, foot, ink)
            _draw_screw(sheet, x, under - _INDEX_MM)
        elif name in gaps:
            _draw_gap(sheet, x, (under, foot), gaps[name], strip)
        sheet.text((x, foot + 5.0), name, size_mm=4.2, bold=True, anchor="middle", ink=ink)
        if name in strip.maybe:
            sheet.circle((x, foot + 3.6), 3.5, stroke=ACCENT, width_mm=0.5)
        words = "held" if name == fixed else _words(gaps[name]) if name in gaps else "not read"
        is_over = name in gaps and gaps[name].passes_um > strip.tolerance_um
        sheet.text(
            (x, foot + 11.2), words, size_mm=3.4, bold=is_over, anchor="middle", ink=ACCENT if is_over else QUIET
        )


def _draw_post(sheet: Sheet, x: float, head: float, foot: float, ink: Ink) -> None:
    sheet.rectangle(
        Box(x - _POST_MM / 2, head, x + _POST_MM / 2, foot), stroke=ink, fill=ACCENT if ink is ACCENT else FAINT
    )


def _draw_screw(sheet: Sheet, x: float, over: float) -> None:
    corners = [(x - 2.2, over - 3.4), (x + 2.2, over - 3.4), (x, over - 0.2)]
    sheet.path(path_through(corners, closed=True), stroke=None, fill=INK)


def _draw_gap(sheet: Sheet, x: float, ends: tuple[float, float], reading: FoilReading, strip: _Strip) -> None:
    under, foot = ends
    least = under + strip.depth(reading.passes_um)
    most = under + (strip.depth(reading.stops_um) if reading.stops_um is not None else 1.15 * _DEEPEST_MM)
    ink = ACCENT if reading.at in strip.off else INK
    _draw_post(sheet, x, (least + most) / 2, foot, ink)
    side = x + _POST_MM / 2 + 1.6
    sheet.line((side, least), (side, most), ink, 0.4)
    for y in (least, most):
        sheet.line((side - 0.9, y), (side + 0.9, y), ink, 0.4)


def _words(reading: FoilReading) -> str:
    if reading.stops_um is None:
        return f"over {reading.passes_um:g} µm"
    if reading.passes_um == 0:
        return f"under {reading.stops_um:g} µm"
    return f"{reading.passes_um:g} to {reading.stops_um:g} µm"


def _draw_key(sheet: Sheet, strip: _Strip, y: float) -> None:
    sheet.line((0.0, y - 5.0), (_WIDTH_MM, y - 5.0), FAINT, 0.2)
    text = (
        f"From the side, arch unrolled. Gaps {strip.factor} times life size; dashed: {strip.tolerance_um:g} µm "
        "allowed; ticks: foil that entered, foil that did not."
    )
    sheet.text((0.0, y), text, size_mm=3.3, ink=QUIET)
    if strip.off or strip.maybe:
        words = "Filled: off." if strip.off else "Ringed: one of these is off; the gaps cannot tell which."
        sheet.text((0.0, y + 5.0), words, size_mm=3.3, ink=QUIET)


def _describe(result: IndexResult, strip: _Strip) -> str:
    parts = [result.headline, f"Gaps are drawn {strip.factor} times life size; {strip.tolerance_um:g} µm are allowed."]
    parts += [f"Fixed at {r.fixed}, gap at {r.at} {_words(r)}." for r in result.readings]
    parts += [f"The index did not sit at {name}." for name in result.unseated]
    return " ".join(parts)
