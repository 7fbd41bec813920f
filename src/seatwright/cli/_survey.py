"""`seatwright survey`: parse, call the workflow, write, print. No calculation."""

from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.table import Table

from seatwright import wiring
from seatwright.cli import _show
from seatwright.errors import ConflictError, InputError
from seatwright.findings import Severity
from seatwright.survey import InsertionPath, Quality, make_path
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.survey import SurfaceSurvey, survey_surface, undercut_properties

__all__ = ["LooseSurface", "parse_path", "run_loose_survey"]


@dataclass(frozen=True, slots=True)
class LooseSurface:
    """Options of a survey of one surface file that belongs to no case."""

    mesh: Path | None
    path: str | None
    undercut_map: Path | None = None
    max_undercut_mm: float = 2.0
    quality: str = "gauge"
    length_unit: str = "mm"


def parse_path(text: str) -> InsertionPath:
    """Read a seat direction given as X,Y,Z; InputError otherwise."""
    parts = text.replace(";", ",").split(",")
    try:
        numbers = tuple(float(part) for part in parts)
    except ValueError as error:
        raise InputError(f"--path {text!r} is not three numbers", hint="such as --path 0,0,-1") from error
    if len(numbers) != 3:
        raise InputError(f"--path {text!r} has {len(numbers)} numbers, not three", hint="such as --path 0,0,-1")
    return make_path(numbers)


def run_loose_survey(options: LooseSurface, *, with_case: bool, as_json: bool) -> int:
    """Run `seatwright survey --mesh`: undercuts along one path, printed, and written to the map."""
    if options.mesh is None:
        raise InputError("needs a CASE or a surface: --mesh FILE", hint="see: seatwright survey --help")
    if with_case:
        raise InputError("a case and a loose surface cannot be mixed", hint="give CASE alone, or --mesh FILE alone")
    if options.path is None:
        raise InputError("needs a path: --path X,Y,Z", hint="the seat direction, such as --path 0,0,-1")
    try:
        quality = Quality(options.quality)
    except ValueError as error:
        raise InputError(f"no quality '{options.quality}'", hint="display or gauge") from error
    path = parse_path(options.path)
    target = options.undercut_map
    if target is not None:
        _check_target(target, options.mesh)
    surface, file = wiring.read_loose_part(
        options.mesh, option="--mesh", length_unit=options.length_unit, as_written=True
    )
    survey = survey_surface(surface, path, max_undercut_mm=options.max_undercut_mm, quality=quality)
    if target is not None:
        wiring.write_surface(target, survey.written, undercut_properties(survey))
    if as_json:
        _show.print_json(make_envelope("survey", inputs=[file], result=survey.result(), findings=survey.findings))
    else:
        show_survey(survey, options.mesh.name)
        if target is not None:
            _show.say(f"The undercut of each vertex is in {target} (undercut_mm, undercut_flag)")
    return 0


def _check_target(target: Path, mesh: Path) -> None:
    if target.suffix.lower() != ".ply":
        raise InputError(f"--undercut-map {target} is no PLY file", hint="give a name that ends in .ply")
    if target.exists() and mesh.exists() and target.samefile(mesh):
        raise ConflictError(f"--undercut-map {target} is the surface itself", hint="give another name")


def show_survey(survey: SurfaceSurvey, name: str) -> None:
    """Print path, deepest undercut, bands and findings."""
    console = Console(highlight=False)
    report = survey.report
    seat = ", ".join(f"{k:.4f}" for k in survey.path.seat_direction)
    console.print(f"[bold]Deepest undercut measured: {report.deepest_mm:.3f} mm[/bold]", soft_wrap=True)
    console.print(f"    {name}, seating along ({seat}), {report.quality.value} quality", soft_wrap=True, markup=False)
    counts = ", ".join(f"{count} {word}" for word, count in report.n_by_flag.items())
    console.print(f"    vertices: {counts}; looked for up to {report.max_undercut_mm:g} mm", soft_wrap=True)
    table = Table(box=None, pad_edge=False)
    for column in ("undercut, mm", "area, mm²", "its upper line, mm"):
        table.add_column(column, justify="right")
    for band in report.bands:
        end = f"to {band.to_mm:.2f}" if band.to_mm is not None else "and more"
        table.add_row(f"{band.from_mm:.2f} {end}", f"{band.area_mm2:.1f}", f"{band.line_length_mm:.1f}")
    console.print(table)
    console.print(
        f"Survey lines: {report.n_survey_lines}, {report.survey_line_length_mm:.1f} mm in all"
        f" ({report.n_short_lines} shorter than 1 mm left out)",
        soft_wrap=True,
    )
    _show.show_findings([f for f in survey.findings if f.severity is not Severity.NOTE])
