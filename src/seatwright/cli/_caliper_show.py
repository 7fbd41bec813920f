"""What `seatwright caliper` prints for a person: verdict, marks, distances, what it rests on, findings."""

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright.cast import CaliperResult, GaugeStudy, IndexResult, MarkMovement, PairReport
from seatwright.cli import _show
from seatwright.findings import Finding, Verdict
from seatwright.quantities import tell_interval

__all__ = ["show_caliper", "show_index"]

_WORDS = {
    Verdict.CONFORMS: "conforms",
    Verdict.DOES_NOT_CONFORM: "DOES NOT CONFORM",
    Verdict.CANNOT_TELL: "cannot tell",
}
_AXES = {1: "along a line", 2: "in a plane", 3: "in space"}


def show_caliper(result: CaliperResult, findings: tuple[Finding, ...]) -> None:
    """Print verdict, marks with interval and reach, distances, what it rests on, then why and what to do."""
    console = Console(highlight=False)
    console.print(f"[bold]{escape(result.headline)}[/bold]", soft_wrap=True)
    if result.marks and result.stable is None:
        console.print("\nMovements that would be found")
        console.print(_reach_table(result))
    elif result.marks and result.stable is not None and result.stable.is_unique:
        console.print(f"\nMarks, cast against {result.reference.value}")
        console.print(_mark_table(result))
    console.print("\nDistances (checked: share of an error that the others would show)", soft_wrap=True)
    console.print(_pair_table(result))
    console.print()
    for line in _basis(result):
        console.print(escape(line), soft_wrap=True)
    _show.show_findings(findings)


def _table(columns: tuple[str, ...]) -> Table:
    table = Table(box=None, pad_edge=False)
    for column in columns:
        table.add_column(column)
    return table


def _mark_table(result: CaliperResult) -> Table:
    columns = ("mark", "verdict", "moved µm", "95 %", "chance within", "found from µm")
    table = _table(columns)
    for mark in result.marks:
        judged = mark.judged
        told = "-"
        if judged.low_um is not None and judged.high_um is not None:
            told = " to ".join(tell_interval(judged.low_um, judged.high_um, judged.u_worst_um))
        table.add_row(
            f"[bold]{escape(mark.mark)}[/bold]",
            _WORDS[judged.verdict],
            f"{judged.length_um:.0f}",
            told,
            f"{100 * judged.p_within:.0f} %" if judged.p_within is not None else "-",
            _reach(mark),
        )
    return table


def _reach_table(result: CaliperResult) -> Table:
    table = _table(("mark", "from µm"))
    for mark in result.marks:
        table.add_row(f"[bold]{escape(mark.mark)}[/bold]", _reach(mark))
    return table


def _reach(mark: MarkMovement) -> str:
    seen = [v for v in mark.detectable_um if v is not None]
    if not seen:
        return "-"
    low, high = min(seen), max(seen)
    return f"{low:.0f}" if high - low < 1 else f"{low:.0f} to {high:.0f}"


def _pair_table(result: CaliperResult) -> Table:
    columns = ("from", "to", f"{result.reference.value} mm", "cast mm", "change", "checked", "error from")
    table = _table(columns)
    for pair in result.pairs:
        change = pair.change_um.shown() if pair.change_um is not None else "-"
        change += " aside" if pair.is_set_aside else ""
        table.add_row(
            escape(pair.first),
            escape(pair.second),
            _length(pair.reference_mm, pair.n_reference),
            _length(pair.cast_mm, pair.n_cast),
            f"[bold]{change}[/bold]" if pair.verdict is Verdict.DOES_NOT_CONFORM else change,
            *_checked(pair),
        )
    return table


def _length(length_mm: float | None, n: int) -> str:
    if length_mm is None:
        return "-"
    return f"{length_mm:.3f} ({n}×)"


def _checked(pair: PairReport) -> tuple[str, str]:
    known = [(r, d) for r, d in zip(pair.redundancy, pair.detectable_um, strict=True) if r is not None]
    if not known:
        return "-", "-"
    share, detectable = min(known, key=lambda item: item[0])
    return (f"{100 * share:.0f} %", f"{detectable:.0f} µm") if detectable is not None else ("not", "-")


def _basis(result: CaliperResult) -> list[str]:
    spread = result.spread
    lines = [f"Marks placed {_AXES[result.n_axes]}: {result.n_axes_because}."] if result.n_axes else []
    reading = []
    if spread.repeats is not None:
        reading.append(f"one reading repeats to {spread.s_reading_um:.0f} µm, {spread.repeats.dof} degrees of freedom")
    if spread.u_distance_um:
        reading.append(f"{spread.u_distance_um:g} µm a distance declared")
    lines.append("Readings: " + "; ".join(reading) + ".")
    if result.gauge is not None:
        lines.append(_operators(result.gauge))
    for epoch in result.epochs:
        factor = f"; variance factor {epoch.test.ratio:.2f}" if epoch.test.ratio is not None else ""
        limit = f", limit {epoch.test.limit:.2f}" if epoch.test.limit is not None else ""
        lines.append(
            f"{epoch.epoch.value.capitalize()}: {_count(epoch.n_distances)}, {epoch.n_redundant} beyond need, datum "
            f"defect {epoch.defect}{factor}{limit}."
        )
    if result.stable is not None and result.marks:
        test = result.stable.overall
        limit = f", limit {test.limit:.2f}" if test.limit is not None else ""
        frame = ", ".join(result.stable.marks) if result.stable.is_unique else "open"
        ratio = result.change.test.ratio if result.change is not None else None
        if ratio is not None:
            lines.append(f"Changes: variance factor {ratio:.2f}.")
        lines.append(f"Same figure: F {test.f:.2f}{limit}, rank {test.rank}. Frame: {frame}.")
    return lines


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


def _count(n: int) -> str:
    return f"{n} distance{'' if n == 1 else 's'}"


def _operators(gauge: GaugeStudy) -> str:
    share = gauge.gauge_to_tolerance
    width = f"; six times both is {100 * share:.0f} % of the allowed width" if share is not None else ""
    return (
        f"Operators: repeat {1e3 * gauge.s_repeatability:.0f} µm, between operators "
        f"{1e3 * gauge.s_reproducibility:.0f} µm{width}."
    )
