"""`seatwright survey --mesh`: parse, call the workflow, write, print. No calculation."""

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._loose_window import WindowAsked, find_window, show_window
from seatwright.cli._survey_case import parse_numbers
from seatwright.errors import ConflictError, InputError
from seatwright.findings import Severity, sort_findings
from seatwright.mesh import Surface
from seatwright.survey import InsertionPath, Quality, list_wax_steps, make_path
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.survey import SurfaceSurvey, path_from_marks, survey_surface, undercut_properties

__all__ = ["LooseSurface", "WindowAsked", "run_loose_survey"]

_SOLID_ENDINGS = (".stl", ".3mf", ".glb", ".ply")


@dataclass(frozen=True, slots=True)
class LooseSurface:
    """Options of a survey of one surface file that belongs to no case, as typed."""

    mesh: Path | None
    path: str | None = None
    marks: tuple[str, ...] = ()
    occlusal: str | None = None
    undercut_map: Path | None = None
    max_undercut_mm: float = 2.0
    quality: str = "gauge"
    length_unit: str = "mm"
    block_out: Path | None = None
    taper_deg: float | None = None
    svg: Path | None = None
    search: WindowAsked = field(default_factory=WindowAsked)


def run_loose_survey(options: LooseSurface, *, with_case: bool, as_json: bool) -> int:
    """Run `seatwright survey --mesh`: undercuts along one path, tripod marks, block-out; printed and written."""
    if options.mesh is None:
        raise InputError("needs a CASE or a surface: --mesh FILE", hint="see: seatwright survey --help")
    if with_case:
        raise InputError("a case and a loose surface cannot be mixed", hint="give CASE alone, or --mesh FILE alone")
    quality, taper_deg = _read_quality(options.quality), options.taper_deg
    if options.block_out is not None and taper_deg is None:
        taper_deg = 0.0
    typed = parse_numbers(options.path, "--path", count=3)
    path = None if typed is None else make_path(np.array(typed))
    _check_targets(options, options.mesh)
    surface, file = wiring.read_loose_part(
        options.mesh, option="--mesh", length_unit=options.length_unit, as_written=True
    )
    window, files = None, [file]
    if path is None and not options.marks:
        window, more = find_window(surface, options.search)
        path, files = window.path, [file, *more]
    survey = survey_surface(
        surface,
        path or _path_of_marks(options, surface),
        max_undercut_mm=options.max_undercut_mm,
        quality=quality,
        taper_deg=taper_deg,
    )
    if window is not None:
        survey = replace(survey, window=window, findings=sort_findings((*survey.findings, *window.findings)))
    written = _write(survey, options, options.mesh.name)
    if as_json:
        _show.print_json(make_envelope("survey", inputs=files, result=survey.result(), findings=survey.findings))
    else:
        show_survey(survey, options.mesh.name)
        for sentence in written:
            _show.say(sentence)
    return 0


def _read_quality(text: str) -> Quality:
    try:
        return Quality(text)
    except ValueError as error:
        raise InputError(f"no quality '{text}'", hint="display or gauge") from error


def _path_of_marks(options: LooseSurface, surface: Surface) -> InsertionPath:
    if len(options.marks) != 3:
        raise InputError(
            f"needs a path: --path X,Y,Z, or --mark X,Y,Z three times; {len(options.marks)} marks are given",
            hint="the seat direction, such as --path 0,0,-1",
        )
    marks = [parse_numbers(text, "--mark", count=3) for text in options.marks]
    hint = parse_numbers(options.occlusal, "--occlusal", count=3)
    out = None if hint is None else (hint[0], hint[1], hint[2])
    return path_from_marks(surface, np.array(marks), withdraw_hint=out)


