"""The arch sheet: one sentence, the arch with a verdict word per unit, the one number, the job as a row of words."""

import numpy as np

from seatwright.case import Motion, UnitKind
from seatwright.figures._answers import UnitAnswer, answer_units
from seatwright.figures._arch_key import draw_key, draw_scale_corner
from seatwright.figures._arch_labels import Label, draw_label, place_labels
from seatwright.figures._arch_plan import SHEET_WIDTH_MM, ArchPlan, plan_arch
from seatwright.figures._arch_units import attachment_at, bar_middle, draw_dentition
from seatwright.figures._ink import ACCENT, INK, PAPER, QUIET, is_grave, severity_word
from seatwright.figures._job_row import draw_job_row, measure_job_row
from seatwright.figures._svg import Box, Sheet
from seatwright.figures._text import measure_text_mm, wrap_text
from seatwright.findings import Severity
from seatwright.workflows.results import Dossier

__all__ = ["draw_arch_sheet"]

_HEADLINE_SIZES_MM = (8.0, 7.0, 6.2)
_HEADLINE_LINES = 3
_SMALLEST_NUMBER_MM = 6.0


def draw_arch_sheet(dossier: Dossier) -> str:
    """Draw the sheet that decides, as SVG text.

    The arch is drawn at twice its size from average crown widths; the key beside it says so. Units link to
    ``#unit-<tooth>`` of the page that the drawing stands in.
    """
    size_mm, lines = _set_headline(dossier.headline)
    head_mm = 8.0 + len(lines) * size_mm * 1.18
    plan = plan_arch(dossier.case, top_mm=head_mm + (4.0 if _opens_up(dossier) else 20.0))
    foot = plan.bottom + (26.0 if plan.front_down else 12.0)
    sheet = Sheet(
        "arch",
        SHEET_WIDTH_MM,
        foot + measure_job_row(dossier),
        title=f"Arch sheet of case {dossier.case.code}: {dossier.headline}",
        description=_describe(dossier),
        interactive=True,
    )
    answers = answer_units(dossier)
    _draw_headline(sheet, dossier, lines, size_mm)
    draw_dentition(sheet, dossier, plan, answers)
    _draw_hollow(sheet, dossier, plan)
    corner_top = plan.bottom - 6.0 if plan.front_down else plan.top - 14.0
    taken = [draw_key(sheet, dossier, (0.0, corner_top)), *_draw_sides(sheet, plan)]
    taken.append(draw_scale_corner(sheet, dossier, (SHEET_WIDTH_MM, corner_top)))
    _draw_labels(sheet, dossier, plan, answers, taken)
    draw_job_row(sheet, dossier, foot)
    return sheet.to_svg()


def _set_headline(headline: str) -> tuple[float, list[str]]:
    """Return the largest size at which the sentence takes two lines, else the smallest with all it can hold."""
    for size_mm in _HEADLINE_SIZES_MM:
        lines = wrap_text(headline, SHEET_WIDTH_MM, size_mm, bold=True, max_lines=_HEADLINE_LINES)
        if len(lines) <= 2:
            break
    return size_mm, lines


def _opens_up(dossier: Dossier) -> bool:
    return dossier.case.arch.value == "mandible"


def _draw_headline(sheet: Sheet, dossier: Dossier, lines: list[str], size_mm: float) -> None:
    severity = dossier.headline_severity
    grave = is_grave(severity)
    ink = ACCENT if grave else INK
    word = severity_word(severity) if severity is not Severity.NOTE else "in order"
    width = measure_text_mm(word.upper(), 3.4, bold=True) + 3
    tag = Box(0.0, 0.0, width, 5.2)
    sheet.rectangle(tag, stroke=ink, fill=ink if severity is Severity.STOP else PAPER, width_mm=0.4, rx=0.8)
    sheet.text(
        (width / 2, 3.8),
        word.upper(),
        size_mm=3.4,
        bold=True,
        anchor="middle",
        ink=PAPER if severity is Severity.STOP else ink,
    )
    about = f"{dossier.case.code} · {dossier.now:%d %b %Y, %H:%M %Z}"
    about = f"{dossier.support.shown()} · {about}"
    sheet.text((SHEET_WIDTH_MM, 3.8), about, size_mm=3.2, anchor="end", ink=QUIET)
    for k, line in enumerate(lines):
        sheet.text((0.0, 6.0 + size_mm * (0.95 + 1.18 * k)), line, size_mm=size_mm, bold=True)


