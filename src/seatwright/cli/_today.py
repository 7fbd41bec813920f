"""``seatwright today``: the live view in the terminal. One key starts or finishes a batch; few colors."""

import sys
from collections.abc import Sequence
from contextlib import nullcontext
from datetime import tzinfo
from pathlib import Path

from rich.console import Console, RenderableType
from rich.live import Live

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_INTERRUPTED
from seatwright.cli._keys import KeySource, terminal_keys
from seatwright.cli._live_screen import render_view
from seatwright.cli._moment import ShiftedClock, parse_now
from seatwright.cli._timetable import open_cases
from seatwright.errors import ConflictError, SeatwrightError
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.ports import Clock
from seatwright.workflows.timetable import PlanSettings, plan_bench_day
from seatwright.workflows.today import LiveDay

__all__ = ["run_live", "run_today"]

_TICK_S = 1.0


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
        console.print(render_view(live.view(now=day.now), day.zone, width=console.width))
        return 0
    with terminal_keys() if keys is None else nullcontext(keys) as source:
        return run_live(live, source, running, console, day.zone)


def run_live(live: LiveDay, keys: KeySource, clock: Clock, console: Console, zone: tzinfo) -> int:
    """Show the day until ``q``: read a key each second, do it, show what changed.

    A touch that could not be logged is told on the screen and changes nothing; a log changed by somebody else ends the
    view, since what it shows is no longer true.
    """

    def shown() -> RenderableType:
        width, height = console.size
        return render_view(live.view(now=clock.now()), zone, width=width, height=height if console.is_terminal else 0)

    code = 0
    with Live(shown(), console=console, auto_refresh=False, screen=console.is_terminal) as screen:
        while True:
            try:
                key = keys.read(_TICK_S)
            except KeyboardInterrupt:
                code = EXIT_INTERRUPTED
                break
            now = clock.now()
            try:
                if key is None:
                    live.tick(now=now)
                elif not live.press(key, now=now):
                    break
            except ConflictError:
                raise
            except SeatwrightError as error:
                live.message = f"{error.message}: {error.hint}" if error.hint else error.message
            screen.update(shown(), refresh=True)
    console.print(f"Left at {clock.now().astimezone(zone):%H:%M}; every touch is in the log.")
    return code
