"""The commands of a day at the bench: timetable and live view. Imports nothing heavy."""

from pathlib import Path
from typing import Annotated

import typer

from seatwright.cli._options import AsJson, Now, Strict

__all__ = ["add_bench_commands"]

CasePaths = Annotated[list[Path], typer.Argument(metavar="CASE...", help="Case folders that meet on this day.")]
BenchFile = Annotated[
    Path | None, typer.Option("--bench", metavar="FILE", help="Bench file for all cases (default: each case's own).")
]


def add_bench_commands(app: typer.Typer) -> None:
    """Add both commands to the table."""
    app.command()(timetable)
    app.command()(today)


def timetable(
    cases: CasePaths,
    bench: BenchFile = None,
    limit_s: Annotated[float, typer.Option("--limit-s", help="Longest search, seconds.")] = 10.0,
    runs: Annotated[int, typer.Option("--runs", help="Simulated days for the chances; 0: none.")] = 2000,
    svg: Annotated[Path | None, typer.Option("--svg", metavar="FILE", help="Also write the bars here.")] = None,
    cards: Annotated[
        Path | None, typer.Option("--cards", metavar="DIR", help="Also write step-cards.pdf here, in order of work.")
    ] = None,
    learn: Annotated[
        list[Path] | None, typer.Option("--learn", metavar="CASE", help="Learn durations from this case's log too.")
    ] = None,
    check: Annotated[
        Path | None, typer.Option("--check", metavar="FILE", help="Check this timetable (JSON) instead of planning.")
    ] = None,
    now: Now = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> int:
    """Say who does what when, so that no pour passes its window; proven best, or with the bound."""
    from seatwright.cli import _timetable

    options = _timetable.TimetableOptions(
        limit_s=limit_s, n_runs=runs, svg=svg, cards=cards, check=check, learn=tuple(learn or ())
    )
    return _timetable.run_timetable(cases, bench=bench, now=now, options=options, strict=strict, as_json=as_json)


def today(cases: CasePaths, bench: BenchFile = None, now: Now = None, as_json: AsJson = False) -> int:
    """Show the day live: clocks, next step for each person; one key starts or finishes a batch."""
    from seatwright.cli import _today

    return _today.run_today(cases, bench=bench, now=now, as_json=as_json)
