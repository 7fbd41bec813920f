"""Findings of the caliper check, by what they are about; each says what, why and what to do."""

from collections.abc import Sequence
from statistics import median

from seatwright.cast._caliper_asked import CaliperReading, Epoch
from seatwright.cast._caliper_result import CaliperResult, MarkMovement
from seatwright.findings import COMMON_PRACTICE, JUDGEMENT, Finding, Severity, Source, SourceKind, Verdict
from seatwright.quantities import Measured, tell_interval, tell_signed

__all__ = [
    "list_mark_findings",
    "list_reading_findings",
    "list_scale_findings",
]

_MEASURED = Source(SourceKind.MEASURED, "these caliper readings")
_REPEATS = Source(SourceKind.STANDARD, "ISO 5725-2:2019, 8.3")
_SCALE_FACTOR = 3.0  # judgement: a scale is named when it exceeds three standard uncertainties
_COARSE_MM = 0.05  # judgement: steps from here on hide movements of 50 µm
_NEXT = (
    "Make no framework on this cast yet. New pick-up; or cut the die out, reset it in a verification index and lute it "
    "again; or pick its male up in the mouth. Alginate is never poured again."
)
_WHERE = {Epoch.MOUTH: "in the mouth", Epoch.INDEX: "on the index", Epoch.CAST: "on the cast"}


def list_mark_findings(result: CaliperResult) -> list[Finding]:
    """Say who moved, or that it is open."""
    if result.stable is None or result.zero_um is not None:
        return []
    if not result.stable.is_unique:
        return [_open_finding(result)]
    found = [f for mark in result.marks if (f := _mark_finding(mark, result)) is not None]
    off = [m for m in result.marks if m.judged.verdict is Verdict.DOES_NOT_CONFORM and not m.is_moved]
    if off:
        names = ", ".join(f"{m.mark} ({m.judged.length_um:.0f} µm)" for m in off)
        found.append(
            Finding("caliper-marks-off", Severity.WARNING,
                    f"Off as the whole cast is, not by themselves: {names}.",
                    why="they agree with each other once a uniform scale is taken out",
                    do="Look to the impression and the pour, not to these dies.", source=_MEASURED)
        )  # fmt: skip
    return found


def _open_finding(result: CaliperResult) -> Finding:
    changes = [(p, p.change_um) for p in result.pairs if p.change_um is not None]
    changes.sort(key=lambda item: -abs(item[1].value / item[1].u))
    top = ", ".join(f"{p.first} to {p.second} {tell_signed(change.value, 0)} µm" for p, change in changes[:3])
    return Finding(
        "caliper-open",
        Severity.STOP,
        f"Some mark moved, but the distances do not say which; most changed: {top}.",
        why="only movements between marks are seen, and no one group of marks outvotes the others",
        do="Read more marks (stone teeth too), name the marks that cannot have moved with --stable, or fix an index at "
        "one end and read the gap at the other.",
        source=_MEASURED,
    )


def _mark_finding(mark: MarkMovement, result: CaliperResult) -> Finding | None:
    judged = mark.judged
    is_off = judged.verdict is Verdict.DOES_NOT_CONFORM
    if not mark.is_moved:
        return None
    interval = ""
    if judged.low_um is not None and judged.high_um is not None:
        interval = " ({} to {} µm)".format(*tell_interval(judged.low_um, judged.high_um, judged.u_worst_um))
    size = f"{judged.length_um:.0f} µm{interval}"
    within = f"; probability of being within {result.asked.tolerance_um:g} µm: {_chance(judged.p_within)}"
    return Finding(
        "caliper-mark-moved",
        Severity.STOP if is_off else Severity.CAUTION,
        f"{mark.mark} moved: {size}.",
        why=f"standard uncertainty {judged.u_worst_um:.0f} µm along the worst direction{within}",
        do=_NEXT if is_off else "It moved; whether by more than is allowed is not settled: read its distances again.",
        source=COMMON_PRACTICE if is_off else _MEASURED,
        about=mark.mark,
    )


def _chance(p: float | None) -> str:
    if p is None:
        return "not known"
    return "below 0.01" if p < 0.01 else "above 0.99" if p > 0.99 else f"{p:.2f}"


def list_scale_findings(result: CaliperResult) -> list[Finding]:
    """Name a scale of the whole cast where it is plain."""
    if result.zero_um is not None:
        return [_zero_finding(result.zero_um)]
    scale = result.scale_percent
    if scale is None or abs(scale.value) < _SCALE_FACTOR * scale.u:
        return []
    size = "larger" if scale.value > 0 else "smaller"
    return [
        Finding(
            "caliper-scale",
            Severity.CAUTION,
            f"The marks that agree stand as on a cast {abs(scale.value):.2f} ± {2 * scale.u:.2f} % {size}.",
            why="stone expands and impressions shrink; the caliper read both, so its own scale cancels only if it was "
            "the same caliper",
            do="Judge distances across the arch by this before suspecting single dies.",
            source=_MEASURED,
        )
    ]


