"""What the caliper check noticed, in words: the answer, who moved, what to read again, what cannot be seen."""

from collections.abc import Sequence
from dataclasses import replace

from seatwright.cast._caliper_asked import CaliperReading
from seatwright.cast._caliper_contradictions import list_network_findings
from seatwright.cast._caliper_findings import (
    list_mark_findings,
    list_reading_findings,
    list_scale_findings,
)
from seatwright.cast._caliper_result import CaliperResult, MarkMovement
from seatwright.cast._caliper_sight import list_sight_findings
from seatwright.findings import Verdict, sort_findings
from seatwright.quantities import tell_interval, tell_signed

__all__ = ["finish_result"]


def finish_result(
    result: CaliperResult, readings: Sequence[CaliperReading], slips: Sequence[CaliperReading]
) -> CaliperResult:
    """Return the result with its headline and findings, gravest first."""
    findings = [
        *list_mark_findings(result),
        *list_scale_findings(result),
        *list_reading_findings(result, readings, slips),
        *list_network_findings(result),
        *list_sight_findings(result),
    ]
    return replace(result, headline=_headline(result), findings=sort_findings(tuple(findings)))


def _headline(result: CaliperResult) -> str:
    tolerance = f"{result.asked.tolerance_um:g} µm"
    if _is_one_sided(result):
        return _headline_one_epoch(result)
    if result.zero_um is not None:
        changed = tell_signed(result.zero_um.value, 0)
        return (
            f"Cannot tell: every distance changed by {changed} µm whatever its length, as a "
            "caliper's zero does and marks do not."
        )
    if not result.marks or result.stable is None:
        return f"Cannot tell: the distances fix no figure; only single distances can be compared with {tolerance}."
    if not result.stable.is_unique:
        return "Something moved, but which mark is open: " + (
            f"{_names(result.stable.marks)} kept their figure, {_names(result.stable.rival)} theirs."
            if result.stable.rival and len(result.stable.marks) > result.n_axes
            else "no group of marks is large enough to say that the others moved."
        )
    off = [m for m in result.marks if m.judged.verdict is Verdict.DOES_NOT_CONFORM]
    if off and result.stable.with_scale:
        alone = [m for m in off if m.is_moved]
        by_itself = "; ".join(_moved_words(m) for m in alone) if alone else "no single mark moved by itself"
        return f"Does not conform: the whole cast is {_scale_words(result)}; {by_itself}; {tolerance} are allowed."
    if off:
        return f"Does not conform: {'; '.join(_moved_words(m) for m in off)}; {tolerance} are allowed."
    if result.verdict is Verdict.CONFORMS:
        return f"Conforms: no mark moved by more than {tolerance}, {_sight_words(result)}{_aside_words(result)}."
    return f"Cannot tell: {_open_words(result)}."


def _is_one_sided(result: CaliperResult) -> bool:
    return len({True for p in result.pairs if p.n_reference}) + len({True for p in result.pairs if p.n_cast}) < 2


def _headline_one_epoch(result: CaliperResult) -> str:
    where = "the cast" if result.pairs[0].n_cast else f"the {result.reference.value}"
    if result.largest_unseen_um is None:
        return f"Only {where} was read, so nothing can be compared yet; these distances fix no figure."
    return (
        f"Only {where} was read, so nothing can be compared yet. Read alike, the other would show any mark's movement "
        f"of {result.largest_unseen_um:.0f} µm or more."
    )


def _moved_words(mark: MarkMovement) -> str:
    judged = mark.judged
    if judged.low_um is None or judged.high_um is None:
        return f"{mark.mark} stands off"
    low, high = tell_interval(judged.low_um, judged.high_um, judged.u_worst_um)
    return f"{mark.mark} stands {judged.length_um:.0f} µm off ({low} to {high} µm)"


def _scale_words(result: CaliperResult) -> str:
    scale = result.scale_percent
    if scale is None:
        return "another size"
    return f"{abs(scale.value):.2f} % {'large' if scale.value > 0 else 'small'}"


def _aside_words(result: CaliperResult) -> str:
    aside = [f"{p.first} to {p.second}" for p in result.pairs if p.is_set_aside]
    return f"; without {_names(aside)}, to be read again" if aside else ""


def _sight_words(result: CaliperResult) -> str:
    return {1: "along their line", 2: "in their plane", 3: "in space"}[result.n_axes]


def _open_words(result: CaliperResult) -> str:
    open_marks = [m for m in result.marks if m.judged.verdict is Verdict.CANNOT_TELL]
    parts = []
    if open_marks:
        worst = max(open_marks, key=lambda m: m.judged.length_um)
        parts.append(
            f"{_names([m.mark for m in open_marks])} may stand inside or outside {result.asked.tolerance_um:g} µm "
            f"(largest seen {worst.judged.length_um:.0f} µm, u {worst.judged.u_worst_um:.0f} µm)"
        )
    if result.loose:
        parts.append(f"too few distances were read to {_names(result.loose)}")
    return "; ".join(parts) or "the readings do not decide it"


def _names(names: Sequence[str]) -> str:
    listed = list(names)
    if len(listed) < 2:
        return "".join(listed)
    return f"{', '.join(listed[:-1])} and {listed[-1]}"
