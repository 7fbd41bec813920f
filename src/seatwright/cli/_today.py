"""``seatwright today``: the live view in the terminal. One key starts or finishes a batch; few colors."""

import sys
from collections.abc import Sequence
from contextlib import nullcontext
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._commands import parse_now
from seatwright.cli._keys import KeySource, ShiftedClock, terminal_keys
from seatwright.cli._timetable import open_cases
from seatwright.errors import ConflictError, SeatwrightError
from seatwright.pour import Band, ImpressionPhase
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.ports import Clock
from seatwright.workflows.timetable import PlanSettings, plan_bench_day
from seatwright.workflows.today import ClockRow, LiveDay, LiveView, TaskRow

__all__ = ["render_view", "run_live", "run_today"]

_TICK_S = 1.0
_CHANGES_SHOWN = 8


def run_today(
    cases: Sequence[Path],
    *,
    bench: Path | None = None,
    now: str | None = None,
    limit_s: float = 5.0,
    as_json: bool = False,
    keys: KeySource | None = None,
    clock: Clock | None = None,
) -> int:
    """Run `seatwright today`; without a terminal, or with `as_json`, print the view once.

    Parameters
    ----------
    cases : sequence of Path
    bench : Path, optional
    now : str, optional
        Moment at which the clock begins, ISO 8601 with its zone; the cases' own, if they state one; else the present.
    limit_s : float
        Longest search of the first timetable, s.
    as_json : bool
    keys : KeySource, optional
        Instead of the terminal.
    clock : Clock, optional
        Instead of the machine's.
    """
    day = plan_bench_day(
        open_cases(cases, bench=bench),
        now=parse_now(now),
        clock=clock or wiring.SystemClock(),
        settings=PlanSettings(limit_s=limit_s, n_runs=0, remedies_s=0.0),
    )
    folders = {plan.bundle.case.code: folder for plan, folder in zip(day.plans, cases, strict=True)}
    logs = {plan.bundle.case.code: wiring.open_log(folders[plan.bundle.case.code], plan.bundle) for plan in day.plans}
    live = LiveDay(day, logs)
    if as_json:
        view = live.view(now=day.now)
        _show.print_json(make_envelope("today", inputs=day.inputs, result=view, findings=day.findings))
        return 0
    running = clock or ShiftedClock(wiring.SystemClock(), day.now)
    console = Console(highlight=False, file=sys.stdout)
    if keys is None and not (sys.stdin.isatty() and console.is_terminal):
        console.print(render_view(live.view(now=day.now), day.zone))
        return 0
    with terminal_keys() if keys is None else nullcontext(keys) as source:
        return run_live(live, source, running, console, day.zone)


def run_live(live: LiveDay, keys: KeySource, clock: Clock, console: Console, zone: tzinfo) -> int:
    """Show the day until ``q``: read a key each second, do it, show what changed.

    A touch that could not be logged is told on the screen and changes nothing; a log changed by somebody else ends the
    view, since what it shows is no longer true.
    """
    with Live(render_view(live.view(now=clock.now()), zone), console=console, auto_refresh=False) as screen:
        while True:
            key = keys.read(_TICK_S)
            now = clock.now()
            try:
                if key is None:
                    live.tick(now=now)
                elif not live.press(key, now=now):
                    return 0
            except ConflictError:
                raise
            except SeatwrightError as error:
                live.message = f"{error.message}: {error.hint}" if error.hint else error.message
            screen.update(render_view(live.view(now=clock.now()), zone), refresh=True)


def render_view(view: LiveView, zone: tzinfo) -> RenderableType:
    """Return the screen: verdict, people, steps without hands, clocks, what changed."""
    parts: list[RenderableType] = [
        Text(f"{view.now.astimezone(zone):%H:%M:%S}  {view.headline}", style="bold"),
        _people(view, zone),
        _clocks(view, zone),
    ]
    if view.message:
        parts.append(Text(view.message, style="bold"))
    parts += [Text(line) for line in view.changes[:_CHANGES_SHOWN]]
    if len(view.changes) > _CHANGES_SHOWN:
        parts.append(Text(f"... and {len(view.changes) - _CHANGES_SHOWN} more changes"))
    parts.append(
        Text("number: start or finish   small letter: wrap, unwrap   CAPITAL: humid box   0: plan again   q: leave")
    )
    return Group(*parts)


def _people(view: LiveView, zone: tzinfo) -> Table:
    table = Table(box=None, pad_edge=False)
    for column in ("key", "who", "now", "left", "next", "touch"):
        table.add_column(column, overflow="fold")
    for row in (*view.people, *view.idle):
        table.add_row(
            f"[bold]{escape(row.key)}[/bold]",
            escape(row.who or "no hands"),
            escape(f"{row.now.what} {row.now.impression}" if row.now else "-"),
            _left(row, view.now),
            escape(_next(row, zone)),
            escape(row.touch),
        )
    return table


def _left(row: TaskRow, now: datetime) -> str:
    if row.now is None:
        return ""
    seconds = round((row.now.end - now).total_seconds())
    text = f"{abs(seconds) // 60}:{abs(seconds) % 60:02d}"
    return text if seconds >= 0 else f"[reverse]{text} over[/reverse]"


def _next(row: TaskRow, zone: tzinfo) -> str:
    if row.next is None:
        return "nothing left"
    return f"{row.next.start.astimezone(zone):%H:%M} {row.next.what} {row.next.impression}"


def _clocks(view: LiveView, zone: tzinfo) -> Table:
    table = Table(box=None, pad_edge=False)
    for column in ("key", "impression", "state", "kept", "age", "left", "error", "pour"):
        table.add_column(column, overflow="fold")
    for row in view.clocks:
        table.add_row(
            f"[bold]{escape(row.key)}[/bold]" if row.phase is ImpressionPhase.WAITING else "",
            escape(f"{row.case} {row.impression}"),
            _state(row),
            (row.storage.value.replace("_", " ") if row.storage else "-"),
            _age(row.age_min),
            _minutes_left(row),
            f"{row.error_um[0]:+.0f} ± {2 * row.error_um[1]:.0f} µm" if row.error_um else "no number",
            f"{row.pour_at.astimezone(zone):%H:%M}" if row.pour_at else "-",
        )
    return table


def _state(row: ClockRow) -> str:
    if row.phase is not ImpressionPhase.WAITING:
        return row.phase.value
    return row.band.value if row.band is Band.WITHIN else f"[reverse]{row.band.value}[/reverse]"


def _age(age_min: float | None) -> str:
    if age_min is None:
        return "-"
    whole = timedelta(minutes=int(age_min))
    hours, rest = divmod(int(whole.total_seconds()) // 60, 60)
    return f"{hours} h {rest:02d}" if hours else f"{rest} min"


def _minutes_left(row: ClockRow) -> str:
    if row.minutes_left is None:
        return "-"
    if row.minutes_left < 0:
        return f"[bold]{-row.minutes_left:.0f} min past[/bold]"
    return f"{row.minutes_left:.0f} min" if row.minutes_left < 120 else f"{row.minutes_left / 60:.0f} h"
