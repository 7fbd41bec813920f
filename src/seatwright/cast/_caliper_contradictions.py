"""Findings on distances that contradict each other: which is wrong, what cannot be told, what cancels."""

from seatwright.cast._caliper_asked import Epoch
from seatwright.cast._caliper_result import CaliperResult, EpochReport, PairReport
from seatwright.findings import Finding, Severity, Source, SourceKind

__all__ = ["list_network_findings"]

_MEASURED = Source(SourceKind.MEASURED, "these caliper readings")
_NETWORK = Source(SourceKind.PAPER, "Baarda W. A testing procedure for use in geodetic networks, 1968")
_WHERE = {Epoch.MOUTH: "in the mouth", Epoch.INDEX: "on the index", Epoch.CAST: "on the cast"}


def list_network_findings(result: CaliperResult) -> list[Finding]:
    """Say which distances contradict the others, and where a mirrored place fits as well."""
    found = [f for epoch in result.epochs for f in _figure_findings(epoch)]
    found += [_aside_finding(pair, result) for pair in result.pairs if pair.is_set_aside]
    if result.change is not None and result.change.suspects:
        found.append(_not_located("the changes of these distances", result.change.suspects))
    elif not any(pair.is_set_aside for pair in result.pairs):
        found += _epoch_contradictions(result)
    if result.spread.inflation > 1:
        found.append(
            Finding("caliper-misfit", Severity.WARNING,
                    f"The changes fit each other {result.spread.inflation:.1f} times worse than stated.",
                    why="a wrong reading, or jaws that sat elsewhere on a mark; every uncertainty was raised by it",
                    do="Read the most changed distances again, in both places.", source=_MEASURED)
        )  # fmt: skip
    return found


def _epoch_contradictions(result: CaliperResult) -> list[Finding]:
    """Say what contradicts in single epochs; where both do, the marks' heights do, and that cancels."""
    strained = [epoch for epoch in result.epochs if not epoch.test.passes]
    if result.change is not None and len(strained) == 2:
        return [
            Finding("caliper-uneven", Severity.NOTE, "The marks do not lie quite in one plane.",
                    why="both places contradict a plane; what they share cancels in the comparison",
                    do="Nothing, unless a mark was renamed in between.", source=_MEASURED)
        ]  # fmt: skip
    return [
        _not_located(f"one distance {_WHERE[epoch.epoch]}", epoch.suspects)
        if len(epoch.suspects) > 1
        else Finding("caliper-distance-doubtful", Severity.WARNING,
                     f"The distance {epoch.suspects[0]} {_WHERE[epoch.epoch]} contradicts all others there.",
                     why="it fails data snooping at 0.1 %", do="Read it again.", source=_NETWORK,
                     about=epoch.suspects[0])
        for epoch in result.epochs
        if epoch.suspects
    ]  # fmt: skip


def _aside_finding(pair: PairReport, result: CaliperResult) -> Finding:
    before, after = (abs(w) if w is not None else 0.0 for w in pair.w)
    where = "on the cast" if after >= before else _WHERE[result.reference]
    name = f"{pair.first} to {pair.second}"
    return Finding(
        "caliper-distance-aside",
        Severity.WARNING,
        f"The change of {name} contradicts all others and was set aside; {where} it fits worst.",
        why="it fails data snooping at 0.1 %",
        do="Read it again; write the new readings in place of the old.",
        source=_NETWORK,
        about=name,
    )


def _not_located(what: str, suspects: tuple[str, ...]) -> Finding:
    return Finding(
        "caliper-not-located",
        Severity.WARNING,
        f"A wrong reading among {what} is detected but cannot be located: {', '.join(suspects)}.",
        why="too few distances beyond need: their tests go together",
        do="Read these again, and one more distance.",
        source=_NETWORK,
    )


def _figure_findings(epoch: EpochReport) -> list[Finding]:
    found = []
    where = _WHERE[epoch.epoch]
    if epoch.mirrored:
        found.append(
            Finding("caliper-mirrored", Severity.CAUTION,
                    f"{', '.join(epoch.mirrored)} {where} may lie on the other side of the marks it was read to.",
                    why="its mirrored place fits as well", do="Read one more distance to it.", source=_MEASURED)
        )  # fmt: skip
    if epoch.n_redundant == 0 and epoch.n_distances > 1:
        found.append(
            Finding("caliper-no-redundancy", Severity.CAUTION, f"No distance {where} checks another.",
                    why="every wrong reading would pass for a movement",
                    do="Read every distance between the marks, diagonals too.", source=_MEASURED)
        )  # fmt: skip
    return found
