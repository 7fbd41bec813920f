"""The forecast as pictures: the chance of seating as planned and changed, the misfit of each place, what decides it."""

from dataclasses import dataclass

from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, SHADE
from seatwright.figures._svg import Box, Sheet
from seatwright.figures._text import wrap_text
from seatwright.forecast import FeatureForecast, ForecastResult, RankedLink, SeatingChance, SeatingWord
from seatwright.quantities import tell_signed

__all__ = ["draw_fit", "draw_places", "draw_ranked_links"]

_WIDTH_MM = 186.0
_LEFT_MM, _RIGHT_MM = 78.0, 160.0
_ROW_MM, _TOP_MM = 17.0, 21.0
_BAR_LEFT_MM, _BAR_RIGHT_MM = 78.0, 168.0
_LINK_MM = 13.0
_PLACE_MM = 7.5
_LEAST_SHOWN = 0.01
_GRAVE = (SeatingWord.RARELY, SeatingWord.CANNOT_TELL)


@dataclass(frozen=True, slots=True)
class _Row:
    """One chance on the common scale."""

    title: str
    words: str
    value: float
    low: float
    high: float
    is_grave: bool


def draw_fit(result: ForecastResult) -> str:
    """Draw the verdict and the chance on a line from never to always: before a check, now, and with the best change."""
    chance = result.p_seats
    rows = _rows(result)
    sheet = Sheet(
        "fit",
        _WIDTH_MM,
        _TOP_MM + _ROW_MM * len(rows) + 16.0,
        title=f"Seats {chance.says.value}: {_percent(chance.value)} in 100",
        description=" ".join(
            f"{r.title}: {_percent(r.value)} in 100, {_percent(r.low)} to {_percent(r.high)} over what is poorly known."
            for r in rows
        ),
    )
    ink = ACCENT if chance.says in _GRAVE else INK
    sheet.text((0.0, 8.0), f"Seats {chance.says.value}", size_mm=8.0, bold=True, ink=ink)
    sheet.text(
        (_WIDTH_MM - 2.0, 8.0), f"{_percent(chance.value)} in 100", size_mm=8.0, bold=True, anchor="end", ink=ink
    )
    bottom = _TOP_MM + _ROW_MM * len(rows)
    _draw_scale(sheet, bottom)
    for k, row in enumerate(rows):
        _draw_row(sheet, row, _TOP_MM + _ROW_MM * (k + 0.5))
    sheet.text(
        (0.0, bottom + 13.0),
        "Dot: with the likeliest figures. Bar: the range over what no study has settled (nine in ten).",
        size_mm=3.2,
        ink=QUIET,
    )
    return sheet.to_svg()


def _rows(result: ForecastResult) -> list[_Row]:
    now = result.p_seats
    rows = []
    if result.before is not None:
        rows.append(_of_chance("before the cast was measured", "as planned", result.before))
        rows.append(_of_chance("with the cast as measured", "as planned", now))
    else:
        rows.append(_of_chance("as planned", "", now))
    best = result.best_change
    if best is not None and best.low is not None and best.high is not None:
        rows.append(_Row(best.what, best.cost, best.p_seats, best.low, best.high, is_grave=False))
    return rows


def _of_chance(title: str, words: str, chance: SeatingChance) -> _Row:
    return _Row(title, words, chance.value, chance.low, chance.high, chance.says in _GRAVE)


def _place(share: float) -> float:
    return _LEFT_MM + share * (_RIGHT_MM - _LEFT_MM)


def _draw_scale(sheet: Sheet, bottom: float) -> None:
    for tick in range(0, 101, 10):
        x = _place(tick / 100)
        sheet.line((x, bottom), (x, bottom + 1.4), INK, 0.3)
    sheet.line((_place(0.0), bottom), (_place(1.0), bottom), INK, 0.3)
    for share, word in ((0.0, "never"), (0.5, "every other time"), (1.0, "always")):
        sheet.text((_place(share), bottom + 5.6), word, size_mm=3.4, anchor="middle", ink=QUIET)
    for limit in (1 / 3, 2 / 3):
        sheet.line((_place(limit), _TOP_MM - 3.0), (_place(limit), bottom), FAINT, 0.4, stroke_dasharray="1 1")
    for share, word in ((1 / 6, "rarely"), (0.5, "sometimes"), (5 / 6, "usually")):
        sheet.text((_place(share), _TOP_MM - 4.0), word, size_mm=3.4, anchor="middle", ink=QUIET)


def _draw_row(sheet: Sheet, row: _Row, y: float) -> None:
    ink = ACCENT if row.is_grave else INK
    lines = wrap_text(row.title, _LEFT_MM - 6.0, 4.2, bold=True, max_lines=2)
    top = y - 2.1 * (len(lines) - 1) - (0.6 if row.words else -1.4)
    for k, line in enumerate(lines):
        sheet.text((0.0, top + 4.6 * k), line, size_mm=4.2, bold=True)
    if row.words:
        sheet.text((0.0, top + 4.6 * (len(lines) - 1) + 4.4), row.words, size_mm=3.4, ink=QUIET)
    box = Box(_place(row.low), y - 2.4, max(_place(row.high), _place(row.low) + 0.4), y + 2.4)
    sheet.rectangle(box, stroke=INK, fill=SHADE, width_mm=0.3)
    sheet.circle((_place(row.value), y), 2.0, stroke=ink, fill=ink)
    sheet.text((_WIDTH_MM - 2.0, y + 0.4), f"{_percent(row.value)}", size_mm=6.0, bold=True, anchor="end", ink=ink)
    spread = f"{_percent(row.low)} to {_percent(row.high)}"
    sheet.text((_WIDTH_MM - 2.0, y + 4.6), spread, size_mm=3.2, anchor="end", ink=QUIET)


