"""One cast check in words."""

import math
from typing import Any

import numpy as np

from seatwright.cast import (
    WHOLE,
    AlongAxes,
    BodyMovement,
    CastResult,
    DeviationFigures,
    PairChange,
    ScaleReport,
    UnitMovement,
    percent_of,
)
from seatwright.figures import VERDICT_WORDS
from seatwright.findings import Severity, Verdict
from seatwright.papers._words import PAIR_WORDS
from seatwright.quantities import Measured, tell_interval, tell_plus_minus, tell_signed, tell_value
from seatwright.workflows.results import Dossier

__all__ = ["view_cast"]

_SEVERITY = {
    Verdict.CONFORMS: Severity.NOTE,
    Verdict.DOES_NOT_CONFORM: Severity.STOP,
    Verdict.CANNOT_TELL: Severity.CAUTION,
}


def view_cast(dossier: Dossier, index: int) -> dict[str, Any]:
    """Return everything that is said of one cast check."""
    step = dossier.casts[index]
    result = step.result
    pairs = [_view_pair(dossier, pair) for pair in result.pairs]
    moved = [u for u in result.units if u.verdict is Verdict.DOES_NOT_CONFORM]
    unsure = [u for u in result.units if u.verdict is Verdict.CANNOT_TELL]
    return {
        "number": index + 1,
        "reference": step.reference_scan.id,
        "poured": step.poured_scan.id,
        "verdict": _sentence([_label(dossier, u) for u in moved], [_label(dossier, u) for u in unsure]),
        "is_grave": bool(moved),
        "tolerance": f"{result.tolerance_um:g} µm",
        "stable": ", ".join(dossier.label(int(t)) for t in result.stable_units),
        "stable_rms": f"{result.stable_rms_um:.1f} µm",
        "noise": f"{result.noise_um:.1f} µm",
        "repeatability": _repeatability(result),
        "scale": result.scale_percent.shown() if result.scale_percent is not None else "",
        "expected": _expected(result.scale_report),
        "matrix": [[f"{value:.6f}" for value in row] for row in np.asarray(result.T_reference_poured)],
        "units": [_view_unit(dossier, unit) for unit in result.units],
        "bodies": [_view_body(dossier, body) for body in result.bodies],
        "pairs": pairs,
        "deviation": [_view_deviation(dossier, figures) for figures in step.figures],
        "precision": _precision(result),
        "odd_pairs": [p for p in pairs if p["verdict"] != PAIR_WORDS[Verdict.CONFORMS]],
    }


def _repeatability(result: CastResult) -> str:
    grows = result.length_error_um_per_mm
    return _repeats(result) + (f", length error up to {grows:.2g} µm per mm as declared" if grows else "")


def _repeats(result: CastResult) -> str:
    if result.repeats is None or not result.is_repeatability_found:
        return f"repeatability {result.repeatability_um:.2g} µm as declared"
    repeats = result.repeats.shift_um
    low, high = tell_interval(*result.repeats.shift_interval_um, repeats.u)
    return (
        f"repeatability {tell_value(repeats.value, repeats.u)} µm ({low} to {high} µm, {repeats.dof:.0f} degrees of "
        f"freedom) from {result.repeats.n_scans} scans of the poured cast"
    )


def _expected(report: ScaleReport | None) -> str:
    if report is None or report.expected is None:
        return ""
    names = "; ".join(
        f"{c.what.lower()} {_percent(c.percent)} [{', '.join(c.evidence)}]" for c in report.expected.causes
    )
    said = f"This pour lets expect {_percent(percent_of(report.expected.value))}: {names}. "
    if report.is_used and report.posterior is not None:
        return said + f"Both together: {_percent(percent_of(report.posterior))}. No shift rests on that."
    return said + f"Not used: {report.why}."


def _percent(value: Measured) -> str:
    return _with_minus(value.shown())


def _label(dossier: Dossier, unit: UnitMovement) -> str:
    return dossier.label(int(unit.tooth))


def _sentence(moved: list[str], unsure: list[str]) -> str:
    if moved:
        first = f"{', '.join(moved)} moved more than allowed"
        return first + (f"; {', '.join(unsure)} cannot be told." if unsure else ".")
    return f"{', '.join(unsure)} cannot be told; the others are in place." if unsure else "Every unit is in place."


