"""A dossier as plain words and numbers for the templates: page and papers show the same view.

Owns wording and rounding. Computes no verdict.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from seatwright.case import StepCard, ToothNotation, Unit, format_tooth
from seatwright.dies import BarStops, Effect, Technique, UnitDie
from seatwright.figures import MARGIN_WORDS, TECHNIQUE_WORDS, answer_units, clean_text, sort_by_urgency
from seatwright.papers._places import place_findings
from seatwright.papers._rounds import gather_rounds
from seatwright.papers._view_by_hand import view_by_hand
from seatwright.papers._view_cast import view_cast
from seatwright.papers._view_fit import view_fit
from seatwright.papers._view_path import view_path
from seatwright.papers._view_pour import view_impression
from seatwright.papers._words import show_moment, view_finding, view_round
from seatwright.pour import show_minutes
from seatwright.pour.timetable import verdict_of
from seatwright.workflows.results import Dossier

__all__ = ["TECHNIQUE_NAMES", "view_dossier"]

TECHNIQUE_NAMES = {
    Technique.GEL: "light-cured gel, bent pin",
    Technique.PATTERN_RESIN: "pattern resin, pin",
    Technique.RETURNED_EPOXY: "returned epoxy die",
    Technique.MASKED: "ceramic masked, then gel",
    Technique.STONE: "stone, pin",
    Technique.ANALOG: "matching analog",
    Technique.NONE: "no die",
}
_EFFECT_WORDS = {
    Effect.CHOSEN: "chosen",
    Effect.ALLOWED: "allowed",
    Effect.WARNED: "with a warning",
    Effect.VETOED: "not here",
}


def view_dossier(dossier: Dossier) -> dict[str, Any]:
    """Return everything that page and papers say, as JSON types, cleaned of control and direction characters."""
    case = dossier.case
    units = [_view_unit(dossier, die) for die in dossier.dies.units]
    view = {
        "code": case.code,
        "title": case.title,
        "arch": case.arch.value,
        "now": f"{dossier.now:%d %b %Y, %H:%M %Z}",
        "headline": dossier.headline,
        "severity": dossier.headline_severity.value,
        "hollow": {"number": dossier.hollow.number, "caption": dossier.hollow.caption},
        "support": _view_support(dossier),
        "axes": _view_axes(dossier),
        "job": [_view_step(dossier, k) for k in range(len(dossier.job))],
        "units": units,
        "bars": _view_bars(dossier),
        "rounds": [view_round(r) for r in gather_rounds(_open_sequences(dossier), dossier.label)],
        "impressions": [view_impression(dossier, clock) for clock in sort_by_urgency(dossier.pour.impressions)],
        "timetable": _view_timetable(dossier),
        "casts": [view_cast(dossier, k) for k in range(len(dossier.casts))],
        "by_hand": view_by_hand(dossier.by_hand),
        "fit": view_fit(dossier),
        "has_fit": dossier.fit is not None or bool(dossier.no_fit),
        "path": view_path(dossier),
        "has_path": dossier.path is not None or bool(dossier.no_path),
        "findings": [view_finding(f) for f in dossier.findings],
        "tolerance": {"shown": f"{case.tolerance.unit_shift_um:g} µm", "reason": case.tolerance.reason},
        "inputs": [{"name": i.name, "sha256": i.sha256, "n_bytes": i.n_bytes} for i in dossier.inputs],
    }
    cleaned: dict[str, Any] = _clean(view)
    place_findings(cleaned)
    return cleaned


def _view_timetable(dossier: Dossier) -> dict[str, Any]:
    """Return the timetable in words; ``rows`` is empty where there is none, and ``why_not`` says why."""
    if dossier.day is None:
        return {"verdict": "", "rows": [], "risks": [], "is_late": False, "why_not": dossier.no_day}
    table, zone = dossier.day.timetable, dossier.day.zone
    risks = [m for m in table.misses if m.kind == "window"]
    return {
        "verdict": verdict_of(table, zone=zone),
        "rows": [
            {
                "start": f"{row.start.astimezone(zone):%H:%M}",
                "end": f"{row.end.astimezone(zone):%H:%M}",
                "who": row.who or "no hands",
                "what": row.what,
                "impression": row.impression,
                "equipment": ", ".join(row.equipment),
            }
            for row in table.tasks
            if not (row.is_fixed and row.end <= dossier.day.now)
        ],
        "risks": [f"{m.what.split('/')[-1]}: missed in {100 * m.chance:.0f} of 100 such days" for m in risks],
        "is_late": bool(table.late),
        "why_not": "",
    }


def _open_sequences(dossier: Dossier) -> list[list[StepCard]]:
    """Return each unit's and bar's step cards that are still to be done: nothing once its impression is poured."""
    answers: list[UnitDie | BarStops] = [*dossier.dies.units, *dossier.dies.bars]
    sequences = []
    for answer in answers:
        state = dossier.state.impressions.get(answer.impression)
        if state is not None and state.poured_at is not None:
            continue
        done = state.steps_done if state is not None else frozenset()
        sequences.append([card for card in answer.cards if (card.id, card.tooth) not in done])
    return sequences


_NOTATIONS = {
    ToothNotation.ISO: "ISO 3950",
    ToothNotation.UNIVERSAL: "Universal",
    ToothNotation.QUADRANT: "quadrant symbol",
}


def _view_unit(dossier: Dossier, die: UnitDie) -> dict[str, Any]:
    unit = dossier.case.unit_at(die.tooth)
    answer = answer_units(dossier)[die.tooth]
    label = dossier.label(die.tooth)
    minutes = sum(card.duration.typical_min for card in die.cards)
    return {
        "tooth": die.tooth,
        "label": label,
        "names": ", ".join(f"{word} {format_tooth(die.tooth, notation)}" for notation, word in _NOTATIONS.items()),
        "technique": "none is safe" if die.chosen is None else TECHNIQUE_NAMES[die.chosen],
        "word": "none is safe" if die.chosen is None else TECHNIQUE_WORDS[die.chosen],
        "has_die": die.chosen not in (None, Technique.NONE),
        "answer": answer.word,
        "number": answer.number,
        "severity": answer.severity.value if answer.severity else "note",
        "because": die.because,
        "never": die.never,
        "what": _describe_unit(unit),
        "margins": _margins_in_words(unit),
        "impression": die.impression,
        "time": show_minutes(minutes) if minutes else "",
        "steps": [{"title": c.title, "time": f"{c.duration.typical_min:g} min"} for c in die.cards],
        "ranked": [
            {
                "technique": TECHNIQUE_NAMES[verdict.technique],
                "effect": _EFFECT_WORDS[verdict.effect],
                "hits": [{"reason": h.reason, "source": h.source.shown(), "id": h.rule_id} for h in verdict.hits],
            }
            for verdict in die.ranked
        ],
        "findings": [view_finding(f) for f in die.findings],
    }


def _describe_unit(unit: Unit) -> str:
    veneer = "" if unit.veneer.value == "none" else f", {unit.veneer.value} veneer"
    return f"{unit.kind.value.replace('_', ' ')}, {unit.body.value.replace('_', ' ')}{veneer}"


def _margins_in_words(unit: Unit) -> list[str]:
    if unit.margin is None:
        return []
    sides: dict[str, list[str]] = {}
    for surface, margin in unit.margin.by_surface().items():
        depth = f", {margin.subgingival_mm:g} mm below the gum" if margin.subgingival_mm > 0 else ""
        sides.setdefault(f"{MARGIN_WORDS[margin.kind]} {margin.thickness_mm:g} mm{depth}", []).append(surface.value)
    return [f"{', '.join(names)}: {text}" for text, names in sides.items()]


def _view_support(dossier: Dossier) -> dict[str, Any]:
    support = dossier.support
    return {
        "shown": support.shown(),
        "rules": [f"Applegate’s rule {rule.number}: {rule.effect}" for rule in support.rules],
        "questions": list(support.questions),
    }


def _view_axes(dossier: Dossier) -> list[dict[str, Any]]:
    return [
        {
            "pair": f"{pair.one} and {pair.other}",
            "angle": f"{pair.divergence_deg:.1f}° ± {2 * pair.u_divergence_deg:.1f}°",
            "admitted": "unknown" if pair.admitted_deg is None else f"{pair.admitted_deg:.2f}°",
            "run_out": "; ".join(f"{r.run_out_um:.0f} µm over {r.length_mm:g} mm" for r in pair.run_outs),
            "verdict": pair.verdict.value.replace("_", " "),
        }
        for pair in dossier.axes
    ]


def _view_step(dossier: Dossier, index: int) -> dict[str, Any]:
    step = dossier.job[index]
    return {
        "name": step.name,
        "word": step.word,
        "severity": step.severity.value if step.severity else "",
        "when": show_moment(step.when, dossier.now) if step.when else "",
    }


def _view_bars(dossier: Dossier) -> list[dict[str, Any]]:
    bars = {bar.id: bar for bar in dossier.case.bar}
    return [
        {
            "id": stops.bar,
            "label": f"{dossier.label(bars[stops.bar].from_tooth)} to {dossier.label(bars[stops.bar].to_tooth)}",
            "n_stops": stops.n_stops,
            "time": show_minutes(sum(card.duration.typical_min for card in stops.cards)),
            "never": stops.never,
            "findings": [view_finding(f) for f in stops.findings],
        }
        for stops in dossier.dies.bars
    ]


def _clean(value: object) -> Any:
    if isinstance(value, str):
        return clean_text(value)
    if isinstance(value, Mapping):
        return {key: _clean(item) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [_clean(item) for item in value]
    return value
