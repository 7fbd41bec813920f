"""The impression clock: what is known of each stretch of time, where now is, and how much work still has to fit."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from seatwright.figures._ink import ACCENT, INK, PAPER, QUIET, SHADE
from seatwright.figures._svg import Box, Point, Sheet
from seatwright.figures._text import measure_text_mm, wrap_text
from seatwright.pour import (
    Band,
    CostStep,
    Feasibility,
    ImpressionClock,
    ImpressionPhase,
    PourResult,
    show_minutes,
)
from seatwright.quantities import tell_signed

__all__ = ["BAND_WORDS", "describe_cost", "draw_clock", "sort_by_urgency"]

BAND_WORDS = {Band.WITHIN: "within", Band.STRETCHED: "stretched", Band.BEYOND: "beyond"}
_WIDTH_MM = 186.0
_BLOCK_MM = 42.0
_LINE_MM = 9.0
_NAME_MM = 60.0
_BAR_TOP_MM = 17.0
_BAR_MM = 8.0
_FEASIBLE = {
    Feasibility.FITS: "fits",
    Feasibility.TIGHT: "tight: fits at a typical pace, not at the slowest",
    Feasibility.DOES_NOT_FIT: "does not fit",
    Feasibility.DONE: "done",
}


def describe_cost(step: CostStep) -> str:
    """Return what a stretch of the clock costs, in words."""
    if step.bias_percent is None or step.u_percent is None:
        return "no source supports it: retake or verify again"
    if not step.spans:
        return (
            f"{tell_signed(step.bias_percent, 2)} ± {2 * step.u_percent:.2f} % of any span"
            if step.bias_percent
            else "no known cost"
        )
    return "; ".join(f"{span.what}: {span.change_um.shown().replace('-', '−')}" for span in step.spans)


def draw_clock(pour: PourResult) -> str:
    """Draw every impression's time line, as SVG text.

    Plain: within what evidence or the maker supports. Hatched: stretched, sources disagree. Cross-hatched: beyond.
    Times are shown in the time zone of ``pour.now``.
    """
    clocks = sort_by_urgency(pour.impressions)
    tops = [0.0]
    for clock in clocks:
        tops.append(tops[-1] + (_BLOCK_MM if _is_open(clock) else _LINE_MM))
    sheet = Sheet(
        "clock",
        _WIDTH_MM,
        max(tops[-1], 10.0),
        title="Impression clock",
        description=" ".join(_describe(clock, pour.now) for clock in clocks) or "No impression is planned.",
    )
    for clock, top in zip(clocks, tops, strict=False):
        _draw_block(sheet, clock, pour.now, top)
    return sheet.to_svg()


def _is_open(clock: ImpressionClock) -> bool:
    return clock.phase in (ImpressionPhase.PLANNED, ImpressionPhase.WAITING)


def sort_by_urgency(clocks: Sequence[ImpressionClock]) -> list[ImpressionClock]:
    """Return what still runs before what is poured, the least time first."""

    def urgency(clock: ImpressionClock) -> tuple[bool, float]:
        left = clock.minutes_left if clock.minutes_left is not None else clock.window_min
        return not _is_open(clock), left

    return sorted(clocks, key=urgency)


def _draw_block(sheet: Sheet, clock: ImpressionClock, now: datetime, top: float) -> None:
    grave = clock.feasibility is Feasibility.DOES_NOT_FIT or clock.band is Band.BEYOND
    ink = ACCENT if grave and _is_open(clock) else INK
    shown = wrap_text(clock.impression, _NAME_MM, 5.0, bold=True, max_lines=1)[0]
    name = sheet.text((0.0, top + 5.0), shown, size_mm=5.0, bold=True)
    verdict = wrap_text(_verdict(clock), _WIDTH_MM - name.right - 6, 5.0, bold=True, max_lines=1)
    sheet.text((name.right + 4.0, top + 5.0), verdict[0], size_mm=5.0, bold=True, ink=ink)
    if not _is_open(clock):
        return
    end_min = _end_min(clock)
    per_min = _WIDTH_MM / end_min
    bar_top = top + _BAR_TOP_MM
    for band, since, until in _stretches(clock, end_min):
        _draw_band(sheet, Box(since * per_min, bar_top, until * per_min, bar_top + _BAR_MM), band)
    _draw_ticks(sheet, clock, now, end_min, bar_top + _BAR_MM)
    if clock.age_min is not None and clock.phase is ImpressionPhase.WAITING:
        _draw_now(sheet, now, clock.age_min * per_min, bar_top, ink is ACCENT)
    _draw_pour_by(sheet, clock, now, per_min, bar_top)
    _draw_needed(sheet, clock, per_min, bar_top + _BAR_MM + 10.4)


def _stretches(clock: ImpressionClock, end_min: float) -> list[tuple[Band, float, float]]:
    """Return the bands as drawn: neighbors of one band as one, cut at the end of the bar."""
    merged: list[tuple[Band, float, float]] = []
    for step in clock.steps:
        until = end_min if step.until_min is None else min(step.until_min, end_min)
        if step.since_min >= end_min:
            continue
        if merged and merged[-1][0] is step.band:
            merged[-1] = (step.band, merged[-1][1], until)
        else:
            merged.append((step.band, step.since_min, until))
    return merged


def _verdict(clock: ImpressionClock) -> str:
    if not _is_open(clock):
        return clock.phase.value
    fits = _FEASIBLE[clock.feasibility]
    needed = f"{show_minutes(clock.minutes_needed.typical_min)} needed"
    if clock.minutes_left is None:
        return f"window {show_minutes(clock.window_min)}, {needed}: {fits}"
    if clock.minutes_left < 0:
        return f"{show_minutes(-clock.minutes_left)} late ({BAND_WORDS[clock.band]})"
    return f"{show_minutes(clock.minutes_left)} left, {needed}: {fits}"


def _end_min(clock: ImpressionClock) -> float:
    starts = [step.since_min for step in clock.steps if step.since_min > 0]
    reach = (clock.age_min or 0.0) + 1.1 * clock.minutes_needed.high_min
    return max([1.3 * max(starts, default=clock.window_min), reach, 1.15 * clock.window_min, 10.0])


def _draw_band(sheet: Sheet, box: Box, band: Band) -> None:
    sheet.rectangle(box, fill=SHADE if band is Band.WITHIN else PAPER, width_mm=0.3)
    if band is not Band.WITHIN:
        _hatch(sheet, box, rising=True)
    if band is Band.BEYOND:
        _hatch(sheet, box, rising=False)
    word = BAND_WORDS[band]
    width = measure_text_mm(word, 3.6, bold=True)
    if width + 4 < box.right - box.left:
        middle = ((box.left + box.right) / 2, (box.top + box.bottom) / 2)
        if band is not Band.WITHIN:
            patch = Box(middle[0] - width / 2 - 1, middle[1] - 2.4, middle[0] + width / 2 + 1, middle[1] + 2.4)
            sheet.rectangle(patch, stroke=None, fill=PAPER)
        sheet.text((middle[0], middle[1] + 1.3), word, size_mm=3.6, bold=True, anchor="middle")


def _hatch(sheet: Sheet, box: Box, *, rising: bool, pitch_mm: float = 2.4) -> None:
    height = box.bottom - box.top
    width = box.right - box.left
    data = []
    for k in range(int((width + height) / pitch_mm) + 1):
        offset = k * pitch_mm
        a, b = max(0.0, offset - height), min(width, offset)
        if b <= a:
            continue
        y_a, y_b = offset - a, offset - b
        if not rising:
            y_a, y_b = height - y_a, height - y_b
        data.append(f"M{box.left + a:.2f} {box.top + y_a:.2f}L{box.left + b:.2f} {box.top + y_b:.2f}")
    sheet.path("".join(data), stroke=QUIET, width_mm=0.25)


def _draw_ticks(sheet: Sheet, clock: ImpressionClock, now: datetime, end_min: float, y: float) -> None:
    per_min = _WIDTH_MM / end_min
    unit, size = ("h", 60.0) if end_min > 300 else ("min", 1.0)
    edges = sorted({0.0, *(s.since_min for s in clock.steps if abs(s.since_min - clock.window_min) > 1e-6)})
    reached = -1.0
    kept_free = _pour_by_span(clock, now, per_min)
    for edge in edges:
        x = edge * per_min
        if clock.out_at is None:
            text = f"{edge / size:g} {unit}"
        else:
            text = f"{edge / size:g} {unit} · {_clock_time(clock.out_at + timedelta(minutes=edge), now)}"
        width = measure_text_mm(text, 3.2)
        anchor = "start" if edge == 0 else ("end" if x + width / 2 > _WIDTH_MM else "middle")
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * width
        if left < reached + 2 or (left < kept_free[1] + 2 and left + width > kept_free[0] - 2):
            continue
        sheet.line((x, y), (x, y + 1.2), INK, 0.3)
        reached = sheet.text((x, y + 4.6), text, size_mm=3.2, anchor=anchor, ink=QUIET).right


def _draw_now(sheet: Sheet, now: datetime, x: float, bar_top: float, grave: bool) -> None:
    ink = ACCENT if grave else INK
    sheet.line((x, bar_top - 2.5), (x, bar_top + _BAR_MM), ink, 1.0)
    sheet.path(
        f"M{x - 2:.2f} {bar_top - 4:.2f}L{x + 2:.2f} {bar_top - 4:.2f}L{x:.2f} {bar_top - 1:.2f}Z",
        stroke=None,
        fill=ink,
    )
    _flag(sheet, (x, bar_top - 5.0), f"now {now:%H:%M}", grave=grave)


def _pour_by_span(clock: ImpressionClock, now: datetime, per_min: float) -> tuple[float, float]:
    """Return left and right edge of the pour-by text."""
    if not _is_open(clock):
        return (-9.0, -9.0)
    x = clock.window_min * per_min
    width = measure_text_mm(_pour_by_text(clock, now), 3.8, bold=True) + 1.5
    return (x - width, x) if x + width > _WIDTH_MM else (x, x + width)


def _pour_by_text(clock: ImpressionClock, now: datetime) -> str:
    return "pour by" if clock.pour_by is None else f"pour by {_clock_time(clock.pour_by, now)}"


def _draw_pour_by(sheet: Sheet, clock: ImpressionClock, now: datetime, per_min: float, bar_top: float) -> None:
    left, right = _pour_by_span(clock, now, per_min)
    if right < 0:
        return
    x = clock.window_min * per_min
    sheet.line((x, bar_top), (x, bar_top + _BAR_MM + 5.4), INK, 0.8, stroke_dasharray="1.6 0.8")
    y = bar_top + _BAR_MM + 5.0
    if left < x:
        sheet.text((x - 1.5, y), _pour_by_text(clock, now), size_mm=3.8, bold=True, anchor="end")
    else:
        sheet.text((x + 1.5, y), _pour_by_text(clock, now), size_mm=3.8, bold=True)


def _draw_needed(sheet: Sheet, clock: ImpressionClock, per_min: float, y: float) -> None:
    needed = clock.minutes_needed
    if not _is_open(clock) or needed.high_min <= 0:
        return
    start = (clock.age_min or 0.0) * per_min
    typical, longest = start + needed.typical_min * per_min, start + needed.high_min * per_min
    sheet.rectangle(Box(start, y - 1.6, typical, y + 1.6), fill=INK)
    sheet.line((typical, y), (longest, y), INK, 0.6)
    sheet.line((longest, y - 1.6), (longest, y + 1.6), INK, 0.6)
    text = f"work: {show_minutes(needed.typical_min)} ({needed.low_min:.0f} to {needed.high_min:.0f})"
    width = measure_text_mm(text, 3.4)
    if longest + 2 + width < _WIDTH_MM:
        sheet.text((longest + 2, y + 1.2), text, size_mm=3.4)
    elif start - 2 - width > 0:
        sheet.text((start - 2, y + 1.2), text, size_mm=3.4, anchor="end")
    else:
        sheet.text((_WIDTH_MM, y + 5.2), text, size_mm=3.4, anchor="end")


def _flag(sheet: Sheet, at: Point, text: str, *, grave: bool) -> None:
    width = measure_text_mm(text, 3.8, bold=True)
    x = min(max(at[0], width / 2), _WIDTH_MM - width / 2)
    sheet.text((x, at[1]), text, size_mm=3.8, bold=True, anchor="middle", ink=ACCENT if grave else INK)


def _clock_time(moment: datetime, now: datetime) -> str:
    shown = moment.astimezone(now.tzinfo)
    return f"{shown:%H:%M}" if shown.date() == now.date() else f"{shown:%d %b %H:%M}"


def _describe(clock: ImpressionClock, now: datetime) -> str:
    parts = [f"{clock.impression}: {_verdict(clock)}."]
    if clock.pour_by is not None:
        parts.append(f"Pour by {_clock_time(clock.pour_by, now)}.")
    for step in clock.steps:
        until = "on" if step.until_min is None else f"to {step.until_min:g} min"
        parts.append(f"From {step.since_min:g} {until}: {BAND_WORDS[step.band]}, {describe_cost(step)}.")
    return " ".join(parts)
