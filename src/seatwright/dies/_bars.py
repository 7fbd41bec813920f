"""Resin stops under a bar, so that the stone there does not wear and the bar does not bend.

Owns the stops' number, step and cautions.
"""

from seatwright.case import Bar, Duration, Skill, StepCard
from seatwright.dies import _cautions as caution
from seatwright.dies._facts import UnitFacts
from seatwright.dies._result import BarStops
from seatwright.findings import Finding, Severity

__all__ = ["plan_bar_stops"]

_STOP = Duration(1, 2, 4)  # common practice
_MIN_STOPS = 2  # common practice
_MIN_GAP_MM = 0.5  # judgement: thinner gel breaks, and stone cannot flow under the bar


def plan_bar_stops(bar: Bar, ends: tuple[UnitFacts, ...]) -> BarStops:
    """Return the stops of one bar; `ends` are the facts of the units that carry it.

    Gel is the choice, pattern resin possible, stone alone wears.
    """
    impression = next((end.impression for end in ends if end.impression), "")
    findings = tuple(_findings(bar, ends))
    n_stops = max(bar.stops, _MIN_STOPS)
    is_stopped = any(finding.severity is Severity.STOP for finding in findings)
    cards = () if is_stopped else (_card(bar, n_stops, ends, impression),)
    never = "Never a stop that locks round the bar, nor one that fills the gap to the ridge"
    return BarStops(bar.id, impression, n_stops, never, cards, findings)


def _card(bar: Bar, n_stops: int, ends: tuple[UnitFacts, ...], impression: str) -> StepCard:
    oven = (caution.NO_OVEN,) if any(end.is_hydrocolloid for end in ends) else ()
    return StepCard(
        id=f"bar-stops-{bar.id}",
        title=f"Bar {bar.from_tooth} to {bar.to_tooth}: {n_stops} stops",
        do=f"Lubricate the bar. {n_stops} small stops of gel under it, apart, below its widest line, each "
        f"keyed to the stone; keep the {bar.ridge_gap_mm:g} mm to the ridge. Cure.",
        impression=impression,
        tooth=bar.from_tooth,
        skill=Skill.DIES,
        duration=_STOP.scaled(n_stops),
        equipment=("curing_light",),
        resources=("lubricant", "light-cured die gel"),
        cautions=(
            "A stop must not lock: the bar lifts off along its axis.",
            *oven,
            caution.BLUE_LIGHT,
            caution.METHACRYLATE,
            caution.MAKER,
        ),
    )


def _findings(bar: Bar, ends: tuple[UnitFacts, ...]) -> list[Finding]:
    about = bar.id
    found = []
    faults = {fault.tooth: fault for end in ends for fault in end.faults}
    if faults:
        why = "; ".join(f"{tooth} {fault.kind}" for tooth, fault in sorted(faults.items()))
        found.append(
            Finding(
                "bar-out-of-place",
                Severity.STOP,
                f"Bar {bar.id}: no stops now.",
                why,
                "Settle the units that carry it first.",
                about=about,
            )
        )
    if bar.stops < _MIN_STOPS:
        found.append(
            Finding(
                "bar-too-few-stops",
                Severity.CAUTION,
                f"Bar {bar.id}: {bar.stops} planned, {_MIN_STOPS} stops made.",
                "One stop lets the bar rock.",
                f"Plan {_MIN_STOPS} or more.",
                about=about,
            )
        )
    if bar.ridge_gap_mm < _MIN_GAP_MM:
        found.append(
            Finding(
                "bar-gap-too-small",
                Severity.WARNING,
                f"Bar {bar.id}: {bar.ridge_gap_mm:g} mm to the ridge leaves no room for a stop.",
                "The gap under the bar must stay a gap.",
                "Block out under the bar; set the stops where it stands off most.",
                about=about,
            )
        )
    return found
