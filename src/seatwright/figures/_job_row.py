"""The job as a row of words: each step with its verdict and time; what is not yet done says so."""

from seatwright.figures._arch_plan import SHEET_WIDTH_MM
from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, is_grave
from seatwright.figures._svg import Sheet
from seatwright.figures._text import wrap_text
from seatwright.findings import Severity
from seatwright.workflows.results import Dossier, JobStep

__all__ = ["draw_job_row", "measure_job_row"]

_NAME_MM = 3.9
_WORD_MM = 3.6
_LINE_MM = 4.2


def measure_job_row(dossier: Dossier) -> float:
    """Return the row's height, mm: as tall as its longest verdict."""
    if not dossier.job:
        return 0.0
    column = SHEET_WIDTH_MM / len(dossier.job)
    return 3.0 + max(12.4 + _LINE_MM * len(_lines(s, column)) + (1.0 if s.when else -3.0) for s in dossier.job)


def draw_job_row(sheet: Sheet, dossier: Dossier, top_mm: float) -> None:
    """Draw the row across the sheet below `top_mm`."""
    steps = dossier.job
    if not steps:
        return
    column = SHEET_WIDTH_MM / len(steps)
    rail = top_mm + 3.0
    last_done = max((k for k, s in enumerate(steps) if s.severity is not None), default=-1)
    middle = [column * (k + 0.5) for k in range(len(steps))]
    sheet.line((middle[0], rail), (middle[-1], rail), FAINT, 0.3, stroke_dasharray="0.8 1.2")
    if last_done > 0:
        sheet.line((middle[0], rail), (middle[last_done], rail), INK, 0.6)
    for k, step in enumerate(steps):
        _draw_step(sheet, dossier, step, (middle[k], rail, column))


def _draw_step(sheet: Sheet, dossier: Dossier, step: JobStep, at: tuple[float, float, float]) -> None:
    x, rail, column = at
    grave = is_grave(step.severity)
    ink = ACCENT if grave else INK
    _draw_mark(sheet, step, x, rail)
    name_ink = QUIET if step.severity is None else INK
    name = wrap_text(step.name, column - 0.5, _NAME_MM, max_lines=1)
    sheet.text((x, rail + 7.4), name[0] if name else "", size_mm=_NAME_MM, anchor="middle", ink=name_ink)
    lines = _lines(step, column)
    for n, line in enumerate(lines):
        sheet.text(
            (x, rail + 12.0 + _LINE_MM * n),
            line,
            size_mm=_WORD_MM,
            bold=step.severity is not None,
            italic=step.severity is None,
            anchor="middle",
            ink=QUIET if step.severity is None else ink,
        )
    if step.when is not None:
        shown = step.when.astimezone(dossier.now.tzinfo)
        style = "%H:%M" if shown.date() == dossier.now.date() else "%d %b"
        sheet.text(
            (x, rail + 12.4 + _LINE_MM * len(lines)), f"{shown:{style}}", size_mm=3.2, anchor="middle", ink=QUIET
        )


def _lines(step: JobStep, column: float) -> list[str]:
    return wrap_text(step.word, column - 1.5, _WORD_MM, bold=step.severity is not None, max_lines=3)


def _draw_mark(sheet: Sheet, step: JobStep, x: float, rail: float) -> None:
    """Open ring: not yet. Filled disc: in order. Square on its corner: look here."""
    if step.severity is None:
        sheet.circle((x, rail), 1.3, stroke=QUIET, fill=PAPER, width_mm=0.3)
    elif is_grave(step.severity):
        d = 2.3
        data = f"M{x} {rail - d}L{x + d} {rail}L{x} {rail + d}L{x - d} {rail}Z"
        sheet.path(data, stroke=ACCENT, fill=ACCENT if step.severity is Severity.STOP else PAPER, width_mm=0.7)
    else:
        sheet.circle((x, rail), 1.6, fill=INK)
