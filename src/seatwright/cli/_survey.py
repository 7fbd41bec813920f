"""`seatwright survey --mesh`: parse, call the workflow, write, print. No calculation."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._loose_window import WindowAsked, find_window, show_window
from seatwright.cli._survey_bench import TypedBench, parse_marks, parse_numbers, show_bench, write_bench
from seatwright.errors import InputError
from seatwright.findings import Severity, sort_findings
from seatwright.mesh import Surface
from seatwright.survey import InsertionPath, make_path
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.survey import note_length_unit, path_from_marks, survey_surface

__all__ = ["LooseSurface", "WindowAsked", "refuse_plan_options", "run_loose_survey"]


@dataclass(frozen=True, slots=True)
class LooseSurface:
    """Options of a survey of one surface file that belongs to no case, as typed."""

    mesh: Path | None
    path: str | None = None
    marks: tuple[str, ...] = ()
    occlusal: str | None = None
    length_unit: str = "mm"
    bench: TypedBench = field(default_factory=TypedBench)
    search: WindowAsked = field(default_factory=WindowAsked)


def run_loose_survey(options: LooseSurface, *, with_case: bool, as_json: bool) -> int:
    """Run `seatwright survey --mesh`: undercuts along one path, tripod marks, block-out; printed and written."""
    if options.mesh is None:
        raise InputError("needs a CASE or a surface: --mesh FILE", hint="see: seatwright survey --help")
    if with_case:
        raise InputError("a case and a loose surface cannot be mixed", hint="give CASE alone, or --mesh FILE alone")
    asked = options.bench.read()
    _refuse_two_paths(options)
    typed = parse_numbers(options.path, "--path", count=3)
    path = None if typed is None else make_path(np.array(typed))
    options.bench.require_apart_from(options.mesh)
    surface, file = wiring.read_loose_part(
        options.mesh, option="--mesh", length_unit=options.length_unit, as_written=True
    )
    window, files = None, [file]
    if path is None and not options.marks:
        window, more = find_window(surface, options.search)
        path, files = window.path, [file, *more]
    survey = survey_surface(surface, path or _path_of_marks(options, surface), asked)
    notes = (*survey.findings, note_length_unit(surface), *(window.findings if window is not None else ()))
    survey = replace(survey, window=window, findings=sort_findings(notes))
    written = write_bench(survey, options.bench, options.mesh.name)
    if as_json:
        _show.print_json(make_envelope("survey", inputs=files, result=survey.result(), findings=survey.findings))
        return 0
    if window is not None:
        show_window(window)
    show_bench(survey, options.mesh.name)
    _show.show_findings([f for f in survey.findings if f.severity is not Severity.NOTE])
    for sentence in written:
        _show.say(sentence)
    return 0


def refuse_plan_options(given: Mapping[str, object]) -> None:
    """Refuse options that speak of a case's plan; a loose surface has none."""
    for name, value in given.items():
        if value:
            raise InputError(
                f"{name} speaks of a case's plan", hint="survey CASE; a loose surface takes --path or --mark"
            )


def _refuse_two_paths(options: LooseSurface) -> None:
    if options.path is not None and options.marks:
        raise InputError("one path is judged at a time", hint="give --path or --mark, not both")
    if options.search.framework is not None and (options.path is not None or options.marks):
        raise InputError(
            "a framework on a loose surface is seated along the path that is found for it",
            hint="leave --path and --mark out; along a path of your own, survey a case with --framework",
        )


def _path_of_marks(options: LooseSurface, surface: Surface) -> InsertionPath:
    if len(options.marks) != 3:
        raise InputError(
            f"needs a path: --path X,Y,Z, or --mark X,Y,Z three times; {len(options.marks)} marks are given",
            hint="the seat direction, such as --path 0,0,-1",
        )
    hint = parse_numbers(options.occlusal, "--occlusal", count=3)
    out = None if hint is None else (hint[0], hint[1], hint[2])
    return path_from_marks(surface, np.array(parse_marks(options.marks, "--mark")), withdraw_hint=out)
