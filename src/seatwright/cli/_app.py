"""The command table. Imports nothing heavy: every command loads what it needs when it runs."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from seatwright import __version__
from seatwright.cli._bench_commands import add_bench_commands
from seatwright.cli._boundary import run_guarded
from seatwright.cli._options import AsJson, CasePath, Now, Strict
from seatwright.cli._record_app import record_app
from seatwright.cli._serve_app import serve
from seatwright.cli._survey_app import survey
from seatwright.cli._users_app import users_app

__all__ = ["app", "main"]

app = typer.Typer(
    name="seatwright",
    help="From the pick-up impression to the seated removable partial. It advises; a licensed clinician decides.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.add_typer(record_app, name="record")
app.add_typer(users_app, name="users")
app.command()(serve)


def _version(asked: bool) -> None:
    if asked:
        sys.stdout.write(f"seatwright {__version__}\n")
        raise typer.Exit


@app.callback()
def _root(
    _version_asked: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Take options that stand before a command."""


@app.command()
def demo(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where case/ and dossier/ go.")] = Path("out"),
    as_json: AsJson = False,
) -> int:
    """Write the invented demo case with its scans and run the main job on it."""
    from seatwright.cli import _commands

    return _commands.run_demo(out, as_json=as_json)


@app.command()
def dossier(
    case: CasePath,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where the dossier goes (default: CASE/dossier).")
    ] = None,
    now: Now = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> int:
    """Run the whole job on a case and write its dossier: page, bench card, labels, figures, JSON."""
    from seatwright.cli import _commands

    return _commands.run_dossier(case, out, now=now, strict=strict, as_json=as_json)


@app.command()
def dies(case: CasePath, now: Now = None, strict: Strict = False, as_json: AsJson = False) -> int:
    """Say which die each unit gets, its one never, and why not the others."""
    from seatwright.cli import _commands

    return _commands.run_dies(case, now=now, strict=strict, as_json=as_json)


@app.command()
def pour(case: CasePath, now: Now = None, strict: Strict = False, as_json: AsJson = False) -> int:
    """Say by when to pour, how much work is left, what passing the limit costs, and the mix."""
    from seatwright.cli import _commands

    return _commands.run_pour(case, now=now, strict=strict, as_json=as_json)


@app.command()
def cast(
    case: Annotated[Path | None, typer.Argument(metavar="[CASE]", help="Case folder; or give loose files.")] = None,
    reference: Annotated[Path | None, typer.Option("--reference", metavar="FILE", help="Reference scan.")] = None,
    poured: Annotated[
        list[Path] | None,
        typer.Option(
            "--poured",
            metavar="FILE",
            help="Scan of the poured cast; again for each repeat. With CASE: repeats of its scan.",
        ),
    ] = None,
    unit_regions: Annotated[
        Path | None, typer.Option("--unit-regions", metavar="FILE", help="JSON: where each unit is in the reference.")
    ] = None,
    tolerance_um: Annotated[float, typer.Option("--tolerance-um", help="Allowed shift of a unit (loose files).")] = 50,
    repeatability_um: Annotated[
        float,
        typer.Option(
            "--repeatability-um", help="Declared repeatability of a unit's place, both scans together (loose files)."
        ),
    ] = 5,
    length_error_um_per_mm: Annotated[
        float,
        typer.Option(
            "--length-error-um-per-mm",
            help="Most by which the scanners may be wrong over a distance, per mm, both together (loose files).",
        ),
    ] = 0,
    length_unit: Annotated[str, typer.Option("--length-unit", help="um, mm, cm, m or in (loose files).")] = "mm",
    stable: Annotated[
        str,
        typer.Option(
            "--stable", metavar="TEETH", help="Units that hold the frame, such as 33,34; else the largest agreeing set."
        ),
    ] = "",
    reseated: Annotated[
        str,
        typer.Option(
            "--reseated",
            metavar="TEETH",
            help="Units whose crowns were off and back between the scans (loose files).",
        ),
    ] = "",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Also write the pictures and cast.json here.")
    ] = None,
    now: Now = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> int:
    """Say whether any die moved between the reference and the poured cast, by how much, and how sure that is."""
    from seatwright.cli import _commands

    loose = _commands.LooseScans(
        reference,
        tuple(poured or ()),
        unit_regions,
        tolerance_um,
        repeatability_um,
        length_unit,
        tuple(tooth.strip() for tooth in stable.split(",") if tooth.strip()),
        tuple(tooth.strip() for tooth in reseated.split(",") if tooth.strip()),
        length_error_um_per_mm,
    )
    return _commands.run_cast(case, loose, out, now=now, strict=strict, as_json=as_json)


