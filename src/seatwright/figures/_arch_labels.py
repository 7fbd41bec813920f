"""Verdict words set around the arch so that none touches another.

Each label starts beside its unit, outwards, and is pushed further out until it is free; a thin leader then ties it.
"""

import math
from dataclasses import dataclass

from seatwright.figures._ink import ACCENT, INK, PAPER, QUIET, Ink, is_grave
from seatwright.figures._svg import Box, Point, Sheet
from seatwright.figures._text import measure_text_mm
from seatwright.findings import Severity
from seatwright.quantities import FloatArray

__all__ = ["Label", "PlacedLabel", "draw_label", "place_labels"]

_WORD_MM = 3.9
_NUMBER_MM = 3.4
_LINE_MM = 4.4
_PAD_MM = 0.9
_STEP_MM = 0.6
_N_STEPS = 100
_TURNS_DEG = (0, 12, -12, 24, -24, 36, -36, 50, -50, 65, -65)
_COST_PER_DEG = 0.08
_GAP_MM = 0.7


@dataclass(frozen=True, slots=True)
class Label:
    """What should stand beside something: starts at `at` and may move along `outwards`."""

    at: Point
    outwards: FloatArray
    word: str
    number: str = ""
    severity: Severity | None = None


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """A label with its place; `box` includes the padding."""

    label: Label
    box: Box
    moved_mm: float


def place_labels(labels: list[Label], *, blocked: list[Box], frame: Box) -> list[PlacedLabel]:
    """Place every label free of the others and of `blocked`, inside the frame's left and right edge."""
    placed: list[PlacedLabel] = []
    for label in sorted(labels, key=lambda item: abs(float(item.outwards[1]))):
        taken = blocked + [p.box for p in placed]
        placed.append(_place(label, taken, frame))
    return placed


def _place(label: Label, taken: list[Box], frame: Box) -> PlacedLabel:
    """Take the free place that costs least: distance, and turning away from straight outwards."""
    width, height = _size(label)
    best: tuple[float, PlacedLabel] | None = None
    for turn_deg in _TURNS_DEG:
        out = _turned(label.outwards, turn_deg)
        for step in range(_N_STEPS):
            moved = step * _STEP_MM
            cost = moved + abs(turn_deg) * _COST_PER_DEG
            if best is not None and cost >= best[0]:
                break
            box = _box_at(label.at, out, moved, (width, height), frame)
            if not any(box.overlaps(other, gap_mm=_GAP_MM) for other in taken):
                best = (cost, PlacedLabel(label, box, moved))
                break
    if best is None:
        return PlacedLabel(label, _box_at(label.at, _turned(label.outwards, 0), 0.0, (width, height), frame), 0.0)
    return best[1]


def _turned(direction: FloatArray, turn_deg: float) -> tuple[float, float]:
    angle = math.radians(turn_deg)
    x, y = float(direction[0]), float(direction[1])
    return x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle)


def _size(label: Label) -> tuple[float, float]:
    width = max(measure_text_mm(label.word, _WORD_MM, bold=True), measure_text_mm(label.number, _NUMBER_MM))
    return width + 2 * _PAD_MM, _LINE_MM * (2 if label.number else 1) + 2 * _PAD_MM


def _box_at(at: Point, out: tuple[float, float], moved: float, size: tuple[float, float], frame: Box) -> Box:
    width, height = size
    center_x = at[0] + out[0] * (moved + width / 2)
    center_y = at[1] + out[1] * (moved + height / 2)
    center_x = min(max(center_x, frame.left + width / 2), frame.right - width / 2)
    return Box(center_x - width / 2, center_y - height / 2, center_x + width / 2, center_y + height / 2)


def draw_label(sheet: Sheet, placed: PlacedLabel) -> None:
    """Draw one label: plain when all is well, boxed to take care, boxed boldly for a warning, reversed for a stop."""
    box, label = placed.box, placed.label
    middle = ((box.left + box.right) / 2, (box.top + box.bottom) / 2)
    if placed.moved_mm > 3.0:
        gap = math.dist(middle, label.at)
        end = _towards(label.at, middle, gap - min(box.right - box.left, box.bottom - box.top) / 2)
        sheet.line(label.at, end, QUIET, 0.2)
    ink: Ink = INK
    if label.severity is Severity.STOP:
        sheet.rectangle(box, stroke=None, fill=ACCENT, rx=0.8)
        ink = PAPER
    elif is_grave(label.severity):
        sheet.rectangle(box, stroke=ACCENT, fill=PAPER, width_mm=0.5, rx=0.8)
        ink = ACCENT
    elif label.severity is Severity.CAUTION:
        sheet.rectangle(box, stroke=INK, fill=PAPER, width_mm=0.25, rx=0.8)
    baseline = box.top + _PAD_MM + 0.78 * _LINE_MM
    sheet.text((middle[0], baseline), label.word, size_mm=_WORD_MM, bold=True, anchor="middle", ink=ink)
    if label.number:
        sheet.text((middle[0], baseline + _LINE_MM), label.number, size_mm=_NUMBER_MM, anchor="middle", ink=ink)


def _towards(start: Point, end: Point, distance: float) -> Point:
    length = math.dist(start, end) or 1.0
    share = max(distance, 0.0) / length
    return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share
