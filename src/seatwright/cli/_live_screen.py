"""The live view as lines that fit a terminal: verdict, holds, people, clocks, what changed, and always the keys.

Owns what is left out when there is little room. Prints in one ink; what is grave is shown in reverse.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo

from rich.cells import cell_len
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from seatwright.pour import Band, ImpressionPhase
from seatwright.quantities import tell_signed
from seatwright.workflows.today import ClockRow, CountEntry, LiveView, TaskRow

__all__ = ["render_view"]

_TINY = 56  # columns below which age and storage are left out
_NARROW = 72  # columns below which the next step and the cost are left out
_AIRY = 10  # rows to spare from which sections are set apart
_WIDE = 100  # columns from which the next step fits beside the case's name
_TWO_HOURS_MIN = 120
_NEAR_MIN = 15  # near its end a window is counted in seconds
_MEASURE = Console(width=80)
_DUE = timedelta(seconds=60)
_KEYS = "1-9 start, done | a wrap or unwrap, A humid box | - count crowns | u undo | 0 plan again | q leave"
_KEYS_NARROW = "1-9 start/done  a wrap  A box  - count  u undo  0 plan  q"
_COUNT_KEYS = (
    "key: next state | * all others firm, checked by hand | Enter or 0: log the count | q: back, nothing logged"
)


def render_view(view: LiveView, zone: tzinfo, *, width: int = 100, height: int = 0) -> RenderableType:
    """Return the screen.

    Parameters
    ----------
    view : LiveView
    zone : tzinfo
        Of the bench's clock.
    width, height : int
        Of the terminal, in cells; height 0: as long as it gets.
    """
    head = f"{view.now.astimezone(zone):%H:%M:%S}  {view.headline}"
    lines: list[RenderableType] = [Text(head, style="bold reverse" if view.is_grave else "bold")]
    lines += [Text(f"STOP  {hold}", style="bold reverse") for hold in view.holds]
    lines += [Text(f"-> {advice}") for advice in dict.fromkeys(view.advice)]
    used = sum(_n_lines(str(line), width) for line in lines)
    if view.count is not None:
        body: list[RenderableType] = [_count(view.count)]
        used += len(view.count.rows) + 1
        keys = _COUNT_KEYS
    else:
        rows = (*view.people, *view.idle)
        body = [_people(view, rows, zone, width=width), _clocks(view, zone, width=width)]
        used += len(rows) + len(view.clocks) + 2
        keys = _KEYS if width > cell_len(_KEYS) else _KEYS_NARROW
    if height >= used + _AIRY:
        body = [Text(""), body[0], *(part for rest in body[1:] for part in (Text(""), rest)), Text("")]
        used += 1 + len(body[1:]) // 2
    foot = [Text(view.message, style="bold")] if view.message else []
    used += sum(_n_lines(str(line), width) for line in (*foot, keys))
    changes = _changes(view.changes if view.count is None else (), room=height - used if height else 12, width=width)
    return Group(*lines, *body, *foot, *changes, Text(keys, overflow="fold"))


def _n_lines(text: str, width: int) -> int:
    return len(Text(text).wrap(_MEASURE, width)) or 1


def _changes(changes: Sequence[str], *, room: int, width: int) -> list[Text]:
    """Return as many lines as there is room for, and how many more there are."""
    shown: list[Text] = []
    for index, line in enumerate(changes):
        rest = len(changes) - index - 1
        needed = _n_lines(line, width)
        if needed + (1 if rest else 0) > room:
            return [*shown, Text(f"... and {rest + 1} more changes")] if room > 0 else shown
        shown.append(Text(line))
        room -= needed
    return shown


def _people(view: LiveView, rows: Sequence[TaskRow], zone: tzinfo, *, width: int) -> Table:
    table = Table(box=None, pad_edge=False, expand=True, header_style="")
    table.add_column("", no_wrap=True, width=2)
    table.add_column("who", no_wrap=True, overflow="ellipsis", width=10 if width < _NARROW else 12)
    table.add_column("left", no_wrap=True, width=10)
    table.add_column("what", no_wrap=True, overflow="ellipsis", ratio=3)
    several = len({row.case for row in view.clocks}) > 1
    has_then = width >= (_WIDE if several else _NARROW)
    if has_then:
        table.add_column("then", no_wrap=True, overflow="ellipsis", ratio=2)
    for row in rows:
        cells: list[RenderableType] = [
            Text(row.key, style="bold"),
            Text(row.who or "no hands"),
            _when(row, view.now),
            _what(row, several=several),
        ]
        if has_then:
            cells.append(Text(_then(row, zone)))
        table.add_row(*cells)
    return table


def _when(row: TaskRow, now: datetime) -> Text:
    if row.now is not None:
        seconds = round((row.now.end - now).total_seconds())
        text = f"{abs(seconds) // 60}:{abs(seconds) % 60:02d}"
        return Text(f"{text} left") if seconds >= 0 else Text(f"{text} OVER", style="reverse")
    if row.next is None:
        return Text("-")
    if row.next.start - now <= _DUE:
        return Text("START NOW", style="bold")
    minutes = (row.next.start - now) / timedelta(minutes=1)
    return Text(f"in {minutes:.0f} min" if minutes < _TWO_HOURS_MIN else f"in {minutes / 60:.0f} h")


def _what(row: TaskRow, *, several: bool) -> Text:
    task = row.now or row.next
    if task is None:
        return Text("nothing left")
    where = f"{task.case} {task.impression}" if several else task.impression
    about = "" if where in task.what else f"  {where}"
    question = ": where is each?" if row.counts else ""
    return Text(f"{task.what}{question}{about}", style="bold" if row.now else "")


def _then(row: TaskRow, zone: tzinfo) -> str:
    following = row.next if row.now is not None else row.after
    if following is None:
        return ""
    return f"{following.start.astimezone(zone):%H:%M} {following.what}"


def _clocks(view: LiveView, zone: tzinfo, *, width: int) -> Table:
    table = Table(box=None, pad_edge=False, expand=True, header_style="")
    several = len({row.case for row in view.clocks}) > 1
    wide = ("error", "pour at") if width >= _NARROW else ()
    kept = ("kept",) if width >= _TINY else ()
    for column in ("", "impression", "left", "state", *kept, *wide):
        ratio = 1 if column == "impression" else None
        table.add_column(column, no_wrap=True, overflow="ellipsis", ratio=ratio, min_width=2 if column == "" else None)
    for row in view.clocks:
        cells = [
            Text(row.key if row.phase is ImpressionPhase.WAITING else "", style="bold"),
            Text(f"{row.case} {row.impression}" if several else row.impression),
            _minutes_left(row),
            _state(row, with_age=width >= _TINY),
        ]
        if kept:
            cells.append(Text(row.storage.value.replace("_", " ") if row.storage else ""))
        if wide:
            error = f"{tell_signed(row.error_um[0], 0)} ± {2 * row.error_um[1]:.0f} µm" if row.error_um else "no number"
            cells += [Text(error), Text(f"{row.pour_at.astimezone(zone):%H:%M}" if row.pour_at else "")]
        table.add_row(*cells)
    return table


def _state(row: ClockRow, *, with_age: bool) -> Text:
    if row.phase is not ImpressionPhase.WAITING:
        return Text(row.phase.value)
    age = "" if row.age_min is None or not with_age else f", {_age(row.age_min)} old"
    return Text(f"{row.band.value}{age}", style="" if row.band is Band.WITHIN else "reverse")


def _age(age_min: float) -> str:
    hours, minutes = divmod(int(age_min), 60)
    return f"{hours} h {minutes:02d}" if hours else f"{minutes} min"


def _minutes_left(row: ClockRow) -> Text:
    if row.minutes_left is None:
        return Text("-")
    if row.minutes_left < 0:
        return Text(f"{-row.minutes_left:.0f} min PAST", style="reverse")
    if row.minutes_left < _NEAR_MIN:
        whole = int(row.minutes_left * 60)
        return Text(f"{whole // 60}:{whole % 60:02d}", style="bold")
    is_long = row.minutes_left >= _TWO_HOURS_MIN
    return Text(f"{row.minutes_left / 60:.0f} h" if is_long else f"{row.minutes_left:.0f} min")


def _count(count: CountEntry) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for column in ("", "crown", f"count of {count.impression}: where is it?"):
        table.add_column(column, no_wrap=True, overflow="ellipsis")
    for row in count.rows:
        found = row.found or "not judged yet"
        table.add_row(
            Text(row.key, style="bold"), Text(str(row.tooth)), Text(found, style="" if found.islower() else "reverse")
        )
    return table
