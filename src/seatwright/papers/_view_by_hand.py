"""What caliper and foil say, in words."""

from typing import Any

from seatwright.cast import CaliperResult, IndexResult
from seatwright.findings import Severity, Verdict
from seatwright.papers._words import PAIR_WORDS, view_finding
from seatwright.workflows.caliper import ByHand

__all__ = ["view_by_hand"]


def view_by_hand(by_hand: ByHand | None) -> dict[str, Any]:
    """Return what is said of a case's readings by hand; empty when there are none."""
    if by_hand is None:
        return {}
    caliper, index = by_hand.caliper, by_hand.index
    return {
        "caliper": _view_caliper(caliper.result) if caliper is not None else {},
        "index": _view_index(index.result) if index is not None else {},
    }


def _head(result: CaliperResult | IndexResult) -> dict[str, Any]:
    return {
        "headline": result.headline,
        "is_grave": result.verdict is Verdict.DOES_NOT_CONFORM,
        "findings": [view_finding(f) for f in result.findings if f.severity is not Severity.NOTE],
    }


def _view_caliper(result: CaliperResult) -> dict[str, Any]:
    pairs = [
        {
            "between": f"{pair.first} to {pair.second}",
            "reference": _length(pair.reference_mm),
            "cast": _length(pair.cast_mm),
            "change": "" if pair.change_um is None else pair.change_um.shown().replace("-", "−"),
            "verdict": PAIR_WORDS[pair.verdict],
            "is_grave": pair.verdict is Verdict.DOES_NOT_CONFORM,
        }
        for pair in result.pairs
    ]
    frame = ""
    if result.stable is not None:
        held = ", ".join(result.stable.marks)
        frame = f"held by {held}" if result.stable.is_unique else "open: which marks stayed cannot be told"
    return {
        **_head(result),
        "reference": result.reference.value,
        "placed": result.n_axes_because,
        "frame": frame,
        "reading": f"{result.spread.s_reading_um:.0f} µm" if result.spread.repeats is not None else "",
        "unseen": "" if result.largest_unseen_um is None else f"{result.largest_unseen_um:.0f} µm",
        "scale": "" if result.scale_percent is None else result.scale_percent.shown().replace("-", "−"),
        "pairs": pairs,
    }


def _length(length_mm: float | None) -> str:
    return "not read" if length_mm is None else f"{length_mm:.3f} mm"


def _view_index(result: IndexResult) -> dict[str, Any]:
    return {
        **_head(result),
        "fixed": ", ".join(result.fixed),
        "sight": f"{len(result.readings)} gaps see {result.rank} of {result.n_unknowns} unknown heights and tilts",
    }
