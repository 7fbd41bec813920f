"""``seatwright timetable``: who does what when, printed, drawn or as JSON; and the check of an edited one."""

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._moment import parse_now
from seatwright.errors import InputError
from seatwright.findings import Severity
from seatwright.pour.timetable import Timetable, verdict_of
from seatwright.progress import SILENT
from seatwright.workflows.edited import check_edited
from seatwright.workflows.ports import CaseSource
from seatwright.workflows.timetable import BenchDay, PlanSettings, plan_bench_day, timetable_envelope

__all__ = ["TimetableOptions", "open_cases", "run_timetable", "show_timetable"]

_SHOWN_PACE = 0.05


def open_cases(cases: Sequence[Path], *, bench: Path | None) -> list[CaseSource]:
    """Return the sources of the case folders, all with the bench given, if any."""
    if bench is not None and not bench.is_file():
        raise InputError(f"--bench {bench}: there is no such file", hint="give the path of a bench file")
    return [wiring.open_case(case, bench=bench) for case in cases]


@dataclass(frozen=True, slots=True)
class TimetableOptions:
    """What else the command may be asked for.

    Attributes
    ----------
    limit_s : float
        Longest search, s.
    n_runs : int
        Simulated days; 0: no chances, no reserves.
    svg : Path or None
        Where the bars go.
    cards : Path or None
        Folder, which is made, for the step cards in order as ``step-cards.pdf``.
    check : Path or None
        JSON of a timetable, as this command prints it, perhaps edited: checked against every rule instead of planned.
    learn : tuple of Path
        Other case folders whose logs teach durations.
    """

    limit_s: float = 10.0
    n_runs: int = 2000
    svg: Path | None = None
    cards: Path | None = None
    check: Path | None = None
    learn: tuple[Path, ...] = ()


def run_timetable(
    cases: Sequence[Path],
    *,
    bench: Path | None = None,
    now: str | None = None,
    options: TimetableOptions | None = None,
    strict: bool = False,
    as_json: bool = False,
) -> int:
    """Run `seatwright timetable`.

    Parameters
    ----------
    cases : sequence of Path
        Case folders.
    bench : Path, optional
        Bench file that the cases share.
    now : str, optional
        ISO 8601 time with its zone.
    options : TimetableOptions, optional
    strict : bool
        Exit with 10 when something is late, or a check finds something.
    as_json : bool
    """
    asked = options or TimetableOptions()
    if not 0 < asked.limit_s <= 3600:
        raise InputError(f"--limit {asked.limit_s:g} s is no time to search", hint="give 1 to 3600 seconds")
    if not 0 <= asked.n_runs <= 100_000:
        raise InputError(f"--runs {asked.n_runs} is not a number of days", hint="give 0 to 100000")
    settings = PlanSettings(limit_s=asked.limit_s, n_runs=asked.n_runs)
    sources = open_cases(cases, bench=bench)
    with _show.progress_bar() as progress:
        shown = SILENT if as_json else progress
        day = plan_bench_day(
            sources,
            now=parse_now(now),
            clock=wiring.SystemClock(),
            settings=settings,
            learn=open_cases(asked.learn, bench=None),
            progress=shown,
        )
    if asked.check is not None:
        return _run_check(day, asked.check, strict=strict, as_json=as_json)
    if asked.svg is not None:
        _write_svg(day, asked.svg)
    if asked.cards is not None:
        _write_cards(day, asked.cards)
    if as_json:
        _show.print_json(timetable_envelope(day))
    else:
        show_timetable(day)
    return EXIT_NOT_CONFORMING if strict and day.timetable.late else 0


def _write_svg(day: BenchDay, path: Path) -> None:
    from seatwright.figures import draw_timetable_bars  # noqa: PLC0415

    try:
        path.write_text(draw_timetable_bars(day.timetable, zone=day.zone), encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path}: cannot be written ({error.strerror})", hint="give another path") from error


def _write_cards(day: BenchDay, folder: Path) -> None:
    from seatwright.papers import typeset_step_cards  # noqa: PLC0415 - printed only when asked

    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "step-cards.pdf").write_bytes(typeset_step_cards(day))
    except OSError as error:
        raise InputError(f"{folder}: cannot be written ({error.strerror})", hint="give another folder") from error


