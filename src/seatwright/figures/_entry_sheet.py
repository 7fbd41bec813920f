"""The arch while a plan is entered: the arch sheet's drawing, with what is missing drawn as a gap.

Every place is a button of a finger's width: swept over, touched or reached by keys, several at once.
"""

from seatwright.case import MarginKind, Surface, UnitKind
from seatwright.case.entry import EntryTooth, EntryView
from seatwright.figures._arch_plan import SHEET_WIDTH_MM, ArchPlan, place_arch
from seatwright.figures._arch_units import draw_attachment_mark, draw_bar_line, draw_join_line, outline_path, run_of_bar
from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, SHADE
from seatwright.figures._margins import draw_margin_sides
from seatwright.figures._outlines import PlacedTooth
from seatwright.figures._svg import Box, Sheet
from seatwright.figures._text import measure_text_mm

__all__ = ["UNIT_WORDS", "describe_entry_tooth", "draw_entry_sheet"]

_TOP_MM = 6.0
_FOOT_MM = 8.0
_MARK_MM = 4.4
UNIT_WORDS = {
    UnitKind.CROWN: "crown",
    UnitKind.PONTIC: "pontic",
    UnitKind.PRIMARY_TELESCOPE: "telescope",
    UnitKind.PRIMARY_CONUS: "conus",
    UnitKind.IMPLANT_SCREWED: "screwed implant crown",
    UnitKind.ON_ABUTMENT: "crown on an abutment",
}
_STATE_WORDS = {
    "present": "natural tooth",
    "implants": "implant, no unit yet",
    "missing_fixed": "missing, no pontic yet",
    "missing_partial": "missing, in the partial",
    "missing_not_replaced": "missing, not replaced",
}


def draw_entry_sheet(view: EntryView) -> str:
    """Draw the arch of a plan that may have gaps, as SVG text with one button for each place."""
    plan = place_arch(view.arch, [t.tooth for t in view.teeth], top_mm=_TOP_MM)
    sheet = Sheet(
        "entry",
        SHEET_WIDTH_MM,
        plan.bottom + _FOOT_MM,
        title=f"Arch of case {view.code}: touch teeth, or sweep over them",
        description="; ".join(f"{t.tooth}: {describe_entry_tooth(t)}" for t in view.teeth),
        interactive=True,
    )
    for join in view.joins:
        draw_join_line(sheet, plan, join)
    for tooth in view.teeth:
        _draw_tooth(sheet, plan.teeth[tooth.tooth], tooth)
    for _, first, last in view.bars:
        draw_bar_line(sheet, run_of_bar(plan, first, last), n_stops=0)
    _draw_attachments(sheet, plan, view)
    _draw_hollow(sheet, plan, view)
    y = plan.top - 1.0 if plan.front_down else plan.bottom + 6.0
    sheet.text((0.0, y), "patient’s right", size_mm=3.0, italic=True, ink=QUIET)
    sheet.text((SHEET_WIDTH_MM, y), "patient’s left", size_mm=3.0, italic=True, anchor="end", ink=QUIET)
    return sheet.to_svg()


def describe_entry_tooth(tooth: EntryTooth) -> str:
    """Return how much is missing at a place and what it is, in words, in the order in which they are seen."""
    said = UNIT_WORDS[tooth.kind] if tooth.kind else _STATE_WORDS.get(tooth.state, "not said yet")
    n = len(tooth.gaps)
    return f"{n} {'gap' if n == 1 else 'gaps'}, {said}" if n else said


