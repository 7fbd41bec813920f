"""What a person reads in the terminal: verdict first, then the number, then why. JSON goes out untouched."""

import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as RichProgress
from rich.table import Table

from seatwright.cast import CastResult, percent_of
from seatwright.findings import Finding, Severity, Verdict
from seatwright.pour import ImpressionClock, ImpressionPhase
from seatwright.progress import Progress
from seatwright.quantities import tell_interval, tell_value
from seatwright.workflows.envelope import encode_json
from seatwright.workflows.plan import Plan
from seatwright.workflows.results import Dossier

__all__ = ["print_json", "progress_bar", "say", "show_cast", "show_dies", "show_dossier", "show_findings", "show_pour"]

_WORDS = {
    Verdict.CONFORMS: "conforms",
    Verdict.DOES_NOT_CONFORM: "DOES NOT CONFORM",
    Verdict.CANNOT_TELL: "cannot tell",
}
_MARKS = {Severity.STOP: "STOP", Severity.WARNING: "warning", Severity.CAUTION: "caution", Severity.NOTE: "note"}


def _out() -> Console:
    return Console(highlight=False)


def print_json(document: Mapping[str, object]) -> None:
    """Print one JSON object on stdout and nothing else."""
    sys.stdout.write(encode_json(document) + "\n")


def say(sentence: str) -> None:
    """Print one plain line."""
    _out().print(escape(sentence), soft_wrap=True)


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """Show how far the work is on stderr; yields the progress to hand down."""
    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(bar_width=24), TimeElapsedColumn())
    with RichProgress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("starting", total=1.0)
        yield Progress(on_progress=lambda fraction, what: bar.update(task, completed=fraction, description=what))


def show_findings(findings: Sequence[Finding], *, limit: int | None = None) -> None:
    """Print findings, gravest first: what, what to do, where it comes from."""
    console = _out()
    shown = list(findings)[:limit]
    for finding in shown:
        console.print(f"[bold]{_MARKS[finding.severity]}[/bold]  {escape(finding.what)}", soft_wrap=True)
        if finding.why:
            console.print(f"    why: {escape(finding.why)}", soft_wrap=True)
        if finding.do:
            console.print(f"    do:  {escape(finding.do)}", soft_wrap=True)
        console.print(f"    [dim]{escape(finding.source.shown())}[/dim]", soft_wrap=True)
    if limit is not None and len(findings) > limit:
        console.print(f"... and {len(findings) - limit} more findings: see the dossier, or --json")


def show_dies(plan: Plan) -> None:
    """Print one line per unit: its die, its never, and why."""
    console = _out()
    table = Table(title=f"Dies for {plan.bundle.case.code}", title_justify="left", box=None, pad_edge=False)
    for column in ("unit", "die", "never", "because"):
        table.add_column(column, overflow="fold")
    for unit in plan.dies.units:
        chosen = unit.chosen.value.replace("_", " ") if unit.chosen else "NONE POSSIBLE"
        table.add_row(f"[bold]{unit.tooth}[/bold]", chosen, escape(unit.never), escape(unit.because))
    for bar in plan.dies.bars:
        table.add_row(f"[bold]{escape(bar.bar)}[/bold]", f"{bar.n_stops} resin stops", escape(bar.never), "bar")
    console.print(table)
    show_findings([f for f in plan.dies.findings if f.severity in (Severity.STOP, Severity.WARNING)])


def show_pour(plan: Plan) -> None:
    """Print each impression's clock: minutes left against minutes needed, cost, mix."""
    console = _out()
    for clock in plan.pour.impressions:
        console.print(f"[bold]{escape(clock.impression)}[/bold]: {escape(clock_sentence(clock))}", soft_wrap=True)
        for mix in clock.mixes:
            bowls = f", in each of {mix.n_batches} bowls" if mix.n_batches > 1 else ""
            console.print(
                f"    {mix.what}: water first, {mix.water_each_ml:g} ml, then {mix.powder_each_g:g} g "
                f"{mix.stone.value.replace('type_', 'Type ')} stone{bowls} (ratio {mix.water_powder:.2f})"
            )
    show_findings([f for f in plan.pour.findings if f.severity is not Severity.NOTE])


