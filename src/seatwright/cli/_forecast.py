"""`seatwright forecast`: parse, call the workflow, print. No calculation."""

from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._moment import parse_now
from seatwright.errors import InputError
from seatwright.forecast import (
    Change,
    Choices,
    FeatureForecast,
    ForecastResult,
    FrameworkRoute,
    OwnFigures,
    SeatingChance,
    SeatingWord,
)
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.ports import InputFile

__all__ = ["ForecastOptions", "run_forecast", "show_forecast"]


@dataclass(frozen=True, slots=True)
class ForecastOptions:
    """Options of `seatwright forecast`.

    Attributes
    ----------
    framework : str
        ``cast`` or ``additive``.
    days_away : float
        Days between pick-up and try-in.
    index : bool
        Units are corrected to a rigid index made in the mouth.
    with_cast : bool
        Check the case's scans first and let them narrow the forecast.
    evidence : Path or None
        Figures that replace the published ones.
    svg : Path or None
        Where the picture goes.
    seed, trials : int
        Of the Monte Carlo; the seed is recorded in the result.
    """

    framework: str = "cast"
    days_away: float = 21.0
    index: bool = False
    with_cast: bool = False
    evidence: Path | None = None
    svg: Path | None = None
    seed: int = 1
    trials: int = 20_000


def run_forecast(
    case: Path, options: ForecastOptions, *, now: str | None = None, strict: bool = False, as_json: bool = False
) -> int:
    """Run `seatwright forecast`: will the partial seat, and what dominates; with `strict`, 'rarely' exits with 10."""
    from seatwright.workflows.cast_check import check_case_casts
    from seatwright.workflows.forecast import ForecastAsked, forecast_case

    choices, files = _choices(options)
    source = wiring.open_case(case)
    clock = wiring.SystemClock()
    with _show.progress_bar() as progress:
        cast = None
        if options.with_cast:
            bundle = source.load(now=parse_now(now), clock=clock)
            steps, scans = check_case_casts(source, bundle, progress=progress.part(0.0, 0.5))
            cast, files = steps[-1].result, (*files, *scans)
        answer = forecast_case(
            source,
            now=parse_now(now),
            clock=clock,
            asked=ForecastAsked(choices, seed=options.seed, n_trials=options.trials),
            cast=cast,
            progress=progress.part(0.5 if options.with_cast else 0.0, 1.0),
        )
    result = answer.result
    if options.svg is not None:
        from seatwright.figures import draw_fit

        wiring.write_output(options.svg, draw_fit(result).encode(), may_replace=True)
    if as_json:
        inputs = (*answer.plan.bundle.inputs, *files)
        _show.print_json(make_envelope("forecast", inputs=inputs, result=result, findings=result.findings))
    else:
        show_forecast(result)
    return EXIT_NOT_CONFORMING if strict and result.p_seats.says is SeatingWord.RARELY else 0


def _choices(options: ForecastOptions) -> tuple[Choices, tuple[InputFile, ...]]:
    try:
        route = FrameworkRoute(options.framework)
    except ValueError as error:
        raise InputError(f"no framework route '{options.framework}'", hint="cast or additive") from error
    own, files = OwnFigures(), list[InputFile]()
    if options.evidence is not None:
        own, file = wiring.read_own_figures(options.evidence)
        files.append(file)
    return Choices(framework=route, days_away=options.days_away, index_in_mouth=options.index, own=own), tuple(files)


def show_forecast(result: ForecastResult) -> None:
    """Print verdict, what helps most, places, what matters, and on what it all rests."""
    console = Console(highlight=False)
    _show_chance(console, result.p_seats, result.before)
    _show_changes(console, result.changes)
    _show_places(console, result.features)
    console.print(escape(result.trust), soft_wrap=True)
    console.print("\n[bold]What decides it[/bold] (shares of the slack's variance; they add up to 100 %)")
    for link in result.ranked[:5]:
        console.print(
            f"{100 * max(link.share, 0.0):4.0f} %  {escape(link.title)}: {escape(link.words)}", soft_wrap=True
        )
    left = ", ".join(step.step for step in result.left_out)
    console.print(f"\nLeft out, with reasons in --json: {escape(left)}.\n", soft_wrap=True)
    _show.show_findings([f for f in result.findings if f.id != "forecast-seating"], limit=8)


def _show_chance(console: Console, chance: SeatingChance, before: SeatingChance | None) -> None:
    console.print(
        f"[bold]Seats {chance.says.value}: {100 * chance.value:.0f} in 100[/bold] "
        f"({100 * chance.low:.0f} to {100 * chance.high:.0f} over what is poorly known)",
        soft_wrap=True,
    )
    if before is not None:
        console.print(
            f"    before the cast was measured: {before.says.value}, {100 * before.value:.0f} in 100 "
            f"({100 * before.low:.0f} to {100 * before.high:.0f})",
            soft_wrap=True,
        )
    if chance.binds:
        worst = ", ".join(f"{b.link} {100 * b.share:.0f} %" for b in chance.binds[:3])
        console.print(f"    where it fails: {escape(worst)}", soft_wrap=True)
    console.print(
        f"    {chance.n_trials} trials: {100 * chance.mc_low:.1f} to {100 * chance.mc_high:.1f} by chance alone (95 %)",
        soft_wrap=True,
    )


def _show_changes(console: Console, changes: tuple[Change, ...]) -> None:
    helping = [change for change in changes if change.helps]
    if not helping:
        console.print("\nNothing still open helps for certain.")
        return
    console.print("\n[bold]What helps most[/bold]")
    single = [change for change in helping if "+" not in change.id][:4]
    double = [change for change in helping if "+" in change.id and change.gain > single[0].gain + 0.02][:1]
    for change in (*single, *double):
        ends = (
            "" if change.low is None or change.high is None else f" ({100 * change.low:.0f} to {100 * change.high:.0f})"
        )
        console.print(f"{100 * change.p_seats:4.0f} in 100{ends}  {escape(change.what)}; {change.cost}", soft_wrap=True)


def _show_places(console: Console, features: tuple[FeatureForecast, ...]) -> None:
    table = Table(title="\nMisfit expected, µm", title_justify="left", box=None, pad_edge=False)
    for column in ("place", "which way", "95 % of casts", "room", "within", "most of it from"):
        table.add_column(column, overflow="fold")
    for feature in features:
        low, high = feature.interval95_um
        top = feature.shapley[0] if feature.shapley else None
        source = f"{top.link.replace('_', ' ')} {100 * top.share:.0f} %" if top else ""
        table.add_row(
            escape(feature.id.removesuffix("/stop")),
            feature.what,
            f"{low:.0f} to {high:.0f}",
            f"{feature.allowed_um:.0f}",
            f"{100 * feature.p_within:.0f} %",
            source,
        )
    console.print(table)
