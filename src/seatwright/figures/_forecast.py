"""The forecast as two pictures: the chance of seating with its range, and which links decide it."""

from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, SHADE
from seatwright.figures._svg import Box, Sheet
from seatwright.figures._text import wrap_text
from seatwright.forecast import ForecastResult, RankedLink, SeatingChance, SeatingWord

__all__ = ["draw_ranked_links", "draw_seating_chance"]

_WIDTH_MM = 186.0
_LEFT_MM = 16.0
_RIGHT_MM = 170.0
_BAR_LEFT_MM = 78.0
_BAR_RIGHT_MM = 168.0
_ROW_MM = 13.0
_TOP_MM = 14.0
_LEAST_SHOWN = 0.01


def draw_seating_chance(chance: SeatingChance) -> str:
    """Draw the chance on a line from never to always, with its range over what is poorly known, as SVG text."""
    grave = chance.says in (SeatingWord.RARELY, SeatingWord.CANNOT_TELL)
    percent, low, high = (round(100 * v) for v in (chance.value, chance.low, chance.high))
    sheet = Sheet(
        "seating-chance",
        _WIDTH_MM,
        44.0,
        title=f"Seats {chance.says.value}: {percent} trials in 100",
        description=f"{low} to {high} in 100 over what is poorly known; {chance.n_trials} trials.",
    )
    y = 26.0
    ink = ACCENT if grave else INK
    sheet.text((_LEFT_MM, 8.0), f"seats {chance.says.value}", size_mm=6.0, bold=True, ink=ink)
    sheet.text((_RIGHT_MM, 8.0), f"{percent} in 100", size_mm=6.0, bold=True, anchor="end", ink=ink)

    def place(share: float) -> float:
        return _LEFT_MM + share * (_RIGHT_MM - _LEFT_MM)

    sheet.rectangle(Box(place(chance.low), y - 2.6, place(chance.high), y + 2.6), stroke=INK, fill=SHADE, width_mm=0.3)
    sheet.line((place(0.0), y), (place(1.0), y), INK, 0.3)
    for tick in range(0, 101, 10):
        x = place(tick / 100)
        sheet.line((x, y), (x, y + 1.2), INK, 0.3)
        if tick % 50 == 0:
            word = {0: "never", 50: "every other time", 100: "always"}[tick]
            sheet.text((x, y + 8.0), word, size_mm=3.4, anchor="middle", ink=QUIET)
    for limit in (1 / 3, 2 / 3):
        sheet.line((place(limit), y - 4.5), (place(limit), y + 4.5), FAINT, 0.4, stroke_dasharray="1 1")
    sheet.circle((place(chance.value), y), 2.2, stroke=ink, fill=ink)
    sheet.line((place(chance.mc_low), y - 1.2), (place(chance.mc_high), y - 1.2), PAPER, 0.3)
    sheet.text(
        (_LEFT_MM, y + 15.0),
        f"shaded: {low} to {high}, where nine in ten states of knowledge put it; broken lines: one and two in three",
        size_mm=3.2,
        ink=QUIET,
    )
    return sheet.to_svg()


def draw_ranked_links(result: ForecastResult) -> str:
    """Draw what decides whether it seats, largest first, as SVG text.

    The whole bar is the total index (what stays open when all else is known), its filled part the first-order index
    (what knowing this link alone would settle).
    """
    shown = [link for link in result.ranked if link.total >= _LEAST_SHOWN]
    rest = len(result.ranked) - len(shown)
    sheet = Sheet(
        "ranked-links",
        _WIDTH_MM,
        _TOP_MM + _ROW_MM * max(len(shown), 1) + 14.0,
        title="What decides whether it seats",
        description=" ".join(f"{link.title}: {_percent(link.total)} %." for link in shown) or "Nothing varies.",
    )
    sheet.text((0.0, 6.0), "What decides whether it seats", size_mm=5.0, bold=True)
    if not shown:
        sheet.text((0.0, _TOP_MM + 5.0), "nothing varies enough to be ranked", size_mm=3.6, italic=True, ink=QUIET)
    for row, link in enumerate(shown):
        _draw_link(sheet, link, _TOP_MM + _ROW_MM * row)
    foot = _TOP_MM + _ROW_MM * max(len(shown), 1) + 5.0
    more = f" {rest} more below 1 %." if rest else ""
    sheet.text(
        (0.0, foot), f"filled: settled by this link alone; open: together with others.{more}", size_mm=3.2, ink=QUIET
    )
    return sheet.to_svg()


def _draw_link(sheet: Sheet, link: RankedLink, top: float) -> None:
    sheet.text((0.0, top + 4.2), link.title, size_mm=4.0, bold=True)
    for k, line in enumerate(wrap_text(link.words, _BAR_LEFT_MM - 4.0, 3.0, max_lines=2)):
        sheet.text((0.0, top + 7.8 + 3.2 * k), line, size_mm=3.0, ink=QUIET)
    length = _BAR_RIGHT_MM - _BAR_LEFT_MM

    def place(share: float) -> float:
        return _BAR_LEFT_MM + min(max(share, 0.0), 1.0) * length

    sheet.rectangle(Box(_BAR_LEFT_MM, top + 1.2, place(link.total), top + 6.2), stroke=INK, fill=PAPER, width_mm=0.4)
    first = min(max(link.first, 0.0), max(link.total, 0.0))
    if first > _LEAST_SHOWN:
        sheet.rectangle(Box(_BAR_LEFT_MM, top + 1.2, place(first), top + 6.2), stroke=INK, fill=INK, width_mm=0.4)
    sheet.text((_WIDTH_MM - 2.0, top + 5.2), f"{_percent(link.total)} %", size_mm=4.0, anchor="end")


def _percent(share: float) -> int:
    return round(100 * min(max(share, 0.0), 1.0))