def draw_places(features: tuple[FeatureForecast, ...]) -> str:
    """Draw each place's misfit as a 95 % interval against the room it has, as SVG text."""
    sheet = Sheet(
        "places",
        _WIDTH_MM,
        _TOP_MM + _PLACE_MM * max(len(features), 1) + 12.0,
        title="Misfit expected at each place",
        description=" ".join(
            f"{f.id}, {f.what}: {f.interval95_um[0]:.0f} to {f.interval95_um[1]:.0f} µm, room {f.allowed_um:.0f} µm."
            for f in features
        ),
    )
    sheet.text((0.0, 6.0), "Misfit expected at each place, 95 % of casts", size_mm=5.0, bold=True)
    reach = max((max(abs(v) for v in (*f.interval95_um, f.allowed_um)) for f in features), default=1.0) * 1.04
    middle, half = (_LEFT_MM + _RIGHT_MM) / 2, (_RIGHT_MM - _LEFT_MM) / 2

    def place(um: float) -> float:
        return middle + um / reach * half

    bottom = _TOP_MM + _PLACE_MM * max(len(features), 1)
    sheet.line((middle, _TOP_MM - 4.0), (middle, bottom), FAINT, 0.3)
    for k, feature in enumerate(features):
        y = _TOP_MM + _PLACE_MM * (k + 0.3)
        tight = feature.p_within < 2 / 3
        ink = ACCENT if tight else INK
        sheet.text((0.0, y + 1.2), feature.id.removesuffix("/stop"), size_mm=3.6, bold=True)
        sheet.text((_LEFT_MM - 3.0, y + 1.2), feature.what, size_mm=3.2, anchor="end", ink=QUIET)
        room = Box(place(-feature.allowed_um), y - 2.0, place(feature.allowed_um), y + 2.0)
        sheet.rectangle(room, stroke=FAINT, fill=SHADE, width_mm=0.25)
        low, high = feature.interval95_um
        sheet.line((place(low), y), (place(high), y), ink, 0.9 if tight else 0.6)
        for end in (low, high):
            sheet.line((place(end), y - 1.4), (place(end), y + 1.4), ink, 0.6)
        share = f"{_percent(feature.p_within)} % within"
        sheet.text((_WIDTH_MM - 2.0, y + 1.2), share, size_mm=3.4, bold=tight, anchor="end", ink=ink)
    for um in (-_nice(reach), 0.0, _nice(reach)):
        sheet.text(
            (place(um), bottom + 3.6),
            f"{tell_signed(um, 0)} µm" if um else "0",
            size_mm=3.2,
            anchor="middle",
            ink=QUIET,
        )
    sheet.text((0.0, bottom + 9.5), "Shaded: the room of clearance, play and allowed gap.", size_mm=3.2, ink=QUIET)
    return sheet.to_svg()


def _nice(reach: float) -> float:
    return next((step for step in (500.0, 200.0, 100.0, 50.0, 20.0, 10.0) if step <= reach), reach)


def draw_ranked_links(result: ForecastResult) -> str:
    """Draw what decides whether it seats, largest first: shares of the slack's variance, adding up to one."""
    shown = [link for link in result.ranked if link.share >= _LEAST_SHOWN]
    rest = len(result.ranked) - len(shown)
    sheet = Sheet(
        "ranked-links",
        _WIDTH_MM,
        _TOP_MM - 7.0 + _LINK_MM * max(len(shown), 1) + 12.0,
        title="What decides whether it seats",
        description=" ".join(f"{link.title}: {_percent(link.share)} %." for link in shown) or "Nothing varies.",
    )
    sheet.text((0.0, 6.0), "What decides whether it seats", size_mm=5.0, bold=True)
    top = _TOP_MM - 7.0
    if not shown:
        sheet.text((0.0, top + 5.0), "nothing varies enough to be ranked", size_mm=3.6, italic=True, ink=QUIET)
    for row, link in enumerate(shown):
        _draw_link(sheet, link, top + _LINK_MM * row)
    foot = top + _LINK_MM * max(len(shown), 1) + 5.0
    more = f" {rest} more below 1 %." if rest else ""
    sheet.text((0.0, foot), f"Shares of what is still open; they add up to 100 %.{more}", size_mm=3.2, ink=QUIET)
    return sheet.to_svg()


def _draw_link(sheet: Sheet, link: RankedLink, top: float) -> None:
    sheet.text((0.0, top + 4.2), link.title, size_mm=4.0, bold=True)
    for k, line in enumerate(wrap_text(link.words, _BAR_LEFT_MM - 4.0, 3.0, max_lines=2)):
        sheet.text((0.0, top + 7.8 + 3.2 * k), line, size_mm=3.0, ink=QUIET)
    right = _BAR_LEFT_MM + min(max(link.share, 0.0), 1.0) * (_BAR_RIGHT_MM - _BAR_LEFT_MM)
    frame = Box(_BAR_LEFT_MM, top + 1.2, _BAR_RIGHT_MM, top + 6.2)
    sheet.rectangle(frame, stroke=FAINT, fill=PAPER, width_mm=0.25)
    sheet.rectangle(Box(_BAR_LEFT_MM, top + 1.2, right, top + 6.2), stroke=INK, fill=INK, width_mm=0.4)
    sheet.text((_WIDTH_MM - 2.0, top + 5.2), f"{_percent(link.share)} %", size_mm=4.0, anchor="end")


def _percent(share: float) -> int:
    return round(100 * min(max(share, 0.0), 1.0))
