"""`seatwright caliper`: parse, call the workflow, print. No calculation."""

from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright import wiring
from seatwright.cast import CaliperAsked, CaliperResult, IndexAsked, IndexResult, MarkMovement, PairReport
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.errors import InputError
from seatwright.findings import Finding, Severity, Source, SourceKind, Verdict
from seatwright.workflows.caliper import judge_index, judge_readings
from seatwright.workflows.envelope import make_envelope

__all__ = ["CaliperOptions", "run_caliper", "show_caliper", "show_index"]

_WORDS = {
    Verdict.CONFORMS: "conforms",
    Verdict.DOES_NOT_CONFORM: "DOES NOT CONFORM",
    Verdict.CANNOT_TELL: "cannot tell",
}
_LEAST_MARKS = 3


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
        if options.readings is not None or options.svg is not None:
            raise InputError("an index test stands alone", hint="give --index without --readings and --svg")
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
    if as_json:
        _show.print_json(make_envelope("index", inputs=(answer.sheet.input,), result=result, findings=findings))
    else:
        show_index(result, findings)
    return EXIT_NOT_CONFORMING if strict and result.verdict is Verdict.DOES_NOT_CONFORM else 0


def show_index(result: IndexResult, findings: tuple[Finding, ...]) -> None:
    """Print the verdict, what it rests on, then the candidates and what to read next."""
    console = Console(highlight=False)
    console.print(f"[bold]{escape(result.headline)}[/bold]", soft_wrap=True)
    misfits = [f"nothing off misses the readings by {result.misfit_none_um:.0f} µm"]
    if result.misfit_one_um is not None:
        misfits.append(f"one abutment off by {result.misfit_one_um:.0f} µm")
    if result.misfit_two_um is not None:
        misfits.append(f"two by {result.misfit_two_um:.0f} µm")
    basis = (
        f"Fixed at {', '.join(result.fixed)}; {result.n_readings} gaps see {result.rank} of {result.n_unknowns} "
        f"unknown heights and tilts; {', '.join(misfits)} at best; {result.asked.tolerance_um:g} µm allowed."
    )
    console.print(escape(basis), soft_wrap=True)
    _show.show_findings(findings)


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


def show_caliper(result: CaliperResult, findings: tuple[Finding, ...]) -> None:
    """Print verdict, marks with interval and reach, changed distances, then why and what to do."""
    console = Console(highlight=False)
    console.print(f"[bold]{escape(result.headline)}[/bold]", soft_wrap=True)
    if result.marks and result.stable is not None:
        console.print(_mark_table(result))
    console.print(_pair_table(result))
    console.print(escape(_basis(result)), soft_wrap=True)
    _show.show_findings(findings)


def _mark_table(result: CaliperResult) -> Table:
    table = Table(title="Marks, cast against " + result.reference.value, title_justify="left", box=None, pad_edge=False)
    for column in ("mark", "verdict", "moved, µm", "95 %", "chance within", "found from, µm"):
        table.add_column(column)
    for mark in result.marks:
        judged = mark.judged
        low, high = judged.low_um, judged.high_um
        table.add_row(
            f"[bold]{escape(mark.mark)}[/bold]",
            _WORDS[judged.verdict] + (" (moved)" if mark.is_moved else ""),
            f"{judged.length_um:.0f}",
            f"{low:.0f} to {high:.0f}" if low is not None and high is not None else "-",
            f"{100 * judged.p_within:.0f} %" if judged.p_within is not None else "-",
            _reach(mark),
        )
    return table


def _reach(mark: MarkMovement) -> str:
    seen = [v for v in mark.detectable_um if v is not None]
    if not seen:
        return "-"
    low, high = min(seen), max(seen)
    return f"{low:.0f}" if high - low < 1 else f"{low:.0f} to {high:.0f}"


def _pair_table(result: CaliperResult) -> Table:
    table = Table(title="Distances", title_justify="left", box=None, pad_edge=False)
    for column in ("from", "to", result.reference.value + ", mm", "cast, mm", "change", "checked by others"):
        table.add_column(column)
    for pair in result.pairs:
        table.add_row(
            escape(pair.first),
            escape(pair.second),
            _length(pair.reference_mm, pair.n_reference, aside=pair.is_set_aside[0]),
            _length(pair.cast_mm, pair.n_cast, aside=pair.is_set_aside[1]),
            pair.change_um.shown() if pair.change_um is not None else "-",
            _checked(pair),
        )
    return table


def _length(length_mm: float | None, n: int, *, aside: bool) -> str:
    if length_mm is None:
        return "-"
    return f"{length_mm:.3f} ({n}×)" + (" set aside" if aside else "")


def _checked(pair: PairReport) -> str:
    known = [(r, d) for r, d in zip(pair.redundancy, pair.detectable_um, strict=True) if r is not None]
    if not known:
        return "-"
    share, detectable = min(known, key=lambda item: item[0])
    return f"{100 * share:.0f} %, error from {detectable:.0f} µm" if detectable is not None else "not at all"


def _basis(result: CaliperResult) -> str:
    spread = result.spread
    parts = [f"Placed in {result.n_axes} dimensions: {result.n_axes_because}"] if result.n_axes else []
    if spread.repeats is not None:
        parts.append(f"one reading repeats to {spread.s_reading_um:.0f} µm ({spread.repeats.dof} degrees of freedom)")
    if spread.u_distance_um:
        parts.append(f"{spread.u_distance_um:g} µm a distance declared")
    for epoch in result.epochs:
        ratio = f", variance factor {epoch.test.ratio:.2f}" if epoch.test.ratio is not None else ""
        parts.append(
            f"{epoch.epoch.value}: {epoch.n_distances} distances, {epoch.n_redundant} beyond need, datum defect "
            f"{epoch.defect}{ratio}"
        )
    if result.stable is not None and result.marks:
        test = result.stable.overall
        limit = f"limit {test.limit:.2f}" if test.limit is not None else "no limit"
        parts.append(
            f"same figure: F {test.f:.2f}, {limit}, rank {test.rank}; frame: {', '.join(result.stable.marks) or 'open'}"
        )
    return "; ".join(parts) + "." if parts else ""
