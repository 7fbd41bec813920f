"""From the pour's answer on one impression to what it brings into the timetable."""

import math
from collections.abc import Sequence

from seatwright.case import Bench, Case, Impression, ImpressionRole, StepCard
from seatwright.pour._after import separation_minutes
from seatwright.pour._cards import list_own_cards
from seatwright.pour._result import CostStep, ImpressionClock
from seatwright.pour.timetable._impression_work import ImpressionWork
from seatwright.pour.timetable._problem import AgeBand

__all__ = ["bring_work", "keep_words"]

# judgement: losing finished crowns' pick-up costs a visit and a risk to the crowns; an opposing arch is quickly retaken
_WEIGHTS = {ImpressionRole.PICK_UP: 3, ImpressionRole.RELINE: 2, ImpressionRole.OPPOSING: 1}


def bring_work(
    case: Case, impression: Impression, bench: Bench, *, clock: ImpressionClock, die_cards: Sequence[StepCard]
) -> ImpressionWork:
    """Return the work, the window and the costs of one impression.

    The forecast error of a stretch is sqrt(bias^2 + u^2) over the longest span of the arch, µm.
    """
    stock = [s for s in bench.stone if s.stone is impression.pour.stone]
    return ImpressionWork(
        case=case.code,
        impression=impression.id,
        weight=_WEIGHTS[impression.role],
        is_wet=impression.material.is_hydrocolloid,
        out_at=clock.out_at,
        pour_from_min=impression.maker.pour_from_min or 0.0,
        bands=_bands(clock.steps),
        separate_min=separation_minutes(impression),
        working_time_min=stock[0].working_time_min if stock else None,
        own_cards=tuple(list_own_cards(case, impression, bench, clock.mixes)),
        die_cards=tuple(die_cards),
    )


def _bands(steps: Sequence[CostStep]) -> tuple[AgeBand, ...]:
    bands = []
    for step in steps:
        until = None if step.until_min is None else round(step.until_min * 60)
        band = AgeBand(round(step.since_min * 60), until, step.band, _error_um(step))
        if until is None or until > band.since_s:
            bands.append(band)
    return tuple(bands)


def _error_um(step: CostStep) -> int | None:
    if step.bias_percent is None or not step.spans:
        return None
    return round(max(math.hypot(span.change_um.value, span.change_um.u) for span in step.spans))


def keep_words(impression: Impression, bench: Bench) -> tuple[str, str]:
    """Return how an impression is kept while it waits: before and after the pour."""
    if not impression.material.is_hydrocolloid:
        return "dry, crowns upwards, nothing on it", "leave it still"
    if any(entry.kind == "humid_box" for entry in bench.equipment):
        return "wrapped, in the humid box", "in the humid box, not in water"
    return "wrapped damp, in a closed bag", "under a damp cloth, in a closed bag"