def _draw_tooth(sheet: Sheet, placed: PlacedTooth, tooth: EntryTooth) -> None:
    with sheet.group(
        class_="place touch",
        data_tooth=tooth.tooth,
        role="button",
        tabindex=0,
        aria_pressed="false",
        aria_label=f"{tooth.tooth}, {describe_entry_tooth(tooth)}",
    ):
        if tooth.kind is not None:
            _draw_unit(sheet, placed, tooth)
        elif tooth.state in ("present", "implants"):
            sheet.path(outline_path(placed), stroke=FAINT, fill=SHADE, width_mm=0.3)
        else:
            dashes = "0.1 1.3" if tooth.state == "missing_partial" else "0.4 3"
            sheet.path(outline_path(placed, 0.94), stroke=QUIET, fill=PAPER, width_mm=0.55, stroke_dasharray=dashes)
        if tooth.state == "implants" and tooth.kind is None:
            sheet.circle(placed.center, _MARK_MM, fill=PAPER, width_mm=0.35)
        x, y = placed.center
        with sheet.group(data_number=tooth.tooth):
            sheet.text((x, y + 1.6), str(tooth.tooth), size_mm=5.2, bold=tooth.kind is not None, anchor="middle")
        if tooth.gaps:
            _draw_gap_mark(sheet, placed, len(tooth.gaps))


def _draw_unit(sheet: Sheet, placed: PlacedTooth, tooth: EntryTooth) -> None:
    sheet.path(outline_path(placed), stroke=None, fill=PAPER)
    if tooth.has_margin:
        kinds: dict[Surface, MarginKind | None] = {s: tooth.margins.get(s) for s in Surface}
        draw_margin_sides(sheet, placed, kinds)
    if tooth.kind in (UnitKind.PRIMARY_CONUS, UnitKind.PRIMARY_TELESCOPE):
        sheet.path(outline_path(placed, 0.72), width_mm=0.35)
    sheet.path(outline_path(placed), width_mm=0.35)
    if tooth.kind in (UnitKind.IMPLANT_SCREWED, UnitKind.ON_ABUTMENT):
        sheet.circle(placed.center, _MARK_MM, fill=PAPER, width_mm=0.35)


def _draw_gap_mark(sheet: Sheet, placed: PlacedTooth, n: int) -> None:
    """Say beside the tooth how much is missing, in a small box towards the cheek."""
    x, y = placed.beside(Surface.FACIAL, 2.4)
    text = str(n)
    half = measure_text_mm(text, 3.4, bold=True) / 2 + 1.0
    with sheet.group():
        sheet.rectangle(Box(x - half, y - 2.2, x + half, y + 2.2), stroke=ACCENT, fill=PAPER, width_mm=0.4, rx=0.8)
        sheet.text((x, y + 1.1), text, size_mm=3.4, bold=True, anchor="middle", ink=ACCENT)


def _draw_attachments(sheet: Sheet, plan: ArchPlan, view: EntryView) -> None:
    bars = {name: (first, last) for name, first, last in view.bars}
    for attachment in view.attachments:
        if attachment.bar in bars:
            run = run_of_bar(plan, *bars[attachment.bar or ""])
            x, y = run[len(run) // 2]
            draw_attachment_mark(sheet, (float(x), float(y)), rigid=attachment.is_rigid)
        elif attachment.tooth in plan.teeth and attachment.surface is not None:
            at = plan.teeth[attachment.tooth or 0].beside(attachment.surface, 2.4)
            draw_attachment_mark(sheet, at, rigid=attachment.is_rigid)


def _draw_hollow(sheet: Sheet, plan: ArchPlan, view: EntryView) -> None:
    box = plan.hollow
    middle = (box.top + box.bottom) / 2
    n_units = sum(tooth.kind is not None for tooth in view.teeth)
    number = str(view.n_gaps) if view.n_gaps else "complete"
    units = f"{n_units} unit{'' if n_units == 1 else 's'}"
    caption = f"{'gap' if view.n_gaps == 1 else 'gaps'} left, {units}" if view.n_gaps else units
    sheet.text(
        (plan.center_x, middle),
        number,
        size_mm=12.0 if view.n_gaps else 8.0,
        bold=True,
        anchor="middle",
        ink=ACCENT if view.n_gaps else INK,
    )
    sheet.text((plan.center_x, middle + 7.0), caption, size_mm=4.2, anchor="middle")