def clock_sentence(clock: ImpressionClock) -> str:
    """Return the clock as one sentence."""
    needed = f"{clock.minutes_needed.typical_min:.0f} min of work needed"
    if clock.phase is ImpressionPhase.PLANNED:
        return f"window {clock.window_min:.0f} min from leaving the mouth, {needed}: {_plain(clock.feasibility)}"
    if clock.phase is ImpressionPhase.WAITING and clock.minutes_left is not None:
        left = clock.minutes_left
        state = f"{left:.0f} min left" if left >= 0 else f"{-left:.0f} min past its pour-by time"
        return f"{state}, {needed}: {_plain(clock.feasibility)} ({_plain(clock.band)})"
    return _plain(clock.phase)


def _plain(word: str) -> str:
    return str(word).replace("_", " ")


def show_cast(result: CastResult, title: str) -> None:
    """Print one line per unit: verdict, shift with its interval, turn."""
    console = _out()
    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    for column in ("unit", "verdict", "shift", "judged", "turn"):
        table.add_column(column)
    for unit in result.units:
        shift = unit.shown_shift()
        turn = unit.turn_size_deg.shown() if unit.turn_size_deg is not None else "not measured"
        where = escape(unit.points[0].where()) if unit.points else ""
        table.add_row(f"[bold]{unit.tooth}[/bold]", _WORDS[unit.verdict], shift, where, turn)
    console.print(table)
    stable = ", ".join(result.stable_units)
    console.print(
        f"Frame: {len(result.stable_units)} units agree ({stable}), rms {result.stable_rms_um:.1f} µm; "
        f"tolerance {result.tolerance_um:g} µm. Intervals are 95 %.",
        soft_wrap=True,
    )
    if result.repeats is not None and result.is_repeatability_found:
        found = result.repeats.shift_um
        low, high = tell_interval(*result.repeats.shift_interval_um, found.u)
        console.print(
            f"{result.repeats.n_scans} scans of the poured cast: a unit's place repeats to "
            f"{tell_value(found.value, found.u)} µm ({low} to {high} µm, {found.dof:.0f} degrees of freedom).",
            soft_wrap=True,
        )
    if result.length_error_um_per_mm:
        console.print(
            f"Length error of the scanners up to {result.length_error_um_per_mm:.2g} µm per mm, as declared: in every "
            "interval and in the scale.",
            soft_wrap=True,
        )
    if result.scale_percent is not None:
        console.print(f"Scale of the cast: {result.scale_percent.shown()}.{_expected(result)}", soft_wrap=True)
    show_findings([f for f in result.findings if f.severity is not Severity.NOTE])


def _expected(result: CastResult) -> str:
    report = result.scale_report
    if report is None or report.expected is None:
        return ""
    said = f" The pour lets expect {percent_of(report.expected.value).shown()}"
    if report.is_used and report.posterior is not None:
        return f"{said}; together {percent_of(report.posterior).shown()}."
    return f"{said}; not used: {report.why}."


def show_dossier(dossier: Dossier, folder: str) -> None:
    """Print the short verdict of the whole job and where the dossier is."""
    console = _out()
    console.print(f"\n[bold]{escape(dossier.headline)}[/bold]", soft_wrap=True)
    console.print(f"{escape(dossier.hollow.number)}  {escape(dossier.hollow.caption)}".rstrip(), soft_wrap=True)
    row = "  ".join(f"{step.name}: [bold]{escape(step.word)}[/bold]" for step in dossier.job)
    console.print(row)
    console.print(f"{escape(dossier.support.shown())}, seen {dossier.now:%Y-%m-%d %H:%M} UTC\n")
    show_findings([f for f in dossier.findings if f.severity in (Severity.STOP, Severity.WARNING)], limit=8)
    console.print(f"\nThe dossier is in {escape(folder)} (open index.html)", soft_wrap=True)
    console.print("It advises; a licensed clinician decides. The makers' instructions prevail.")