def _view_unit(dossier: Dossier, unit: UnitMovement) -> dict[str, Any]:
    turn = unit.turn_size_deg
    return {
        "label": _label(dossier, unit),
        "verdict": VERDICT_WORDS[unit.verdict],
        "severity": _SEVERITY[unit.verdict].value,
        "shift": unit.shown_shift(),
        "where": unit.points[0].where() if unit.points else "",
        "others": "; ".join(f"{p.shown()} {p.where()}" for p in unit.points[1:]),
        "turn": "not measured" if turn is None else _degrees(turn),
        "vector": _vector(unit),
        "directions": _directions(unit.tooth_axes),
        "budget": ", ".join(f"{line.cause} {line.u_um:.1f}" for line in unit.budget),
        "coverage": f"{100 * unit.coverage:.0f} %",
        "holds": unit.is_stable,
    }


def _directions(along: AlongAxes | None) -> str:
    if along is None:
        return ""
    parts = (f"{name} {_component(m.value, m.u)}" for name, m in zip(along.names, along.shift_um, strict=True))
    return _with_minus(", ".join(parts)) + " µm"


def _component(value: float, u: float) -> str:
    """Return a signed component with its 95 % interval."""
    half = Measured(value, u, "").coverage_factor() * u
    middle, told = tell_plus_minus(value - half, value + half)
    return f"{'+' if float(middle) > 0 else ''}{middle} ± {told}"


def _degrees(value: Measured) -> str:
    return value.shown().replace(" ±", "° ±").replace(" deg", "°")


def _with_minus(text: str) -> str:
    return text.replace("-", "−")


def _view_body(dossier: Dossier, body: BodyMovement) -> dict[str, Any]:
    turn_u = math.degrees(float(np.sqrt(np.linalg.eigvalsh(body.covariance[3:, 3:])[-1])))
    p = body.chance_unmoved
    return {
        "label": ", ".join(dossier.label(int(t)) for t in body.teeth),
        "answer": "moved" if body.is_moved else "did not move",
        "is_grave": body.is_moved,
        "shift": body.told_shift.shown(),
        "turn": _degrees(Measured(float(np.linalg.norm(body.turn_deg)), turn_u, "deg")),
        "chance": "under 0.1 %" if p < 0.001 else f"{100 * p:.1f} %" if p < 0.1 else f"{100 * p:.0f} %",
    }


def _view_deviation(dossier: Dossier, figures: DeviationFigures) -> dict[str, Any]:
    values = (figures.mean_um, figures.sd_um, figures.rms_um, *figures.percentiles_um)
    shown = ["" if v is None else f"{v:.1f}" if k in {1, 2} else tell_signed(v, 1) for k, v in enumerate(values)]
    return {
        "part": "whole surface" if figures.part == WHOLE else dossier.label(int(figures.part)),
        "area": f"{figures.area_mm2:.0f} mm²",
        "refused": f"{100 * figures.refused_share:.1f} %",
        "values": [_with_minus(text) for text in shown] or [""],
    }


def _precision(result: CastResult) -> str:
    if result.repeats is None:
        return "Precision, the spread of repeat scans, is not known from one scan."
    return f"Precision, the spread of repeat scans: {result.repeats.shift_um.value:.1f} µm for a unit's place."


def _view_pair(dossier: Dossier, pair: PairChange) -> dict[str, Any]:
    ends = [f"{dossier.label(int(t))} ({at})" for t, at in zip((pair.one, pair.other), pair.at, strict=True)]
    return {
        "ends": " to ".join(ends),
        "distance": f"{pair.distance_mm:.2f} mm",
        "change": _with_minus(pair.change_um.shown()),
        "turn": _degrees(pair.turn_deg),
        "axes": "" if pair.axis_change_deg is None else _with_minus(_degrees(pair.axis_change_deg)),
        "verdict": PAIR_WORDS[pair.verdict],
        "is_grave": pair.verdict is Verdict.DOES_NOT_CONFORM,
    }


def _vector(unit: UnitMovement) -> str:
    if unit.shift_mm is None or unit.u_shift_mm is None:
        return ""
    parts = [_component(1000 * s, 1000 * u) for s, u in zip(unit.shift_mm, unit.u_shift_mm, strict=True)]
    return _with_minus(", ".join(parts)) + " µm"
