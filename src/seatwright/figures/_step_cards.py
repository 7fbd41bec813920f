"""Step cards in the order of the timetable, as A4 pages to print and lay beside the bench."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo

from seatwright.case import StepCard
from seatwright.figures._ink import FAINT, INK, QUIET, Ink
from seatwright.figures._svg import Sheet
from seatwright.figures._text import wrap_text
from seatwright.pour.timetable import Placed

__all__ = ["draw_step_cards"]

_WIDTH_MM = 190.0  # A4 with margins
_HEIGHT_MM = 277.0
_INDENT_MM = 4.0
_HEAD_MM = 5.0
_TEXT_MM = 4.0
_LEADING = 1.3


@dataclass(frozen=True, slots=True)
class _Line:
    text: str
    size_mm: float
    bold: bool
    ink: Ink
    indent_mm: float

    @property
    def height_mm(self) -> float:
        return self.size_mm * _LEADING


def draw_step_cards(rows: Sequence[tuple[Placed, Sequence[StepCard]]], *, zone: tzinfo) -> tuple[str, ...]:
    """Draw the cards of every task, in order, as SVG pages of 190 by 277 mm.

    Parameters
    ----------
    rows : sequence of (Placed, step cards)
        In the order of work.
    zone : tzinfo
        Zone of the bench.

    Returns
    -------
    tuple of str
        At least one page; a card is never split, unless it is longer than a page.
    """
    blocks = [_lines_of(row, cards, zone) for row, cards in rows]
    pages: list[list[_Line]] = [[]]
    for block in blocks:
        if pages[-1] and _height(pages[-1]) + _height(block) > _HEIGHT_MM:
            pages.append([])
        for line in block:
            if _height(pages[-1]) + line.height_mm > _HEIGHT_MM:
                pages.append([])
            pages[-1].append(line)
    return tuple(_draw_page(lines, index + 1, len(pages)) for index, lines in enumerate(pages))


def _height(lines: Sequence[_Line]) -> float:
    return 8.0 + sum(line.height_mm for line in lines)


def _lines_of(row: Placed, cards: Sequence[StepCard], zone: tzinfo) -> list[_Line]:
    span = f"{row.start.astimezone(zone):%H:%M}-{row.end.astimezone(zone):%H:%M}"
    head = " · ".join(filter(None, (span, row.who or "no hands", row.what, f"{row.case} {row.impression}")))
    lines = _wrapped(head, _HEAD_MM, bold=True)
    if row.equipment:
        lines += _wrapped(f"with {', '.join(row.equipment)}", _TEXT_MM, ink=QUIET)
    told: dict[tuple[str, str], list[int]] = {}
    for card in sorted(cards, key=lambda card: row.steps.index(card.id)):  # all linings before all fillings
        told.setdefault((card.title, card.do), []).append(card.tooth)
    for (title, do), teeth in told.items():
        units = ", ".join(str(tooth) for tooth in teeth if tooth)
        lines += _wrapped(f"{title}{f' ({units})' if units else ''}: {do}", _TEXT_MM, indent_mm=_INDENT_MM)
    for caution in dict.fromkeys(caution for card in cards for caution in card.cautions):
        lines += _wrapped(f"! {caution}", _TEXT_MM, bold=True, indent_mm=_INDENT_MM)
    return [*lines, _Line("", _TEXT_MM, False, INK, 0.0)]


def _wrapped(text: str, size_mm: float, *, bold: bool = False, ink: Ink = INK, indent_mm: float = 0.0) -> list[_Line]:
    room = _WIDTH_MM - indent_mm
    return [_Line(part, size_mm, bold, ink, indent_mm) for part in wrap_text(text, room, size_mm, bold=bold)]


def _draw_page(lines: Sequence[_Line], page: int, n_pages: int) -> str:
    words = " ".join(line.text for line in lines if line.text) or "Nothing is left to do."
    sheet = Sheet(f"step-cards-{page}", _WIDTH_MM, _HEIGHT_MM, title=f"Step cards, page {page}", description=words)
    y = 4.0
    if not any(line.text for line in lines):
        sheet.text((0.0, y + _HEAD_MM), "Nothing is left to do.", size_mm=_HEAD_MM)
    for line in lines:
        y += line.height_mm
        if line.text:
            sheet.text((line.indent_mm, y), line.text, size_mm=line.size_mm, bold=line.bold, ink=line.ink)
        else:
            sheet.line((0.0, y - 1.5), (_WIDTH_MM, y - 1.5), FAINT, 0.2)
    sheet.text((_WIDTH_MM, _HEIGHT_MM - 1.0), f"{page} of {n_pages}", size_mm=3.2, anchor="end", ink=QUIET)
    return sheet.to_svg()
