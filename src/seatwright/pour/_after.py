"""After the pour: when to separate, how long to dry, by when to use the cast.

Owns the separation window and what is said once stone is in. Durations are common practice where no evidence id stands.
"""

import math
from datetime import UTC, datetime, timedelta

from seatwright.case import Impression, ImpressionState
from seatwright.evidence import find_evidence
from seatwright.findings import Finding, Severity
from seatwright.pour._condition import Look
from seatwright.pour._mix import NAMES
from seatwright.pour._naming import lower_first, spoken, whole_minutes
from seatwright.pour._result import ImpressionPhase
from seatwright.pour._windows import minutes_between

__all__ = ["check_after", "separation_minutes", "separation_window"]

_ALGINATE_CEILING_MIN = 75.0  # common practice
_ELASTOMER_MIN = (45.0, 120.0)  # common practice
_ALGINATE = "gyp_alg_sep"


def separation_minutes(impression: Impression) -> tuple[float, float]:
    """Return (from, by) in minutes from the pour; the maker's own time moves the start."""
    if impression.material.is_hydrocolloid:
        start, end = find_evidence(_ALGINATE).require_range()
    else:
        start, end = _ELASTOMER_MIN
    if impression.maker.separate_after_min is not None:
        start = impression.maker.separate_after_min
    return start, max(start, end)


def separation_window(
    impression: Impression, state: ImpressionState | None, phase: ImpressionPhase
) -> tuple[datetime | None, datetime | None]:
    """Return the moments from and by which to separate, UTC; None before the pour."""
    if phase not in (ImpressionPhase.POURED, ImpressionPhase.SEPARATED) or state is None or state.poured_at is None:
        return None, None
    poured = state.poured_at.astimezone(UTC)
    start, end = separation_minutes(impression)
    return poured + timedelta(minutes=start), poured + timedelta(minutes=end)


def check_after(look: Look, now: datetime) -> list[Finding]:
    """Return what is to be done or was missed after the pour."""
    state = look.state
    if look.is_waiting or state.poured_at is None:
        return []
    found = []
    found += _again(look)
    planned = look.impression.pour.stone
    if state.poured_stone is not None and state.poured_stone is not planned:
        what = f"{look.name} was poured in {NAMES[state.poured_stone]} stone, planned was {NAMES[planned]}."
        found.append(
            look.say(
                "poured-in-other-stone",
                Severity.WARNING,
                what,
                do="Do not use the planned expansion: take that of the stone poured.",
            )
        )
    if look.phase is ImpressionPhase.SEPARATED and state.separated_at is not None:
        found += _separated(look, minutes_between(state.poured_at, state.separated_at))
        found += _dry_and_use(look, minutes_between(state.poured_at, now) / 60)
    else:
        found += _separate_now(look, minutes_between(state.poured_at, now))
    return found


def _again(look: Look) -> list[Finding]:
    """Say that an impression was poured more than once; the clock then takes the latest pour."""
    if look.state.n_pours < 2:
        return []
    what = f"{look.name} was poured {look.state.n_pours} times; ages count to the latest pour."
    log = "Was the later one the base, log it as the step 'pour-base'."
    if look.impression.material.is_hydrocolloid:
        do = f"Trust the first cast only: alginate is never poured again. {log}"
        return [look.say("poured-again", Severity.WARNING, what, do=do)]
    do = f"Use the later cast only where every crown still seats positively, undamaged. {log}"
    return [look.say("poured-again", Severity.CAUTION, what, do=do)]


def _separate_now(look: Look, minutes: float) -> list[Finding]:
    start, end = separation_minutes(look.impression)
    wet = look.impression.material.is_hydrocolloid
    keep = "Keep it humid until then." if wet else ""
    of = _ALGINATE if wet else ""
    if minutes < start:
        what = f"{look.name}: separate in {math.ceil(start - minutes)} min, not before."
        return [look.say("separate-later", Severity.NOTE, what, do=keep, of=of)]
    if minutes <= end:
        what = f"{look.name}: separate now, within {whole_minutes(end - minutes)} min."
        return [look.say("separate-now", Severity.CAUTION, what, do="Cut the tray off, lift along the crowns.", of=of)]
    if not wet:
        what = f"{look.name}: separation is {spoken(round(minutes - end))} late."
        return [look.say("separate-late", Severity.CAUTION, what, do="Separate now; no harm is known.")]
    over = minutes > max(_ALGINATE_CEILING_MIN, end)
    hours = find_evidence("gyp_alg_contact").require_value()
    what = f"{look.name}: separate at once, {spoken(round(minutes - end))} late, the surface is at risk."
    why = f"Alginate softens the surface: {hours:g} h cost detail in a study; from 1 h to {hours:g} h nothing is known."
    severity = Severity.STOP if over else Severity.WARNING
    return [look.say("separate-late", severity, what, why=why, do="Then look at the margins.", of="gyp_alg_contact")]


def _separated(look: Look, minutes: float) -> list[Finding]:
    start, end = separation_minutes(look.impression)
    wet = look.impression.material.is_hydrocolloid
    if minutes < start:
        what = f"{look.name} was separated after {minutes:.0f} min, {start:g} is the least: thin stone may have broken."
        return [look.say("separated-early", Severity.WARNING, what, do="Look at pins and necks under a glass.")]
    if wet and minutes > max(_ALGINATE_CEILING_MIN, end):
        what = f"{look.name} was separated after {spoken(round(minutes))}: the stone's surface may be soft."
        do = "Look at the margins and scratch-test the base, not a die."
        return [look.say("separated-late", Severity.WARNING, what, do=do, of="gyp_alg_contact")]
    return []


def _dry_and_use(look: Look, age_h: float) -> list[Finding]:
    dry_from, dry_by = find_evidence("gyp_dry_24_48").require_range()
    grown, _ = find_evidence("gyp_mich_peak").require_range()
    if age_h < dry_by:
        cast = f"Cast from the {lower_first(look.name)}"
        what = f"{cast}: dries {dry_from:g} to {dry_by:g} h from the pour; now {age_h:.0f} h."
        do = f"Dry it in air, never in a microwave oven. Use it for metal before {grown:g} h."
        return [look.say("dry-cast", Severity.NOTE, what, do=do, of="gyp_dry_24_48")]
    if age_h < grown:
        what = f"Cast from the {lower_first(look.name)} is dry: use it for metal within {int(grown - age_h)} h."
        return [look.say("use-cast", Severity.NOTE, what, why="Stone grows for days.", of="gyp_mich_peak")]
    what = f"Cast from the {lower_first(look.name)} is {age_h / 24:.1f} days old: take the late expansion."
    return [look.say("cast-grown", Severity.CAUTION, what, do="Check it again before metal.", of="gyp_mich_peak")]
