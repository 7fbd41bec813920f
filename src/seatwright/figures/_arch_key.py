"""The two corners beside the front of the arch: what the lines mean, and how large everything is."""

import numpy as np

from seatwright.case import Arch, AttachmentKind, MarginKind, Motion, UnitKind
from seatwright.figures._arch_plan import SCALE
from seatwright.figures._arch_units import draw_attachment_mark, draw_bar_line
from seatwright.figures._ink import INK, QUIET
from seatwright.figures._margins import MARGIN_WORDS, draw_margin_line
from seatwright.figures._svg import Box, Point, Sheet
from seatwright.workflows.results import Dossier

__all__ = ["draw_key", "draw_scale_corner"]

_UNIT_MARKS = {
    "inner outline: cone or telescope": (UnitKind.PRIMARY_CONUS, UnitKind.PRIMARY_TELESCOPE),
    "ringed number: on an implant": (UnitKind.IMPLANT_SCREWED, UnitKind.ON_ABUTMENT),
}
_ROW_MM = 4.6
_SIZE_MM = 3.0
_SAMPLE_MM = 9.0


def draw_key(sheet: Sheet, dossier: Dossier, at: Point) -> Box:
    """Draw a sample of every line and mark that occurs; return the space taken."""
    case = dossier.case
    kinds = [k for k in MarginKind if any(u.margin and k in _kinds(u.margin) for u in case.unit)]
    x, y = at
    right = x
    for kind in kinds:
        run = np.column_stack([np.linspace(x, x + _SAMPLE_MM, 12), np.full(12, y - 1.6)])
        draw_margin_line(sheet, run, kind, inwards_to=np.array([x, y + 20.0]))
        right = max(right, _caption(sheet, x, y, MARGIN_WORDS[kind]))
        y += _ROW_MM
    if case.join:
        sheet.line((x + 1, y - 1.0), (x + _SAMPLE_MM - 1, y - 1.0), width_mm=2.0)
        right = max(right, _caption(sheet, x, y, "one body"))
        y += _ROW_MM
    if case.bar:
        run = np.column_stack([np.linspace(x, x + _SAMPLE_MM, 13), np.full(13, y - 1.0)])
        draw_bar_line(sheet, run, n_stops=1)
        right = max(right, _caption(sheet, x, y, "bar, resin stop"))
        y += _ROW_MM
    return Box(x, at[1] - 4.0, right, y - _ROW_MM + 1.0)


def draw_scale_corner(sheet: Sheet, dossier: Dossier, at: Point) -> Box:
    """Draw scale bar, sides and attachments, flush right; return the space taken."""
    x, y = at
    start = x - 10.0 * SCALE
    sheet.line((start, y - 1.0), (x, y - 1.0), INK, 0.5)
    for end in (start, x):
        sheet.line((end, y - 2.0), (end, y), INK, 0.5)
    left = min(start, sheet.text((start - 2, y), "10 mm", size_mm=_SIZE_MM, anchor="end").left)
    y += _ROW_MM
    arch = "maxilla" if dossier.case.arch is Arch.MAXILLA else "mandible"
    for line in (f"{arch}, biting side", f"average tooth sizes, {SCALE:g} : 1"):
        left = min(left, sheet.text((x, y), line, size_mm=_SIZE_MM, anchor="end", ink=QUIET).left)
        y += _ROW_MM * 0.92
    for motion in (Motion.RIGID, Motion.RESILIENT):
        kinds = sorted({a.kind.value.replace("_", " ") for a in dossier.case.attachment if _is_drawn(a, motion)})
        if kinds:
            box = sheet.text((x, y), f"{motion.value} {', '.join(kinds)}", size_mm=_SIZE_MM, anchor="end")
            draw_attachment_mark(sheet, (box.left - 3.2, y - 1.0), rigid=motion is Motion.RIGID)
            left = min(left, box.left - 6)
            y += _ROW_MM
    for words, kinds_meant in _UNIT_MARKS.items():
        if any(u.kind in kinds_meant for u in dossier.case.unit):
            left = min(left, sheet.text((x, y), words, size_mm=_SIZE_MM, anchor="end").left)
            y += _ROW_MM
    return Box(left, at[1] - 4.0, x, y - _ROW_MM + 1.0)


def _is_drawn(attachment: object, motion: Motion) -> bool:
    kind = getattr(attachment, "kind", None)
    return getattr(attachment, "motion", None) is motion and kind not in (
        AttachmentKind.CONUS,
        AttachmentKind.TELESCOPE,
    )


def _kinds(margins: object) -> set[MarginKind]:
    return {getattr(margins, side).kind for side in ("facial", "mesial", "lingual", "distal")}


def _caption(sheet: Sheet, x: float, y: float, text: str) -> float:
    return sheet.text((x + _SAMPLE_MM + 2.0, y), text, size_mm=_SIZE_MM).right
