"""Units, gaps, joins, bars and attachments drawn on the placed arch."""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy.interpolate import make_interp_spline

from seatwright.case import Attachment, Bar, Case, Motion, Unit, UnitKind
from seatwright.figures._answers import UnitAnswer
from seatwright.figures._arch_plan import ArchPlan
from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, SHADE, is_grave
from seatwright.figures._margins import draw_margins
from seatwright.figures._outlines import PlacedTooth
from seatwright.figures._svg import Point, Sheet, path_through
from seatwright.quantities import FloatArray
from seatwright.workflows.results import Dossier

__all__ = [
    "attachment_at",
    "bar_middle",
    "draw_attachment_mark",
    "draw_bar_line",
    "draw_dentition",
    "draw_join_line",
    "outline_path",
    "run_of_bar",
]

_NUMBER_MM = 5.2
_RING_MM = 1.9


def draw_dentition(sheet: Sheet, dossier: Dossier, plan: ArchPlan, answers: dict[int, UnitAnswer]) -> None:
    """Draw everything that stands on the arch, lowest first."""
    case = dossier.case
    for join in case.join:
        draw_join_line(sheet, plan, join.units)
    units = {u.tooth: u for u in case.unit}
    under_bar = {t for bar in case.bar for t in _teeth_along(plan, bar.from_tooth, bar.to_tooth)}
    for tooth in plan.along():
        placed = plan.teeth[tooth]
        if tooth in units:
            _draw_unit(sheet, dossier, placed, units[tooth], answers.get(tooth))
        elif tooth in case.teeth.present or tooth in case.teeth.implants:
            _draw_natural(sheet, placed, dossier.label(tooth))
        else:
            replaced = tooth in case.teeth.missing_partial
            _draw_gap(sheet, placed, dossier.label(tooth), replaced=replaced, aside=tooth in under_bar)
    for bar in case.bar:
        draw_bar_line(sheet, run_of_bar(plan, bar.from_tooth, bar.to_tooth), n_stops=_n_stops(dossier, bar))
    for attachment in case.attachment:
        at = attachment_at(plan, case, attachment)
        if at is not None:
            draw_attachment_mark(sheet, at, rigid=attachment.motion is Motion.RIGID)


def outline_path(tooth: PlacedTooth, scale: float = 1.0) -> str:
    """Return a tooth's outline as path data, drawn in or out about its middle."""
    points = np.asarray(tooth.center) + scale * (tooth.outline - np.asarray(tooth.center))
    return path_through([(float(x), float(y)) for x, y in points], closed=True)


def _draw_unit(sheet: Sheet, dossier: Dossier, tooth: PlacedTooth, unit: Unit, answer: UnitAnswer | None) -> None:
    grave = answer is not None and is_grave(answer.severity)
    label = dossier.label(unit.tooth)
    with sheet.link(f"#unit-{unit.tooth}", answer.spoken if answer else label):
        sheet.path(outline_path(tooth), stroke=None, fill=PAPER)
        if unit.margin is not None:
            draw_margins(sheet, tooth, unit.margin)
        if unit.kind in (UnitKind.PRIMARY_CONUS, UnitKind.PRIMARY_TELESCOPE):
            sheet.path(outline_path(tooth, 0.72), width_mm=0.35)
        sheet.path(outline_path(tooth), stroke=ACCENT if grave else INK, width_mm=1.1 if grave else 0.2)
        if unit.kind in (UnitKind.IMPLANT_SCREWED, UnitKind.ON_ABUTMENT):
            sheet.circle(tooth.center, 4.4, fill=PAPER, width_mm=0.35)
        _number(sheet, tooth, label, bold=True, grave=grave)


def _draw_natural(sheet: Sheet, tooth: PlacedTooth, label: str) -> None:
    sheet.path(outline_path(tooth), stroke=FAINT, fill=SHADE, width_mm=0.3)
    _number(sheet, tooth, label)


def _draw_gap(sheet: Sheet, tooth: PlacedTooth, label: str, *, replaced: bool, aside: bool) -> None:
    """Draw a missing tooth: dotted where the partial replaces it; its number out of a bar's way."""
    if replaced:
        sheet.path(
            outline_path(tooth, 0.94), stroke=QUIET, width_mm=0.35, stroke_dasharray="0.1 1.3", stroke_linecap="round"
        )
    _number(sheet, tooth, label, facial=0.36 if aside else 0.0)


