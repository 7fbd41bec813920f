"""`seatwright caliper`: parse, call the workflow, print. No calculation."""

import re
from dataclasses import dataclass, replace
from pathlib import Path

from seatwright import wiring
from seatwright.cast import CaliperAsked, IndexAsked
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._caliper_show import show_caliper, show_index
from seatwright.errors import InputError
from seatwright.findings import Finding, Severity, Source, SourceKind, Verdict
from seatwright.workflows.caliper import check_by_hand, judge_index, judge_readings
from seatwright.workflows.envelope import make_envelope

__all__ = ["CaliperOptions", "run_caliper", "run_case_caliper"]

_LEAST_MARKS = 3
_PLAIN = re.compile(r"^\w[\w .\-/]{0,23}$")


@dataclass(frozen=True, slots=True)
class CaliperOptions:
    """Options of `seatwright caliper`.

    Attributes
    ----------
    readings, index : Path or None
        What to judge: distances, or gaps of an index.
    template, index_template, svg : Path or None
        A sheet to write instead; a picture to write too.
    marks : str
        Names for the template, separated by commas.
    decimal_comma : bool
        Template with semicolons between fields.
    tolerance_um, caliper_u_um, foil_u_um, reseat_um : float
    stable : str
        Marks declared unmoved, separated by commas.
    dimension : str
        ``auto``, ``1``, ``2`` or ``3``.
    """

    readings: Path | None = None
    index: Path | None = None
    template: Path | None = None
    index_template: Path | None = None
    svg: Path | None = None
    marks: str = ""
    decimal_comma: bool = False
    tolerance_um: float = 50.0
    caliper_u_um: float = 0.0
    foil_u_um: float = 5.0
    reseat_um: float = 0.0
    stable: str = ""
    dimension: str = "auto"


def run_caliper(options: CaliperOptions, *, strict: bool = False, as_json: bool = False) -> int:
    """Run `seatwright caliper`: has any mark moved, from distances read by hand."""
    if options.template is not None or options.index_template is not None:
        return _write_templates(options)
    if options.index is not None:
        if options.readings is not None:
            raise InputError("an index test stands alone", hint="give --index without --readings")
        return _run_index(options.index, options, strict=strict, as_json=as_json)
    if options.readings is None:
        raise InputError(
            "no readings are given",
            hint="--readings FILE.csv or --index FILE.csv; or --template FILE.csv --marks 37,35,43 to begin with",
        )
    answer = judge_readings(wiring.caliper_sheet(options.readings), _asked(options))
    result = answer.result
    findings = (*result.findings, *_empty_findings(answer.sheet.n_empty))
    if options.svg is not None:
        from seatwright.figures import draw_caliper_plan

        wiring.write_output(options.svg, draw_caliper_plan(result).encode("utf-8"), may_replace=True)
    if as_json:
        inputs = (answer.sheet.input,)
        _show.print_json(make_envelope("caliper", inputs=inputs, result=result, findings=findings))
    else:
        show_caliper(result, findings)
    return EXIT_NOT_CONFORMING if strict and result.verdict is Verdict.DOES_NOT_CONFORM else 0