def _check_targets(options: LooseSurface, mesh: Path) -> None:
    targets = {"--undercut-map": (options.undercut_map, (".ply",)), "--block-out": (options.block_out, _SOLID_ENDINGS)}
    targets["--svg"] = (options.svg, (".svg",))
    for name, (target, endings) in targets.items():
        if target is None:
            continue
        if target.suffix.lower() not in endings:
            raise InputError(f"{name} {target} cannot be written", hint="give a name ending in " + ", ".join(endings))
        if target.exists() and mesh.exists() and target.samefile(mesh):
            raise ConflictError(f"{name} {target} is the surface itself", hint="give another name")


def _write(survey: SurfaceSurvey, options: LooseSurface, name: str) -> list[str]:
    """Write what was asked for; return a sentence on each file."""
    said = []
    if options.undercut_map is not None:
        wiring.write_surface(options.undercut_map, survey.written, undercut_properties(survey))
        said.append(f"The undercut of each vertex is in {options.undercut_map} (undercut_mm, undercut_flag)")
    if options.block_out is not None and survey.fill is not None:
        if survey.fill.solids:
            wiring.write_solids(options.block_out, survey.fill.solids)
            said.append(f"The block-out is in {options.block_out}")
        else:
            said.append("Nothing to block out: no file was written")
    if options.svg is not None:
        from seatwright.figures import draw_undercut_map  # noqa: PLC0415 - drawn only when asked

        drawn = draw_undercut_map(survey.field, survey.lines, survey.tripod, name=name)
        wiring.write_output(options.svg, drawn.encode("utf-8"), may_replace=True)
        said.append(f"The picture is in {options.svg}")
    return said


def show_survey(survey: SurfaceSurvey, name: str) -> None:
    """Print path, deepest undercut, bands and findings."""
    console = Console(highlight=False)
    report = survey.report
    if survey.window is not None:
        show_window(survey.window)
    seat = ", ".join(f"{k:.4f}" for k in survey.path.seat_direction)
    console.print(f"[bold]Undercuts of {report.undercut_volume_mm3:.0f} mm³ along the path[/bold]", soft_wrap=True)
    console.print(f"    {name}, seating along ({seat}), {report.quality.value} quality", soft_wrap=True, markup=False)
    counts = ", ".join(f"{count} {word}" for word, count in report.n_by_flag.items())
    console.print(f"    vertices: {counts}; looked for up to {report.max_undercut_mm:g} mm", soft_wrap=True)
    table = Table(box=None, pad_edge=False)
    for column in ("undercut, mm", "area, mm²", "its upper line, mm"):
        table.add_column(column, justify="right")
    for band in report.bands:
        table.add_row(f"{band.from_mm:.2f} to {band.to_mm:.2f}", f"{band.area_mm2:.1f}", f"{band.line_length_mm:.1f}")
    table.add_row(f"over {report.max_undercut_mm:.2f}, or not reached", f"{report.beyond_area_mm2:.1f}", "")
    console.print(table)
    console.print(
        f"Survey lines: {report.n_survey_lines}, {report.survey_line_length_mm:.1f} mm in all"
        f" ({report.n_short_lines} shorter than 1 mm left out)",
        soft_wrap=True,
    )
    _show_tripod(console, survey)
    if survey.fill is not None:
        console.print(
            f"Block-out at {survey.fill.taper_deg:g} degrees: {survey.fill.volume_mm3:.0f} mm³. In wax:", soft_wrap=True
        )
        for number, step in enumerate(list_wax_steps(survey.fill), start=1):
            console.print(f"  {number}. {step}", soft_wrap=True)
    _show.show_findings([f for f in survey.findings if f.severity is not Severity.NOTE])


def _show_tripod(console: Console, survey: SurfaceSurvey) -> None:
    marks = survey.tripod
    if marks is None:
        console.print("Tripod marks: nothing free and steep enough for three of them")
        return
    places = "; ".join(", ".join(f"{k:.1f}" for k in point) for point in marks.points_mm)
    console.print(f"Tripod marks at ({places})", soft_wrap=True)
    console.print(
        f"    they bring the tilt back to ±{2 * marks.u_retilt_deg[0]:.2f} degree (95 %), "
        f"if each is good to {marks.u_mark_mm:g} mm (judgement)",
        soft_wrap=True,
    )
