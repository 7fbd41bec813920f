"""The forecast of the seating in words: verdict, what helps, places, links, and what it rests on."""

from typing import Any

from seatwright.evidence import find_evidence
from seatwright.forecast import (
    Change,
    FeatureForecast,
    ForecastResult,
    LinkUsed,
    RankedLink,
    SeatingChance,
    SeatingWord,
)
from seatwright.papers._words import view_finding
from seatwright.workflows.results import Dossier

__all__ = ["view_fit"]

_N_CHANGES = 5  # more are not weighed against each other at a glance


def view_fit(dossier: Dossier) -> dict[str, Any]:
    """Return everything that is said of the forecast; ``verdict`` is empty where there is none."""
    fit = dossier.fit
    if fit is None:
        return {"verdict": "", "why_not": dossier.no_fit}
    best = fit.best_change
    return {
        "verdict": f"Seats {fit.p_seats.says.value}: {_percent(fit.p_seats.value)} in 100",
        "is_grave": fit.p_seats.says in (SeatingWord.RARELY, SeatingWord.CANNOT_TELL),
        "range": f"{_percent(fit.p_seats.low)} to {_percent(fit.p_seats.high)}",
        "order": "" if best is None else f"{best.what}: {_percent(best.p_seats)} in 100, {best.cost}.",
        "trials": _trials(fit.p_seats),
        "binds": ", ".join(f"{b.link} {_percent(b.share)} %" for b in fit.p_seats.binds[:3]),
        "before": "" if fit.before is None else _before(fit),
        "changes": [_change(change) for change in _shown(fit.changes)],
        "places": [_place(feature, fit.before_u_um) for feature in fit.features],
        "trust": fit.trust,
        "ranked": [_ranked(link, fit.links) for link in fit.ranked],
        "room": [
            {"what": r.quantity, "value": f"{r.value:g} {r.unit}", "how_good": r.how_good, "id": r.evidence}
            for r in fit.room
        ],
        "left_out": [{"step": step.step, "why": step.why} for step in fit.left_out],
        "findings": [view_finding(f) for f in fit.findings if f.id != "forecast-seating"],
        "seed": fit.seed,
        "why_not": "",
    }


def _trials(chance: SeatingChance) -> str:
    return f"{chance.n_trials} trials: {100 * chance.mc_low:.1f} to {100 * chance.mc_high:.1f} in 100 by chance alone"


def _before(fit: ForecastResult) -> str:
    """Say what the cast check changed: the chance, and the place that it narrowed most."""
    assert fit.before is not None  # noqa: S101 - asked by view_fit
    was, now = fit.before, fit.p_seats
    said = (
        f"Before the cast was measured: {was.says.value}, {_percent(was.value)} in 100 "
        f"({_percent(was.low)} to {_percent(was.high)})."
    )
    narrowed = [(before / f.u_um, f, before) for f in fit.features if (before := _u_before(f, fit.before_u_um))]
    if narrowed:
        _, feature, before = max(narrowed, key=lambda item: item[0])
        place = f"{feature.id.removesuffix('/stop')}, {feature.what}"
        said += f" Narrowed most: {place}, from ± {2 * before:.0f} to ± {2 * feature.u_um:.0f} µm."
    if abs(was.value - now.value) < 2 * (was.u**2 + now.u**2) ** 0.5 + 0.005:
        said += " The chance stays: what decides it comes after the cast."
    return said


def _u_before(feature: FeatureForecast, before: dict[str, float]) -> float | None:
    return before.get(f"{feature.id}: {feature.what}")


def _shown(changes: tuple[Change, ...]) -> list[Change]:
    helping = [change for change in changes if change.helps]
    single = [change for change in helping if "+" not in change.id]
    double = [
        c for c in helping if "+" in c.id and single and c.gain > single[0].gain + 0.02
    ]  # beyond a glance's error
    return [*single[: _N_CHANGES - 1], *double[:1]]


def _change(change: Change) -> dict[str, Any]:
    ends = ""
    if change.low is not None and change.high is not None:
        ends = f"{_percent(change.low)} to {_percent(change.high)}"
    return {
        "what": change.what,
        "chance": f"{_percent(change.p_seats)}",
        "range": ends,
        "cost": change.cost,
        "why": change.why,
    }


def _place(feature: FeatureForecast, before: dict[str, float]) -> dict[str, Any]:
    low, high = feature.interval95_um
    was = _u_before(feature, before)
    shares = [f"{c.link.replace('_', ' ')} {_percent(c.share)} %" for c in feature.shapley[:2] if c.share >= 0.01]
    return {
        "id": feature.id.removesuffix("/stop"),
        "what": feature.what,
        "interval": f"{low:.0f} to {high:.0f} µm",
        "room": f"± {feature.allowed_um:.0f} µm",
        "within": f"{_percent(feature.p_within)} %",
        "before": "" if was is None else f"± {2 * was:.0f} µm, now ± {2 * feature.u_um:.0f}",
        "from": ", ".join(shares),
        "trusted": feature.trusted,
    }


def _ranked(link: RankedLink, links: tuple[LinkUsed, ...]) -> dict[str, Any]:
    used = next(k for k in links if k.id == link.link)
    return {
        "title": link.title,
        "words": link.words,
        "share": f"{_percent(link.share)} %",
        "how_good": used.how_good,
        "records": [
            {"id": e, "shown": find_evidence(e).shown(), "source": find_evidence(e).source} for e in used.evidence
        ],
    }


def _percent(share: float) -> int:
    return round(100 * min(max(share, 0.0), 1.0))