def run_case_caliper(case: Path, options: CaliperOptions, *, strict: bool = False, as_json: bool = False) -> int:
    """Run `seatwright caliper CASE`: what the readings say that the case names, against its own tolerance."""
    if options != replace(CaliperOptions(), svg=options.svg):
        raise InputError("a case says itself what was read and what is allowed", hint="give CASE alone, or with --svg")
    from seatwright.figures import draw_caliper_plan, draw_index_test

    source = wiring.open_case(case)
    bundle = source.load(now=None, clock=wiring.SystemClock())
    by_hand = check_by_hand(source, bundle.case)
    if by_hand is None:
        raise InputError(
            "the case names no readings by hand",
            hint='in case.toml: [by_hand] with distances = "caliper.csv" or gaps = "index.csv"',
        )
    caliper, index = by_hand.caliper, by_hand.index
    if options.svg is not None:
        drawn = draw_caliper_plan(caliper.result) if caliper else draw_index_test(index.result) if index else ""
        wiring.write_output(options.svg, drawn.encode("utf-8"), may_replace=True)
    results = {name: a.result for name, a in (("caliper", caliper), ("index", index)) if a is not None}
    if as_json:
        inputs = (*bundle.inputs, *by_hand.inputs)
        _show.print_json(make_envelope("by_hand", inputs=inputs, result=results, findings=by_hand.findings))
    else:
        if caliper is not None:
            show_caliper(caliper.result, (*caliper.result.findings, *_empty_findings(caliper.sheet.n_empty)))
        if index is not None:
            show_index(index.result, (*index.result.findings, *_empty_findings(index.sheet.n_empty)))
    failed = any(result.verdict is Verdict.DOES_NOT_CONFORM for result in results.values())
    return EXIT_NOT_CONFORMING if strict and failed else 0


def _asked(options: CaliperOptions) -> CaliperAsked:
    if options.dimension not in ("auto", "1", "2", "3"):
        raise InputError(f"--dimension {options.dimension!r} is none of auto, 1, 2, 3", hint="leave it out: auto")
    return CaliperAsked(
        tolerance_um=options.tolerance_um,
        u_distance_um=options.caliper_u_um,
        reseat_um=options.reseat_um,
        stable=_names(options.stable),
        n_axes=None if options.dimension == "auto" else int(options.dimension),
    )


def _names(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(" ".join(name.split()) for name in text.split(",") if name.strip()))


def _write_templates(options: CaliperOptions) -> int:
    marks = _names(options.marks)
    if len(marks) < _LEAST_MARKS:
        raise InputError("a template needs at least three marks", hint="--marks 37,35,43,45: tooth numbers, if you can")
    awkward = next((name for name in marks if not _PLAIN.match(name)), None)
    if awkward is not None:
        hint = "letters, digits, blanks and - . / only, at most 24, such as 35 buccal"
        raise InputError(f"{awkward[:40]!r} is no plain name of a mark", hint=hint)
    n = len(marks) * (len(marks) - 1) // 2
    if options.template is not None:
        data = wiring.caliper_template(marks, decimal_comma=options.decimal_comma)
        wiring.write_output(options.template, data, may_replace=False)
        rounds = "three rounds in the mouth and three on the cast"
        _show.say(f"{options.template}: {n} distances between {len(marks)} marks, {rounds}.")
    if options.index_template is not None:
        data = wiring.index_template(marks, decimal_comma=options.decimal_comma)
        wiring.write_output(options.index_template, data, may_replace=False)
        _show.say(f"{options.index_template}: {2 * n} gaps between {len(marks)} seats, and whether it sits at each.")
    return 0


def _run_index(path: Path, options: CaliperOptions, *, strict: bool, as_json: bool) -> int:
    asked = IndexAsked(tolerance_um=options.tolerance_um, u_foil_um=options.foil_u_um)
    answer = judge_index(wiring.index_sheet(path), asked)
    result = answer.result
    findings = (*result.findings, *_empty_findings(answer.sheet.n_empty))
    if options.svg is not None:
        from seatwright.figures import draw_index_test

        wiring.write_output(options.svg, draw_index_test(result).encode("utf-8"), may_replace=True)
    if as_json:
        _show.print_json(make_envelope("index", inputs=(answer.sheet.input,), result=result, findings=findings))
    else:
        show_index(result, findings)
    return EXIT_NOT_CONFORMING if strict and result.verdict is Verdict.DOES_NOT_CONFORM else 0


def _empty_findings(n_empty: int) -> tuple[Finding, ...]:
    if not n_empty:
        return ()
    return (
        Finding(
            "caliper-not-filled",
            Severity.NOTE,
            f"{n_empty} lines have no reading yet.",
            do="Fill them in, or remove them.",
            source=Source(SourceKind.MEASURED, "the readings file"),
        ),
    )
