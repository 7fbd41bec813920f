"""Each unit's shift with its 95 % interval against what is allowed."""

import math

from seatwright.arch import nominal_layout
from seatwright.cast import UnitMovement
from seatwright.figures._answers import VERDICT_WORDS
from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, SHADE
from seatwright.figures._svg import Box, Sheet
from seatwright.figures._text import wrap_text
from seatwright.findings import Verdict
from seatwright.workflows.results import CastStep

__all__ = ["draw_intervals", "nice_step", "sort_units"]

_WIDTH_MM = 186.0
_LEFT_MM = 16.0
_RIGHT_MM = 128.0
_ROW_MM = 9.0
_WHERE_MM = 54.0
_TOP_MM = 17.0
_MARKS = {Verdict.CONFORMS: "disc", Verdict.DOES_NOT_CONFORM: "square", Verdict.CANNOT_TELL: "ring"}


def nice_step(extent: float, n_steps: int = 6) -> float:
    """Return a step of 1, 2 or 5 times a power of ten that divides `extent` into about `n_steps`.

    Examples
    --------
    >>> nice_step(210.0), nice_step(0.7)
    (50.0, 0.2)
    """
    raw = extent / n_steps
    power = 10.0 ** math.floor(math.log10(raw))
    return next(k * power for k in (1.0, 2.0, 5.0, 10.0) if raw <= k * power * (1 + 1e-9))


def sort_units(cast: CastStep) -> list[UnitMovement]:
    """Return the units from the patient's right to the left; those of another arch last."""
    layout = nominal_layout(cast.reference_scan.arch)
    return sorted(cast.result.units, key=lambda u: layout[int(u.tooth)].x_mm if int(u.tooth) in layout else math.inf)


def draw_intervals(cast: CastStep) -> str:
    """Draw one row per unit: how far it shifted, how sure that is, and the verdict, as SVG text."""
    units = sort_units(cast)
    tolerance = cast.result.tolerance_um
    tops = [told.high_um for u in units if (told := u.told_shift) is not None]
    top_um = 1.08 * max([*tops, 1.4 * tolerance])
    foot = _TOP_MM + _ROW_MM * len(units)
    sheet = Sheet(
        f"intervals-{cast.poured_scan.id.lower()}",
        _WIDTH_MM,
        foot + 14.0,
        title="Shift of each unit with its 95 % interval",
        description=f"{tolerance:g} µm are allowed. " + " ".join(_in_words(u) for u in units),
    )
    per_um = (_RIGHT_MM - _LEFT_MM) / top_um
    _draw_axis(sheet, per_um, top_um, foot)
    _draw_tolerance(sheet, _LEFT_MM + tolerance * per_um, tolerance, foot)
    for row, unit in enumerate(units):
        y = _TOP_MM + _ROW_MM * (row + 0.5)
        _draw_row(sheet, unit, y, per_um)
    return sheet.to_svg()


def _in_words(unit: UnitMovement) -> str:
    where = f" {unit.points[0].where()}" if unit.points else ""
    return f"{unit.tooth}: {unit.shown_shift()}{where}, {VERDICT_WORDS[unit.verdict]}."


def _draw_axis(sheet: Sheet, per_um: float, top_um: float, foot: float) -> None:
    sheet.line((_LEFT_MM, foot), (_RIGHT_MM, foot), INK, 0.3)
    step = nice_step(top_um)
    for k in range(int(top_um / step) + 1):
        x = _LEFT_MM + k * step * per_um
        sheet.line((x, foot), (x, foot + 1.2), INK, 0.3)
        sheet.line((x, _TOP_MM), (x, foot), FAINT, 0.1)
        sheet.text((x, foot + 5.0), f"{k * step:g}", size_mm=3.2, anchor="middle", ink=QUIET)
    key = "µm off its place; bar: 95 % interval, mark: its middle"
    sheet.text((_LEFT_MM, foot + 10.0), key, size_mm=3.2, ink=QUIET)


def _draw_tolerance(sheet: Sheet, x: float, tolerance: float, foot: float) -> None:
    sheet.rectangle(Box(_LEFT_MM, _TOP_MM, x, foot), stroke=None, fill=SHADE)
    sheet.line((x, _TOP_MM - 3.0), (x, foot), INK, 0.5, stroke_dasharray="2 1")
    sheet.text((x, _TOP_MM - 5.0), f"{tolerance:g} µm allowed", size_mm=3.8, bold=True, anchor="middle")


def _draw_row(sheet: Sheet, unit: UnitMovement, y: float, per_um: float) -> None:
    verdict = unit.verdict
    told = unit.told_shift
    failed = verdict is Verdict.DOES_NOT_CONFORM
    ink = ACCENT if failed else INK
    sheet.text((0.0, y + 1.7), str(unit.tooth), size_mm=4.8, bold=True, ink=ink)
    sheet.text((_RIGHT_MM + 34.0, y + 1.5), VERDICT_WORDS[verdict], size_mm=4.0, bold=True, ink=ink)
    if told is None:
        sheet.text((_LEFT_MM + 2, y + 1.5), "not measured", size_mm=3.6, italic=True, ink=QUIET)
        return
    x0, x, x1 = (_LEFT_MM + max(v, 0.0) * per_um for v in (told.low_um, told.middle_um, told.high_um))
    sheet.text((_RIGHT_MM + 4.0, y + 0.9), unit.shown_shift(), size_mm=4.0, ink=ink)
    if unit.points:
        where = wrap_text(unit.points[0].where(), _WHERE_MM, 2.8, max_lines=1)[0]
        sheet.text((_RIGHT_MM + 4.0, y + 4.0), where, size_mm=2.8, ink=QUIET)
    sheet.line((x0, y), (x1, y), ink, 0.9)
    for end in (x0, x1):
        sheet.line((end, y - 1.3), (end, y + 1.3), ink, 0.5)
    mark = _MARKS[verdict]
    if mark == "square":
        sheet.rectangle(Box(x - 1.5, y - 1.5, x + 1.5, y + 1.5), stroke=ink, fill=ink)
    else:
        sheet.circle((x, y), 1.4, stroke=ink, fill=ink if mark == "disc" else PAPER, width_mm=0.6)
