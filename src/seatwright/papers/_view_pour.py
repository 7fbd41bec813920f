"""One impression's clock, mix and steps in words."""

from datetime import datetime
from typing import Any

from seatwright.figures import BAND_WORDS, describe_cost
from seatwright.findings import Severity
from seatwright.papers._rounds import gather_rounds
from seatwright.papers._words import show_moment, view_finding, view_round
from seatwright.pour import Feasibility, ImpressionClock, ImpressionPhase, Mix, show_minutes
from seatwright.workflows.results import Dossier

__all__ = ["view_impression"]

_FEASIBLE = {
    Feasibility.FITS: "fits",
    Feasibility.TIGHT: "tight",
    Feasibility.DOES_NOT_FIT: "does not fit",
    Feasibility.DONE: "done",
}


def view_impression(dossier: Dossier, clock: ImpressionClock) -> dict[str, Any]:
    """Return everything that is said of one impression."""
    impression = dossier.case.impression_by_id(clock.impression)
    needed = clock.minutes_needed
    return {
        "id": clock.impression,
        "what": f"{impression.role.value.replace('_', '-')}, {impression.material.value.replace('_', ' ')}",
        "crowns": _crowns(dossier, clock.impression),
        "phase": clock.phase.value,
        "is_open": clock.phase in (ImpressionPhase.PLANNED, ImpressionPhase.WAITING),
        "is_given_up": any(f.severity is Severity.STOP for f in clock.findings),
        "is_grave": clock.feasibility is Feasibility.DOES_NOT_FIT,
        "verdict": _verdict(clock),
        "left": _left(clock),
        "needed": f"{show_minutes(needed.typical_min)} ({needed.low_min:.0f} to {needed.high_min:.0f})",
        "people": clock.people_used,
        "pour_from": _moment(clock.pour_from, dossier.now),
        "pour_by": _moment(clock.pour_by, dossier.now),
        "separate": _window(clock.separate_from, clock.separate_by, dossier.now),
        "costs": [
            {
                "when": f"{show_minutes(s.since_min)} "
                + ("on" if s.until_min is None else f"to {show_minutes(s.until_min)}"),
                "band": BAND_WORDS[s.band],
                "cost": describe_cost(s),
                "how_good": f"{s.how_good} ({s.basis.value})",
                "source": s.source.shown(),
            }
            for s in clock.steps
        ],
        "remedies": [
            f"{remedy.what}: {show_minutes(remedy.minutes.typical_min)} of work in {show_minutes(remedy.window_min)}, "
            f"{_FEASIBLE[remedy.feasibility]}"
            for remedy in clock.remedies
        ],
        "mixes": [_view_mix(mix) for mix in clock.mixes],
        "rounds": [view_round(r) for r in gather_rounds([clock.cards], dossier.label)],
        "findings": [view_finding(f) for f in clock.findings],
    }


def _crowns(dossier: Dossier, impression_id: str) -> str:
    """Return the count of crowns, or that it is missing, for an impression that lifts some and is out."""
    impression = dossier.case.impression_by_id(impression_id)
    state = dossier.state.impressions.get(impression_id)
    if not impression.lifts or state is None or state.out_at is None:
        return ""
    if not state.counted:
        return f"{len(impression.lifts)} must be in the tray; nobody has counted them"
    told = f"{len(state.seated)} seated, {len(state.in_tray)} in the tray"
    for word, teeth in (("loose", state.loose), ("left on the tooth", state.left_on_tooth)):
        told += f", {', '.join(dossier.label(t) for t in sorted(teeth))} {word}" if teeth else f", none {word}"
    return told


def _verdict(clock: ImpressionClock) -> str:
    if clock.phase not in (ImpressionPhase.PLANNED, ImpressionPhase.WAITING):
        return clock.phase.value
    return _FEASIBLE[clock.feasibility]


def _left(clock: ImpressionClock) -> str:
    if clock.minutes_left is None:
        return f"window {show_minutes(clock.window_min)}"
    if clock.minutes_left < 0:
        return f"{show_minutes(-clock.minutes_left)} late"
    return f"{show_minutes(clock.minutes_left)} left"


def _moment(moment: datetime | None, now: datetime) -> str:
    return "" if moment is None else show_moment(moment, now)


def _window(start: datetime | None, end: datetime | None, now: datetime) -> str:
    if start is None:
        return ""
    return _moment(start, now) + (f" to {_moment(end, now)}" if end is not None else " or later")


def _view_mix(mix: Mix) -> dict[str, Any]:
    kind = mix.stone.value.replace("type_", "Type ")
    expansion = mix.expansion_um
    return {
        "what": mix.what,
        "stone": f"{kind} stone",
        "water": f"{mix.water_each_ml:g} ml",
        "powder": f"{mix.powder_each_g:g} g",
        "ratio": f"{mix.water_powder:.2f}",
        "batches": mix.n_batches,
        "volume": mix.volume_ml.shown(),
        "bound": f"{mix.stoichiometric_water_ml:.0f} ml",
        "expansion": "" if expansion is None else f"{expansion.what}: {expansion.change_um.shown()}",
        "source": mix.source.shown(),
        "findings": [f.what for f in mix.findings],
    }