def _zero_finding(zero: Measured) -> Finding:
    return Finding(
        "caliper-zero",
        Severity.WARNING,
        f"Every distance changed alike, by {zero.shown()}, whatever its length.",
        why="no change and a uniform scale both fail to explain it; a caliper whose zero was set differently does",
        do="Close the jaws and look at the zero; read one side again, or mend all its readings by the known error.",
        source=_MEASURED,
    )


def list_reading_findings(
    result: CaliperResult, readings: Sequence[CaliperReading], slips: Sequence[CaliperReading]
) -> list[Finding]:
    """Say what was wrong with single readings and what a reading is worth."""
    found = [_slip_finding(slip, readings) for slip in slips]
    if any(r.first > r.second for r in readings) and any(
        (r.epoch, r.first, r.second) in {(q.epoch, q.second, q.first) for q in readings} for r in readings
    ):
        found.append(
            Finding("caliper-reversed", Severity.NOTE, "Some distances are written both ways round.",
                    why="both ways count as repeats of one distance", source=_MEASURED)
        )  # fmt: skip
    spread = result.spread
    if spread.resolution_mm >= _COARSE_MM:
        found.append(
            Finding("caliper-coarse", Severity.CAUTION,
                    f"The readings come in steps of {spread.resolution_mm:g} mm.",
                    why=f"a step alone gives every reading a standard uncertainty of {spread.s_reading_um:.0f} µm",
                    do="Use a caliper that reads 0.01 mm.", source=JUDGEMENT)
        )  # fmt: skip
    if spread.repeats is None:
        found.append(
            Finding("caliper-no-repeats", Severity.CAUTION, "Nothing was read twice.",
                    why=f"all rests on the declared {spread.u_distance_um:g} µm for a distance",
                    do="Read every distance three times, with the jaws lifted in between.", source=COMMON_PRACTICE)
        )  # fmt: skip
    if spread.s_operators_um > 0:
        found.append(
            Finding("caliper-operators", Severity.CAUTION, "The operators read some distances differently.",
                    why=f"a component of {spread.s_operators_um:.0f} µm between operators is counted in",
                    do="Agree where on each mark the jaws sit.", source=_MEASURED)
        )  # fmt: skip
    if result.asked.reseat_um > 0:
        found.append(
            Finding("caliper-reseat", Severity.NOTE,
                    f"Crowns were lifted and seated again: {result.asked.reseat_um:g} µm per axis are counted in.",
                    why="reseating a crown scatters by some 10 to 50 µm", source=COMMON_PRACTICE)
        )  # fmt: skip
    return [*found, *_missing_findings(result), *_changed_findings(result)]


def _slip_finding(slip: CaliperReading, readings: Sequence[CaliperReading]) -> Finding:
    others = [r.length_mm for r in readings if r.pair == slip.pair and r.epoch is slip.epoch and r is not slip]
    line = f" (line {slip.line})" if slip.line else ""
    return Finding(
        "caliper-slip",
        Severity.WARNING,
        f"One reading of {slip.first} to {slip.second} {_WHERE[slip.epoch]} was left out: {slip.length_mm:g} mm{line}.",
        why=f"its repeats read about {median(others):.2f} mm",
        do="Read it again, or mend a slip of the pen.",
        source=_REPEATS,
        about=f"{slip.first} to {slip.second}",
    )


def _changed_findings(result: CaliperResult) -> list[Finding]:
    """Name distances that changed too much between marks that no figure holds, or when none is told to have moved."""
    placed = {m.mark for m in result.marks}
    changed = [
        (p, p.change_um)
        for p in result.pairs
        if p.verdict is Verdict.DOES_NOT_CONFORM and p.change_um is not None and not {p.first, p.second} <= placed
    ]
    if not changed:
        return []
    listed = ", ".join(f"{p.first} to {p.second} {tell_signed(change.value, 0)} µm" for p, change in changed)
    return [
        Finding("caliper-pair-changed", Severity.WARNING, f"Changed by more than is allowed for one mark: {listed}.",
                why="at least one of its two marks moved; which one, and where to, is not fixed by one distance",
                do="Read these marks to more others.", source=_MEASURED)
    ]  # fmt: skip


def _missing_findings(result: CaliperResult) -> list[Finding]:
    if not any(p.n_cast for p in result.pairs) or not any(p.n_reference for p in result.pairs):
        return []
    reference = _WHERE[result.reference]
    sides = (
        (reference, [f"{p.first} to {p.second}" for p in result.pairs if p.n_reference and not p.n_cast]),
        ("on the cast", [f"{p.first} to {p.second}" for p in result.pairs if p.n_cast and not p.n_reference]),
    )
    return [
        Finding("caliper-one-sided", Severity.CAUTION, f"Read {where} only: {', '.join(names)}.",
                why="a distance compares nothing until both are read",
                do="Read it in the other place too.", source=_MEASURED)
        for where, names in sides
        if names
    ]  # fmt: skip