@app.command()
def caliper(
    case: Annotated[
        Path | None, typer.Argument(metavar="[CASE]", help="Case folder that names its readings (by_hand).")
    ] = None,
    readings: Annotated[
        Path | None, typer.Option("--readings", metavar="FILE.csv", help="Distances read in the mouth and on the cast.")
    ] = None,
    index: Annotated[
        Path | None, typer.Option("--index", metavar="FILE.csv", help="Instead: gaps of an index fixed at one end.")
    ] = None,
    template: Annotated[
        Path | None, typer.Option("--template", metavar="FILE.csv", help="Write a readings sheet to fill in instead.")
    ] = None,
    index_template: Annotated[
        Path | None,
        typer.Option("--index-template", metavar="FILE.csv", help="Write an index sheet to fill in."),
    ] = None,
    marks: Annotated[str, typer.Option("--marks", help="Marks of a template, such as 37,35,43,45.")] = "",
    decimal_comma: Annotated[
        bool, typer.Option("--decimal-comma", help="Template for a decimal comma: semicolons between fields.")
    ] = False,
    tolerance_um: Annotated[float, typer.Option("--tolerance-um", help="Allowed movement of a mark.")] = 50,
    caliper_u_um: Annotated[
        float, typer.Option("--caliper-u-um", help="Standard uncertainty of a distance that repeats do not show.")
    ] = 0,
    foil_u_um: Annotated[
        float, typer.Option("--foil-u-um", help="Standard uncertainty of what a foil says (index test).")
    ] = 5,
    reseat_um: Annotated[
        float,
        typer.Option("--reseat-um", help="Scatter per axis where crowns were lifted and seated again (10 to 50)."),
    ] = 0,
    stable: Annotated[str, typer.Option("--stable", help="Marks that cannot have moved, such as 37,35.")] = "",
    dimension: Annotated[str, typer.Option("--dimension", help="auto, 1, 2 or 3.")] = "auto",
    svg: Annotated[Path | None, typer.Option("--svg", metavar="FILE", help="Also write the picture here.")] = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> int:
    """Without a scanner: say from caliper readings in mouth and on cast whether any mark moved, and how sure."""
    from seatwright.cli import _caliper

    options = _caliper.CaliperOptions(
        readings=readings, index=index, template=template, index_template=index_template, svg=svg, marks=marks,
        decimal_comma=decimal_comma, tolerance_um=tolerance_um, caliper_u_um=caliper_u_um, foil_u_um=foil_u_um,
        reseat_um=reseat_um, stable=stable, dimension=dimension,
    )  # fmt: skip
    if case is not None:
        return _caliper.run_case_caliper(case, options, strict=strict, as_json=as_json)
    return _caliper.run_caliper(options, strict=strict, as_json=as_json)


add_bench_commands(app)


@app.command()
def forecast(
    case: CasePath,
    framework: Annotated[str, typer.Option("--framework", help="Framework: cast or additive.")] = "cast",
    days_away: Annotated[float, typer.Option("--days-away", help="Days the crowns are away from the mouth.")] = 21.0,
    index: Annotated[bool, typer.Option("--index", help="Units are set to a rigid index from the mouth.")] = False,
    with_cast: Annotated[bool, typer.Option("--with-cast", help="Check the scans first; they narrow it.")] = False,
    evidence: Annotated[
        Path | None, typer.Option("--evidence", metavar="FILE", help="Own figures (TOML) in place of published ones.")
    ] = None,
    svg: Annotated[Path | None, typer.Option("--svg", metavar="FILE", help="Also write the picture here.")] = None,
    seed: Annotated[int, typer.Option("--seed", help="Of the trials; recorded in the result.")] = 1,
    trials: Annotated[int, typer.Option("--trials", min=1000, help="Trials of the seating.")] = 20_000,
    now: Now = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> int:
    """Say whether the partial will seat, how sure that is, what dominates the error, and what would change it."""
    from seatwright.cli import _forecast

    options = _forecast.ForecastOptions(framework, days_away, index, with_cast, evidence, svg, seed, trials)
    return _forecast.run_forecast(case, options, now=now, strict=strict, as_json=as_json)


app.command()(survey)


@app.command()
def evidence(
    word: Annotated[str | None, typer.Argument(metavar="[WORD]", help="Only records that mention it.")] = None,
    as_json: AsJson = False,
) -> int:
    """List the published values that the numbers rest on, with source and how obtained."""
    from seatwright.cli import _evidence

    return _evidence.run_evidence(word, as_json=as_json)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and exit with its code."""
    given = sys.argv[1:] if arguments is None else arguments
    given = given or ["--help"]
    as_json = "--json" in given

    def command() -> int:
        if not {"--help", "--version"} & set(given):
            from seatwright import wiring

            wiring.use_kernel_cache()  # before any command imports the compiler, which reads it once
        code = app(given, prog_name="seatwright", standalone_mode=False)
        return int(code or 0)

    sys.exit(run_guarded(command, as_json=as_json))
