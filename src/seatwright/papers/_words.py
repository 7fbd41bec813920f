"""Findings, rounds of steps and moments in words; every part of the view uses them."""

from datetime import datetime
from typing import Any

from seatwright.figures import severity_word
from seatwright.findings import Finding, Verdict
from seatwright.papers._rounds import Round

__all__ = ["PAIR_WORDS", "show_moment", "view_finding", "view_round"]

PAIR_WORDS = {
    Verdict.CONFORMS: "kept",
    Verdict.DOES_NOT_CONFORM: "changed",
    Verdict.CANNOT_TELL: "cannot tell",
}
"""What is said of a distance between two units or marks."""


def view_finding(finding: Finding) -> dict[str, Any]:
    """Return one finding in words."""
    return {
        "id": finding.id,
        "severity": finding.severity.value,
        "word": severity_word(finding.severity),
        "what": finding.what if finding.about in finding.what else f"{finding.about}: {finding.what}",
        "why": finding.why,
        "do": finding.do,
        "source": finding.source.shown(),
        "about": finding.about,
    }


def view_round(step: Round) -> dict[str, Any]:
    """Return one round in words."""
    once = step.duration
    each = f"{once.typical_min:g} min" if step.n == 1 else f"{step.n} × {once.typical_min:.2g} min"
    return {
        "title": step.title,
        "units": step.units,
        "instructions": [{"units": i.units, "do": i.do} for i in step.instructions],
        "cautions": list(step.cautions),
        "resources": list(step.resources),
        "equipment": [e.replace("_", " ") for e in step.equipment],
        "time": each,
        "range": f"{once.low_min:.2g} to {once.high_min:.2g} min each"
        if step.n > 1
        else _range(once.low_min, once.high_min),
        "attended": step.attended,
    }


def _range(low: float, high: float) -> str:
    return f"{low:g} to {high:g} min"


def show_moment(moment: datetime, now: datetime) -> str:
    """Return a moment in the time zone of `now`, the day only when it is another one."""
    shown = moment.astimezone(now.tzinfo)
    return f"{shown:%H:%M}" if shown.date() == now.date() else f"{shown:%d %b, %H:%M}"