def _draw_hollow(sheet: Sheet, dossier: Dossier, plan: ArchPlan) -> None:
    box = plan.hollow
    width = box.right - box.left
    grave = is_grave(dossier.headline_severity)
    number = dossier.hollow.number
    size = max(min(15.0, width / max(measure_text_mm(number, 1.0, bold=True), 1e-6)), _SMALLEST_NUMBER_MM)
    number = " ".join(wrap_text(number, width * 1.001, size, bold=True, max_lines=1))  # a hair wider than measured
    caption = wrap_text(dossier.hollow.caption, width * 0.9, 4.4, max_lines=3)
    middle = (box.top + box.bottom) / 2
    baseline = middle + (0.35 * size if not caption else 0.0)
    sheet.text(
        (plan.center_x, baseline), number, size_mm=size, bold=True, anchor="middle", ink=ACCENT if grave else INK
    )
    for k, line in enumerate(caption):
        sheet.text((plan.center_x, baseline + 7.0 + 5.3 * k), line, size_mm=4.4, anchor="middle")


def _draw_sides(sheet: Sheet, plan: ArchPlan) -> list[Box]:
    """Name the patient's sides at the open end of the arch."""
    y = plan.top + 2.5 if plan.front_down else plan.bottom + 6.0
    return [
        sheet.text((0.0, y), "patient’s right", size_mm=3.0, italic=True, ink=QUIET),
        sheet.text((SHEET_WIDTH_MM, y), "patient’s left", size_mm=3.0, italic=True, anchor="end", ink=QUIET),
    ]


def _draw_labels(
    sheet: Sheet, dossier: Dossier, plan: ArchPlan, answers: dict[int, UnitAnswer], corners: list[Box]
) -> None:
    labels = []
    for tooth, answer in answers.items():
        if tooth in plan.teeth:
            placed = plan.teeth[tooth]
            at = placed.at(0.0, 1.0)
            labels.append(Label((at[0], at[1]), placed.facial, answer.word, answer.number, answer.severity))
    for bar in dossier.case.bar:
        stops = next((b.n_stops for b in dossier.dies.bars if b.bar == bar.id), bar.stops)
        middle, out = bar_middle(plan, bar)
        at = (middle[0] + float(out[0]) * 7.0, middle[1] + float(out[1]) * 7.0)
        labels.append(Label(at, out, f"bar: {stops} resin stop{'s' if stops != 1 else ''}"))
    blocked = [_tooth_box(p.outline) for p in plan.teeth.values()] + corners
    marks = [attachment_at(plan, dossier.case, attachment) for attachment in dossier.case.attachment]
    blocked += [_ring_box(mark) for mark in marks if mark is not None]
    for label in place_labels(labels, blocked=blocked, frame=Box(0.0, 0.0, SHEET_WIDTH_MM, 0.0)):
        draw_label(sheet, label)


def _tooth_box(outline: np.ndarray) -> Box:
    """Return a box somewhat inside the outline, since outlines are round."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    inset = 0.14 * (high - low)
    return Box(float(low[0] + inset[0]), float(low[1] + inset[1]), float(high[0] - inset[0]), float(high[1] - inset[1]))


def _ring_box(at: tuple[float, float]) -> Box:
    return Box(at[0] - 2, at[1] - 2, at[0] + 2, at[1] + 2)


def _describe(dossier: Dossier) -> str:
    """Return the sheet in words, in the order of the arch."""
    case = dossier.case
    parts = [f"{dossier.hollow.number}. {dossier.hollow.caption}".strip(". ") + "."]
    parts += [answer.spoken.rstrip(".") + "." for answer in answer_units(dossier).values()]
    for join in case.join:
        parts.append(f"{join.kind.value} of {', '.join(dossier.label(t) for t in join.units)}.")
    for bar in case.bar:
        parts.append(f"Bar from {dossier.label(bar.from_tooth)} to {dossier.label(bar.to_tooth)}.")
    for attachment in case.attachment:
        where = dossier.label(attachment.tooth) if attachment.tooth else (attachment.bar or "")
        kind = "rigid" if attachment.motion is Motion.RIGID else "resilient"
        parts.append(f"{kind} {attachment.kind.value.replace('_', ' ')} at {where}.")
    missing = ", ".join(dossier.label(t) for t in case.teeth.missing_partial)
    parts.append(f"The partial replaces {missing}." if missing else "The partial replaces no tooth.")
    implants = [u for u in case.unit if u.kind is UnitKind.IMPLANT_SCREWED]
    parts += [f"{dossier.label(u.tooth)} is a screw-retained implant crown." for u in implants]
    parts.append("Job: " + ", ".join(f"{step.name} {step.word}" for step in dossier.job) + ".")
    return " ".join(parts)
