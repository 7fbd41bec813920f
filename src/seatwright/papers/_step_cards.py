"""Step cards in the order of the timetable, as a paper to lay beside the bench."""

from collections.abc import Sequence
from datetime import datetime

from seatwright.case import ImpressionRole, StepCard
from seatwright.figures import clean_text
from seatwright.findings import Finding, Severity
from seatwright.papers._typeset import typeset_pdf
from seatwright.pour.timetable import Placed, verdict_of
from seatwright.workflows.timetable import BenchDay, cards_in_order

__all__ = ["typeset_step_cards"]

# common practice, as the whole of a card whose step is done at the chair
_TAKE_DO = (
    "Load the tray, seat it, hold it still until the material has set; lift it in one go. "
    "Look at it before it leaves the chair."
)
_LIFT_DO = (
    "Count the seated crowns. Load the tray, seat it, hold it still until the material has set; "
    "lift it along the crowns. Count again: crowns out, crowns in the tray, loose ones."
)
_LIFT_CAUTION = "Guard the airway; a crown missing: look in the mouth and on the floor, and think of the airway first."


def typeset_step_cards(day: BenchDay) -> bytes:
    """Return what is left to do, one card a task in order of time, as an archival tagged PDF.

    An impression under a stop has no cards: the stop stands in their place, as on the bench card.
    """
    stops = _find_stops(day)
    data = {
        "cases": clean_text(", ".join(plan.bundle.case.code for plan in day.plans)),
        "now": f"{day.now.astimezone(day.zone):%d %b %Y, %H:%M}",
        "verdict": clean_text(verdict_of(day.timetable, zone=day.zone)),
        "late": bool(day.timetable.late),
        "stops": [
            {"about": clean_text(" ".join(key)), "what": clean_text(stop.what), "do": clean_text(stop.do)}
            for key, stop in stops.items()
        ],
        "cards": [
            _view_card(day, row, cards) for row, cards in cards_in_order(day) if (row.case, row.impression) not in stops
        ],
    }
    return typeset_pdf("step-cards.typ", data, now=day.now, files={})


def _find_stops(day: BenchDay) -> dict[tuple[str, str], Finding]:
    """Return the first stop of each impression that has one, by case and impression."""
    found: dict[tuple[str, str], Finding] = {}
    for plan in day.plans:
        for clock in plan.pour.impressions:
            for finding in clock.findings:
                if finding.severity is Severity.STOP:
                    found.setdefault((plan.bundle.case.code, clock.impression), finding)
    return found


def _view_card(day: BenchDay, row: Placed, cards: Sequence[StepCard]) -> dict[str, object]:
    told: dict[tuple[str, str], list[int]] = {}
    for card in sorted(cards, key=lambda card: row.steps.index(card.id)):  # all linings before all fillings
        told.setdefault((card.title, card.do), []).append(card.tooth)
    cautions = [caution for card in cards for caution in card.cautions]
    if row.steps == ("take",):
        lifts = _lifts_crowns(day, row)
        told["Take", _LIFT_DO if lifts else _TAKE_DO] = []
        cautions += [_LIFT_CAUTION] if lifts else []
    return {
        "start": f"{row.start.astimezone(day.zone):%H:%M}",
        "end": f"{row.end.astimezone(day.zone):%H:%M}",
        "who": clean_text(row.who or "no hands"),
        "what": clean_text(row.what),
        "about": clean_text(f"{row.case} {row.impression}"),
        "equipment": clean_text(", ".join(row.equipment)),
        "steps": [
            {"title": title, "do": clean_text(do), "units": ", ".join(str(tooth) for tooth in teeth if tooth)}
            for (title, do), teeth in told.items()
        ],
        "cautions": list(dict.fromkeys(clean_text(caution) for caution in cautions)),
        "keep": _keep(day, row.end, row),
    }


def _lifts_crowns(day: BenchDay, row: Placed) -> bool:
    case = next(plan.bundle.case for plan in day.plans if plan.bundle.case.code == row.case)
    return case.impression_by_id(row.impression).role is ImpressionRole.PICK_UP


def _keep(day: BenchDay, moment: datetime, row: Placed) -> str:
    """Return how the impression is kept when it lies untouched after this step."""
    mine = (w for w in day.timetable.waits if (w.case, w.impression) == (row.case, row.impression))
    return next((clean_text(wait.keep) for wait in mine if wait.start == moment), "")
