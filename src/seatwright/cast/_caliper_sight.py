"""Findings on what the caliper check cannot see: directions, marks without distances, movements below its reach."""

import math

from seatwright.cast._caliper_result import CaliperResult
from seatwright.findings import Finding, Severity, Source, SourceKind

__all__ = ["list_sight_findings"]

_MEASURED = Source(SourceKind.MEASURED, "these caliper readings")


def list_sight_findings(result: CaliperResult) -> list[Finding]:
    """Say what cannot be seen: directions, loose marks, movements below what is detectable."""
    found = []
    if result.n_axes == 2:
        found.append(
            Finding("caliper-flat", Severity.NOTE, "Movements out of the plane of the marks are not seen.",
                    why="a mark lifted by 0.1 mm changes a distance of 40 mm by 0.12 µm",
                    do="Check heights with an index, or put marks at different heights.", source=_MEASURED)
        )  # fmt: skip
    if result.n_axes == 1:
        found.append(
            Finding("caliper-line", Severity.CAUTION, "Only movements along the line of the marks are seen.",
                    why="to first order, a mark that moves sideways changes no distance along the line",
                    do="Add a mark well off the line.", source=_MEASURED)
        )  # fmt: skip
    found += [
        Finding("caliper-blind", Severity.CAUTION, f"{b.mark} is hardly seen {b.words}.",
                why=f"standard uncertainty there {b.u_um:.0f} µm" if b.u_um is not None else "",
                do="Read distances that run in that direction.", source=_MEASURED, about=b.mark)
        for b in result.blind
    ]  # fmt: skip
    if result.loose:
        names = ", ".join(result.loose)
        found.append(
            Finding("caliper-loose", Severity.WARNING, f"Too few distances were read to place {names}.",
                    why="a mark needs two distances in a plane, three in space, to marks that are placed themselves",
                    do="Read more distances to it, across the arch too.", source=_MEASURED)
        )  # fmt: skip
    return [*found, *_reach_findings(result)]


def _reach_findings(result: CaliperResult) -> list[Finding]:
    reach, tolerance = result.largest_unseen_um, result.asked.tolerance_um
    if reach is None or reach <= tolerance:
        return []
    where = next(m.mark for m in result.marks if reach in m.detectable_um)
    times = math.ceil((reach / tolerance) ** 2)
    return [
        Finding("caliper-reach", Severity.CAUTION,
                f"Along its worst direction {where} must move {reach:.0f} µm to be found (80 % power).",
                why=f"more than the {tolerance:g} µm allowed; repeats help as their root",
                do=f"Read {'twice' if times == 2 else f'{times} times'} as many rounds, or scan the cast."
                if times <= 6 else "Repeats alone will not reach it: use an index, or scan the cast.", source=_MEASURED)
    ]  # fmt: skip