def _run_check(day: BenchDay, path: Path, *, strict: bool, as_json: bool) -> int:
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise InputError(
            f"--check {path}: cannot be read as JSON", hint="give what `timetable --json` printed"
        ) from error
    violations = check_edited(day, document)
    if as_json:
        listed = [{"rule": v.rule, "task": v.task, "what": v.what} for v in violations]
        envelope = {**timetable_envelope(day), "result": {"sound": not violations, "violations": listed}}
        _show.print_json(envelope)
    else:
        for violation in violations:
            _show.say(f"{violation.task}: {violation.what} ({violation.rule})")
        _show.say("Sound: every rule is kept." if not violations else f"{len(violations)} rules are broken.")
    return EXIT_NOT_CONFORMING if strict and violations else 0


def show_timetable(day: BenchDay) -> None:
    """Print the verdict, then who does what when, then how things wait, the risks and what would help."""
    console = Console(highlight=False, file=sys.stdout)
    timetable = day.timetable
    for hold in day.holds:
        console.print(f"[bold]Held, not planned: {escape(hold.what)}[/bold] {escape(hold.do)}", soft_wrap=True)
    console.print(f"[bold]{escape(verdict_of(timetable, zone=day.zone))}[/bold]", soft_wrap=True)
    _show_remedies(console, timetable)
    table = Table(box=None, pad_edge=False)
    for column in ("from", "to", "who", "what", "impression", "with"):
        table.add_column(column, overflow="fold")
    for row in timetable.tasks:
        if row.is_fixed and row.end <= day.now:
            continue
        table.add_row(
            _clock(row.start, day),
            _clock(row.end, day),
            escape(row.who or "-"),
            escape(row.what),
            escape(f"{row.case} {row.impression}"),
            escape(", ".join(row.equipment)),
        )
    console.print(table)
    for wait in timetable.waits:
        span = f"{_clock(wait.start, day)} to {_clock(wait.end, day)}"
        console.print(f"{span}  keep {escape(wait.impression)}: {escape(wait.keep)}", soft_wrap=True)
    for miss in timetable.misses:
        if miss.kind == "window":
            held = f", {miss.reserve_min:.0f} min held back" if miss.reserve_min else ""
            console.print(f"chance of missing {escape(miss.what)}: {100 * miss.chance:.0f} %{held}", soft_wrap=True)
    for pace in day.paces:
        left_out = f", {pace.n_left_out} left out" if pace.n_left_out else ""
        if pace.n_left_out or abs(pace.factor - 1) >= _SHOWN_PACE:
            name = escape(pace.step.replace("-", " "))
            console.print(f"learned: {name} takes {pace.factor:.2f} x the table, n = {pace.n_measured}{left_out}")
    _show.show_findings([f for f in timetable.findings if f.severity is not Severity.NOTE])


def _show_remedies(console: Console, timetable: Timetable) -> None:
    """Print what would make it so, then in one line what was tried in vain."""
    late = [remedy for remedy in timetable.remedies if not remedy.about]
    for remedy in sorted((r for r in late if r.helps), key=lambda r: r.n_late):
        console.print(f"  with {escape(remedy.change)}: {escape(remedy.detail)}", soft_wrap=True)
    for proven, words in ((True, "does not help"), (False, "no help found in the time given")):
        vain = [r.change for r in late if not r.helps and r.is_proven is proven]
        if vain:
            console.print(f"  {words}: {escape('; '.join(vain))}", soft_wrap=True)
    for remedy in timetable.remedies:
        if remedy.about and remedy.helps:
            name = escape(remedy.about.replace("/", " "))
            console.print(f"  {name}, with {escape(remedy.change)}: {escape(remedy.detail)}", soft_wrap=True)
    if timetable.hands_needed is not None:
        pairs = (
            "1 pair of hands that does"
            if timetable.hands_needed == 1
            else (f"{timetable.hands_needed} pairs of hands that each do")
        )
        console.print(f"  {pairs} everything would do at a typical pace", soft_wrap=True)


def _clock(moment: datetime, day: BenchDay) -> str:
    local = moment.astimezone(day.zone)
    return f"{local:%H:%M}" if local.date() == day.now.astimezone(day.zone).date() else f"{local:%d %b %H:%M}"