def _number(
    sheet: Sheet, tooth: PlacedTooth, label: str, *, bold: bool = False, grave: bool = False, facial: float = 0.0
) -> None:
    size = (_NUMBER_MM if bold else 4.2) * (1.0 if len(label) <= 2 else 0.85)
    x, y = tooth.at(0.0, facial)
    at = (x, y + 0.34 * size)
    halo = {"class": "s-paper", "stroke": PAPER.value, "stroke_width": 0.9} if bold else {}
    with sheet.group(paint_order="stroke", data_number=tooth.tooth, **halo):
        sheet.text(
            at, label, size_mm=size, bold=bold, anchor="middle", ink=(ACCENT if grave else INK) if bold else QUIET
        )


def draw_join_line(sheet: Sheet, plan: ArchPlan, units: Sequence[int]) -> None:
    """Link neighbors of one body by a bar across their contact."""
    teeth = [t for t in plan.along() if t in units]
    for first, second in pairwise(teeth):
        a, b = np.asarray(plan.teeth[first].center), np.asarray(plan.teeth[second].center)
        lingual = -(plan.teeth[first].facial + plan.teeth[second].facial)
        lingual /= np.linalg.norm(lingual)
        shift = lingual * 0.22 * (plan.teeth[first].half_bl_mm + plan.teeth[second].half_bl_mm)
        start, end = a + 0.25 * (b - a) + shift, b - 0.25 * (b - a) + shift
        sheet.line((float(start[0]), float(start[1])), (float(end[0]), float(end[1])), width_mm=2.6)


def _n_stops(dossier: Dossier, bar: Bar) -> int:
    return next((b.n_stops for b in dossier.dies.bars if b.bar == bar.id), bar.stops)


def _teeth_along(plan: ArchPlan, one: int, other: int) -> list[int]:
    order = plan.along()
    first, last = sorted((order.index(one), order.index(other)))
    return order[first : last + 1]


def run_of_bar(plan: ArchPlan, one: int, other: int) -> FloatArray:
    """Return a smooth run from unit to unit, a little to the tongue's side of the missing teeth."""
    teeth = [plan.teeth[t] for t in _teeth_along(plan, one, other)]
    run = np.array([p.at(0.0, -0.42) for p in teeth])
    if len(run) == 2:
        t = np.linspace(0.3, 0.7, 24)
        return np.column_stack([np.interp(t, [0.0, 1.0], run[:, k]) for k in (0, 1)])
    t = np.linspace(0.45, len(run) - 1.45, 16 * len(run))
    return np.asarray(make_interp_spline(np.arange(len(run)), run, k=2)(t))


def draw_bar_line(sheet: Sheet, run: FloatArray, *, n_stops: int) -> None:
    """Draw a bar as a rail of two lines, its resin stops as filled squares under it."""
    data = path_through([(float(x), float(y)) for x, y in run], closed=False)
    sheet.path(data, width_mm=2.4)
    sheet.path(data, stroke=PAPER, width_mm=1.5)
    for k in range(n_stops):
        where = (k + 1) / (n_stops + 1)
        x, y = run[int(where * (len(run) - 1))]
        sheet.add(
            "rect",
            x=float(x) - 1.1,
            y=float(y) - 1.1,
            width=2.2,
            height=2.2,
            fill=INK.value,
            transform=f"rotate(45 {x:.3f} {y:.3f})",
            **{"class": "f-ink"},
        )


def bar_middle(plan: ArchPlan, bar: Bar) -> tuple[Point, FloatArray]:
    """Return the middle of a bar on the page and the way out of the arch there."""
    run = run_of_bar(plan, bar.from_tooth, bar.to_tooth)
    middle = run[len(run) // 2]
    nearest = min(plan.teeth.values(), key=lambda p: math.dist(p.center, (float(middle[0]), float(middle[1]))))
    return (float(middle[0]), float(middle[1])), nearest.facial


def attachment_at(plan: ArchPlan, case: Case, attachment: Attachment) -> Point | None:
    """Return where an attachment stands on the page; None for one inside a crown (conus, telescope)."""
    if attachment.bar is not None:
        bar = next((b for b in case.bar if b.id == attachment.bar), None)
        return None if bar is None else bar_middle(plan, bar)[0]
    if attachment.tooth is None or attachment.tooth not in plan.teeth or attachment.surface is None:
        return None
    return plan.teeth[attachment.tooth].beside(attachment.surface, _RING_MM + 0.5)


def draw_attachment_mark(sheet: Sheet, at: Point, *, rigid: bool) -> None:
    """Draw an attachment as its axis seen from the end: closed ring rigid, broken ring resilient."""
    sheet.circle(at, _RING_MM, fill=PAPER, width_mm=0.5, stroke_dasharray="none" if rigid else "1.4 0.9")
    sheet.circle(at, 0.55, stroke=None, fill=INK)
