"""The timetable as bars: one row per person and per piece of equipment, one for what needs no hands.

Prints in black and white: what is done or fixed is filled, what is planned is open, a window's end is a dashed line.
Each bar carries a number; the list below says in words what it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from seatwright.figures._ink import ACCENT, FAINT, INK, PAPER, QUIET, SHADE, Ink
from seatwright.figures._svg import Box, Sheet
from seatwright.figures._text import measure_text_mm, wrap_text
from seatwright.pour.timetable import Late, Placed, Timetable, verdict_of

__all__ = ["draw_timetable_bars"]

_WIDTH_MM = 270.0  # landscape sheet
_LEFT_MM = 34.0
_TOP_MM = 20.0
_ROW_MM = 9.0
_BAR_MM = 6.4
_LINE_MM = 4.6
_COLUMNS = 3
_STEPS_MIN = (5, 10, 15, 30, 60, 120, 240)


@dataclass(frozen=True, slots=True)
class _Scale:
    start: datetime
    end: datetime
    per_s: float

    def x(self, moment: datetime) -> float:
        return _LEFT_MM + (moment - self.start).total_seconds() * self.per_s


@dataclass(frozen=True, slots=True)
class _Row:
    name: str
    bars: tuple[tuple[int, Placed], ...]


def draw_timetable_bars(timetable: Timetable, *, zone: tzinfo) -> str:
    """Draw who does what when, as SVG text; times on the bench's own clock.

    Parameters
    ----------
    timetable : Timetable
    zone : tzinfo
        Zone of the bench.

    Returns
    -------
    str
        SVG, millimeters, 270 wide; its description holds every bar in words.
    """
    numbered = list(enumerate(timetable.tasks, start=1))
    rows = _rows(numbered)
    foot = _TOP_MM + _ROW_MM * len(rows)
    per_column = -(-len(numbered) // _COLUMNS)
    sheet = Sheet(
        "timetable",
        _WIDTH_MM,
        max(foot + 12.0 + _LINE_MM * per_column, 30.0),
        title="Bench timetable",
        description=_describe(timetable, zone),
    )
    _draw_head(sheet, timetable, zone)
    if not numbered:
        sheet.text((0.0, _TOP_MM), "Nothing is left to do.", size_mm=4.0)
        return sheet.to_svg()
    scale = _scale(timetable)
    _draw_axis(sheet, scale, foot, zone)
    for index, row in enumerate(rows):
        _draw_row(sheet, scale, row, _TOP_MM + _ROW_MM * index)
    for late in timetable.late:
        _draw_window(sheet, scale, late, foot)
    _draw_now(sheet, scale, timetable.now, foot, zone)
    _draw_list(sheet, numbered, foot + 12.0, per_column, zone)
    return sheet.to_svg()


def _rows(numbered: Sequence[tuple[int, Placed]]) -> list[_Row]:
    people = sorted({task.who for _, task in numbered if task.who})
    things = sorted({name for _, task in numbered for name in task.equipment})
    rows = [_Row(name, tuple(b for b in numbered if b[1].who == name)) for name in people]
    rows += [_Row(name, tuple(b for b in numbered if name in b[1].equipment)) for name in things]
    idle = [bar for bar in numbered if not bar[1].who]
    lanes: list[list[tuple[int, Placed]]] = []
    for bar in idle:
        lane = next((lane for lane in lanes if lane[-1][1].end <= bar[1].start), None)
        if lane is None:
            lanes.append([bar])
        else:
            lane.append(bar)
    return rows + [_Row("no hands" if i == 0 else "", tuple(lane)) for i, lane in enumerate(lanes)]


def _scale(timetable: Timetable) -> _Scale:
    start = min(task.start for task in timetable.tasks)
    end = max(task.end for task in timetable.tasks)
    span_s = max((end - start).total_seconds(), 60.0)
    return _Scale(start, end, (_WIDTH_MM - _LEFT_MM - 4.0) / span_s)


def _draw_head(sheet: Sheet, timetable: Timetable, zone: tzinfo) -> None:
    ink = ACCENT if timetable.late else INK
    line = wrap_text(verdict_of(timetable, zone=zone), _WIDTH_MM, 5.0, bold=True, max_lines=1)
    sheet.text((0.0, 5.0), line[0] if line else "", size_mm=5.0, bold=True, ink=ink)


def _draw_axis(sheet: Sheet, scale: _Scale, foot: float, zone: tzinfo) -> None:
    span_min = (scale.end - scale.start).total_seconds() / 60
    width = measure_text_mm("00:00", 3.2) + 3.0
    room = (_WIDTH_MM - _LEFT_MM) / width
    step = next((s for s in _STEPS_MIN if span_min / s <= room), _STEPS_MIN[-1])
    local = scale.start.astimezone(zone)
    past = timedelta(minutes=local.minute % step if step < 60 else local.minute, seconds=local.second)
    moment = scale.start - past
    reached = -1.0
    while moment <= scale.end:
        x = scale.x(moment)
        if moment >= scale.start:
            sheet.line((x, _TOP_MM - 2.0), (x, foot), FAINT, 0.15)
            if x - reached > width - 2.0 and x < _WIDTH_MM - 4.0:
                sheet.text(
                    (x, _TOP_MM - 3.4), f"{moment.astimezone(zone):%H:%M}", size_mm=3.2, anchor="middle", ink=QUIET
                )
                reached = x
        moment += timedelta(minutes=step)


def _draw_row(sheet: Sheet, scale: _Scale, row: _Row, top: float) -> None:
    middle = top + _ROW_MM / 2
    sheet.line((0.0, top + _ROW_MM), (_WIDTH_MM, top + _ROW_MM), FAINT, 0.15)
    name = wrap_text(row.name, _LEFT_MM - 2.0, 3.6, bold=True, max_lines=1)
    if name:
        sheet.text((0.0, middle + 1.2), name[0], size_mm=3.6, bold=True)
    for number, task in row.bars:
        _draw_bar(sheet, scale, number, task, middle)


def _draw_bar(sheet: Sheet, scale: _Scale, number: int, task: Placed, middle: float) -> None:
    left, right = scale.x(task.start), scale.x(task.end)
    box = Box(left, middle - _BAR_MM / 2, max(right, left + 0.4), middle + _BAR_MM / 2)
    fill: Ink = SHADE if task.is_fixed else PAPER
    sheet.rectangle(box, fill=fill, width_mm=0.5 if task.is_fixed else 0.3)
    label, width = str(number), box.right - box.left - 0.8
    words = f"{number} {task.what}"
    if measure_text_mm(words, 2.8) <= width:
        sheet.text((box.left + 0.8, middle + 1.0), words, size_mm=2.8)
    elif measure_text_mm(label, 2.8) <= width + 0.6:
        sheet.text(((box.left + box.right) / 2, middle + 1.0), label, size_mm=2.8, anchor="middle")


def _draw_window(sheet: Sheet, scale: _Scale, late: Late, foot: float) -> None:
    if scale.start <= late.window_end <= scale.end:
        x = scale.x(late.window_end)
        sheet.line((x, _TOP_MM), (x, foot + 2.0), ACCENT, 0.7, stroke_dasharray="1.6 0.8")
        anchor = "end" if x > _WIDTH_MM - 40.0 else "start"
        sheet.text(
            (x, foot + 5.4), f"window of {late.impression} ends", size_mm=3.2, anchor=anchor, ink=ACCENT, bold=True
        )


def _draw_now(sheet: Sheet, scale: _Scale, now: datetime, foot: float, zone: tzinfo) -> None:
    if not scale.start <= now <= scale.end:
        return
    x = scale.x(now)
    sheet.line((x, _TOP_MM - 6.0), (x, foot), INK, 0.9)
    anchor = "end" if x > _WIDTH_MM - 20.0 else "start"
    sheet.text((x, _TOP_MM - 7.2), f"now {now.astimezone(zone):%H:%M}", size_mm=3.6, bold=True, anchor=anchor)


def _draw_list(sheet: Sheet, numbered: Sequence[tuple[int, Placed]], top: float, per_column: int, zone: tzinfo) -> None:
    width = _WIDTH_MM / _COLUMNS
    one_case = len({task.case for _, task in numbered}) == 1
    for index, (number, task) in enumerate(numbered):
        column, row = divmod(index, per_column)
        line = wrap_text(f"{number}  {_in_words(task, zone, one_case=one_case)}", width - 3.0, 3.0, max_lines=1)
        sheet.text((column * width, top + _LINE_MM * (row + 0.6)), line[0], size_mm=3.0)


def _in_words(task: Placed, zone: tzinfo, *, one_case: bool) -> str:
    span = f"{task.start.astimezone(zone):%H:%M}-{task.end.astimezone(zone):%H:%M}"
    who = f", {task.who}" if task.who else ""
    about = task.impression if one_case else f"{task.case} {task.impression}"
    named = task.what if task.impression in task.what.split() and one_case else f"{task.what}, {about}"
    return f"{span}  {named}{who}"


def _describe(timetable: Timetable, zone: tzinfo) -> str:
    lines = [verdict_of(timetable, zone=zone)]
    one_case = len({task.case for task in timetable.tasks}) == 1
    lines += [f"{i}: {_in_words(task, zone, one_case=one_case)}." for i, task in enumerate(timetable.tasks, start=1)]
    return " ".join(lines)
