"""`seatwright forecast`: parse, call the workflow, print. No calculation."""

from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._commands import parse_now
from seatwright.errors import InputError
from seatwright.forecast import Choices, ForecastResult, FrameworkRoute, SeatingWord
from seatwright.workflows.envelope import make_envelope

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
    seed, trials : int
        Of the Monte Carlo; the seed is recorded in the result.
    """

    framework: str = "cast"
    days_away: float = 21.0
    index: bool = False
    with_cast: bool = False
    seed: int = 1
    trials: int = 20_000


def run_forecast(
    case: Path, options: ForecastOptions, *, now: str | None = None, strict: bool = False, as_json: bool = False
) -> int:
    """Run `seatwright forecast`: will the partial seat, and what dominates; with `strict`, 'rarely' exits with 10."""
    from seatwright.workflows.cast_check import check_case_casts
    from seatwright.workflows.forecast import ForecastAsked, forecast_case

    try:
        route = FrameworkRoute(options.framework)
    except ValueError as error:
        raise InputError(f"no framework route '{options.framework}'", hint="cast or additive") from error
    source = wiring.open_case(case)
    clock = wiring.SystemClock()
    with _show.progress_bar() as progress:
        cast = None
        if options.with_cast:
            bundle = source.load(now=parse_now(now), clock=clock)
            steps, _ = check_case_casts(source, bundle, progress=progress.part(0.0, 0.5))
            cast = steps[-1].result
        answer = forecast_case(
            source,
            now=parse_now(now),
            clock=clock,
            asked=ForecastAsked(
                Choices(framework=route, days_away=options.days_away, index_in_mouth=options.index),
                seed=options.seed,
                n_trials=options.trials,
            ),
            cast=cast,
            progress=progress.part(0.5 if options.with_cast else 0.0, 1.0),
        )
    result = answer.result
    if as_json:
        inputs = answer.plan.bundle.inputs
        _show.print_json(make_envelope("forecast", inputs=inputs, result=result, findings=result.findings))
    else:
        show_forecast(result)
    return EXIT_NOT_CONFORMING if strict and result.p_seats.says is SeatingWord.RARELY else 0


def show_forecast(result: ForecastResult) -> None:
    """Print verdict, chance, places, what matters and what to change."""
    console = Console(highlight=False)
    chance = result.p_seats
    console.print(f"[bold]Seats {chance.says.value}[/bold]: {100 * chance.value:.0f} in 100 trials", soft_wrap=True)
    console.print(
        f"    {100 * chance.low:.0f} to {100 * chance.high:.0f} over what is poorly known; "
        f"trials alone: {100 * chance.mc_low:.1f} to {100 * chance.mc_high:.1f}",
        soft_wrap=True,
    )
    if chance.binds:
        worst = ", ".join(f"{b.link} {100 * b.share:.0f} %" for b in chance.binds[:3])
        console.print(f"    where it fails: {escape(worst)}", soft_wrap=True)
    table = Table(title="Misfit expected, µm", title_justify="left", box=None, pad_edge=False)
    for column in ("place", "which way", "95 % of casts", "room", "within", "most of it from"):
        table.add_column(column, overflow="fold")
    for feature in result.features:
        low, high = feature.interval95_um
        top = feature.contributions[0] if feature.contributions else None
        source = f"{top.link.replace('_', ' ')} {100 * top.share:.0f} %" if top else ""
        table.add_row(
            escape(feature.id), feature.what, f"{low:.0f} to {high:.0f}", f"{feature.allowed_um:.0f}",
            f"{100 * feature.p_within:.0f} %", source,
        )  # fmt: skip
    console.print(table)
    for link in result.ranked[:5]:
        console.print(f"{100 * link.total:3.0f} %  {escape(link.title)}: {escape(link.words)}", soft_wrap=True)
    for change in result.changes[:5]:
        cost = f"{change.extra_min:+.0f} min, {change.extra_visits:+d} visits"
        console.print(
            f"{100 * change.gain:+4.0f}  {escape(change.what)} ({100 * change.p_seats:.0f} in 100; {cost})",
            soft_wrap=True,
        )
    _show.show_findings(result.findings, limit=8)
