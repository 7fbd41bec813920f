"""What the cast check says of the scale: uneven, unexpected, or the whole cast large or small."""

from dataclasses import replace

from seatwright.cast._result import CastResult
from seatwright.cast._scale import UNEVEN_CHANCE, percent_of
from seatwright.findings import Finding, Severity, Source, SourceKind

__all__ = ["about_scale"]

_MEASURED = Source(SourceKind.MEASURED, "this comparison of scans")
_SCALE_FACTOR = 3.0  # judgement: a scale is named when it exceeds three standard uncertainties


def about_scale(result: CastResult) -> list[Finding]:
    """Return what is to be said of the scale."""
    found = []
    if result.uniform_chance is not None and result.uniform_chance < UNEVEN_CHANCE:
        found.append(
            Finding(
                "cast-scale-uneven",
                Severity.CAUTION,
                "The stable units did not keep their distances, and no uniform scale explains it.",
                why=f"such unevenness has a chance of {result.uniform_chance:.2g} where a cast only grew or shrank",
                do="Take the distances below one by one; do not read the scale as that of the stone.",
                source=_MEASURED,
            )
        )
    found.extend(_about_expected(result))
    scale = result.scale_percent
    if scale is None or abs(scale.value) < _SCALE_FACTOR * scale.u:
        return found
    size = replace(scale, value=abs(scale.value)).shown()
    moved = [u.tooth for u in result.units if u.is_moved]
    is_sure = result.uniform_chance is not None and result.uniform_chance >= UNEVEN_CHANCE
    who = "the other units keep their places on it" if moved else "no single die moved"
    found.append(
        Finding(
            "cast-scale",
            Severity.CAUTION,
            f"The whole cast is {size} {'large' if scale.value > 0 else 'small'}" + (f"; {who}." if is_sure else "."),
            why="stone expands and impressions shrink"
            if is_sure
            else "stone expands and impressions shrink; with so few bodies a moved die could look the same",
            do="Judge distances across the arch by this, and the units by what remains.",
            source=_MEASURED,
        )
    )
    return found


def _about_expected(result: CastResult) -> list[Finding]:
    """Return a finding when the scale is not the one that pour and impression let expect."""
    report = result.scale_report
    if report is None or report.expected is None or report.plain is None or report.normalized_error is None:
        return []
    if report.normalized_error <= 1:
        return []
    is_off = abs(report.plain.value) > _SCALE_FACTOR * report.plain.u
    names = sorted({e for cause in report.expected.causes for e in cause.evidence})
    return [
        Finding(
            "cast-scale-unexpected",
            Severity.CAUTION if is_off else Severity.NOTE,
            f"The scale of the cast is {percent_of(report.plain).shown()}; this pour lets expect "
            f"{percent_of(report.expected.value).shown()}.",
            why=f"{report.why}; the expectation is left out ({', '.join(names)})",
            do="Check water/powder ratio, tray and age of the impression, and the calibration of the scanner."
            if is_off
            else "Nothing: the units are judged by the scans alone.",
            source=_MEASURED,
        )
    ]
