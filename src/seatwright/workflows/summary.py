"""What stands first: one sentence, one number, and the job as a row of words.

Owns only the choice of what to say first. Every verdict in it was reached by a step; nothing is judged here.
"""

import re
from collections.abc import Sequence

from seatwright.case import ImpressionRole
from seatwright.findings import Finding, Severity, Verdict, sort_findings
from seatwright.forecast import ForecastResult
from seatwright.pour import Band, Feasibility, ImpressionClock, ImpressionPhase, show_minutes
from seatwright.survey import PathSurvey
from seatwright.workflows.caliper import ByHand
from seatwright.workflows.plan import Plan
from seatwright.workflows.results import CastStep, Hollow, JobStep

__all__ = ["summarize_hollow", "summarize_job", "write_headline"]

LATER_STEPS = ("survey", "framework", "remount", "seat")
_ORDERS_SAID = 2  # more than two orders are not read at arm's length
_CLAUSE_END = re.compile(r"[.;] ")  # the first clause is the order, the rest explains
_GRAVE = (Severity.STOP, Severity.WARNING)


def write_headline(findings: Sequence[Finding]) -> tuple[str, Severity]:
    """Return the orders of the gravest findings, each with what it is about, or that work may go on."""
    ordered = sort_findings(tuple(findings))
    grave = [finding for finding in ordered if finding.severity is ordered[0].severity] if ordered else []
    if not grave or grave[0].severity not in _GRAVE:
        return "Nothing stands in the way: go on with the next step.", Severity.NOTE
    orders = list(dict.fromkeys(_order(finding) for finding in grave))
    more = len(orders) - _ORDERS_SAID
    said = " ".join(orders[:_ORDERS_SAID])
    return (f"{said} {more} more below." if more > 0 else said), grave[0].severity


def _order(finding: Finding) -> str:
    order = _CLAUSE_END.split(finding.do or finding.what)[0].rstrip(".")
    about = finding.about
    return f"{about[:1].upper()}{about[1:]}: {order[:1].lower()}{order[1:]}." if about else f"{order}."


def summarize_hollow(plan: Plan, casts: Sequence[CastStep]) -> Hollow:
    """Choose the one number that matters now: minutes while a clock can still be met, else the worst movement."""
    waiting = [c for c in plan.pour.impressions if c.phase is ImpressionPhase.WAITING and c.band is not Band.BEYOND]
    if waiting:
        clock = min(waiting, key=lambda c: c.minutes_left if c.minutes_left is not None else float("inf"))
        return Hollow(f"{show_minutes(clock.minutes_left or 0)} left", f"{clock.impression}: {_needed(clock)} needed")
    if casts:
        return _worst_movement(casts[-1])
    planned = [c for c in plan.pour.impressions if c.phase is ImpressionPhase.PLANNED]
    if planned:
        clock = min(planned, key=lambda c: c.window_min - c.minutes_needed.typical_min)
        return Hollow(show_minutes(clock.window_min), f"{clock.impression}: window; {_needed(clock)} needed")
    return Hollow("")


def _needed(clock: ImpressionClock) -> str:
    return f"{clock.minutes_needed.typical_min:.0f} min"


def _worst_movement(step: CastStep) -> Hollow:
    measured = [(shift, unit) for unit in step.result.units if (shift := unit.told_shift) is not None]
    if not measured:
        return Hollow("", "no unit could be measured")
    _, worst = max(measured, key=lambda pair: pair[0].middle_um)
    words = {
        Verdict.DOES_NOT_CONFORM: "moved",
        Verdict.CONFORMS: "moves most, within",
        Verdict.CANNOT_TELL: "cannot tell",
    }
    caption = f"{worst.tooth} {words[worst.verdict]}; {step.result.tolerance_um:.0f} µm allowed"
    return Hollow(worst.shown_shift(), caption)


def summarize_job(
    plan: Plan,
    casts: Sequence[CastStep],
    fit: ForecastResult | None = None,
    path: PathSurvey | None = None,
    *,
    by_hand: ByHand | None = None,
) -> tuple[JobStep, ...]:
    """Return the steps of the job in order, each with a word; steps without a result say 'not yet'.

    The last one, the seat, is only forecast: it has a word and no verdict. Readings by hand speak for the cast where no
    scan does.
    """
    steps = [
        _pick_up(plan),
        _dies(plan),
        _pour(plan),
        _cast(casts) if casts or by_hand is None else _cast_by_hand(by_hand),
    ]
    later = {name: JobStep(name, "not yet") for name in LATER_STEPS}
    if fit is not None:
        later["seat"] = JobStep("seat", f"forecast: {fit.p_seats.says.value}")
    if path is not None:
        later["survey"] = _path(path)
    return (*steps, *later.values())


def _path(survey: PathSurvey) -> JobStep:
    if survey.path is None:
        return JobStep("survey", "no path", Severity.WARNING)
    if survey.is_fixed:
        return JobStep("survey", "path fixed", Severity.NOTE)
    return JobStep("survey", "path found", Severity.NOTE)


def _pick_up(plan: Plan) -> JobStep:
    ids = {i.id for i in plan.bundle.case.impression if i.role is ImpressionRole.PICK_UP}
    states = [plan.bundle.state.impressions[i] for i in ids if i in plan.bundle.state.impressions]
    taken = [s for s in states if s.out_at is not None]
    if not taken:
        return JobStep("pick-up", "planned")
    uncounted = [s for s in taken if not s.counted]
    word, severity = ("count crowns", Severity.WARNING) if uncounted else ("counted", Severity.NOTE)
    return JobStep("pick-up", word, severity, max(s.out_at for s in taken if s.out_at is not None))


def _dies(plan: Plan) -> JobStep:
    without = [u for u in plan.dies.units if u.chosen is None]
    if without:
        return JobStep("dies", f"{len(without)} without a die", Severity.STOP)
    return JobStep("dies", "chosen", Severity.NOTE)


def _pour(plan: Plan) -> JobStep:
    clocks = plan.pour.impressions
    if not clocks:
        return JobStep("pour", "not planned")
    beyond = [c for c in clocks if c.phase is ImpressionPhase.WAITING and c.band is Band.BEYOND]
    if beyond:
        return JobStep("pour", "retake " + ", ".join(c.impression for c in beyond), Severity.STOP)
    waiting = [c for c in clocks if c.phase is ImpressionPhase.WAITING]
    if waiting:
        first = min(waiting, key=lambda c: c.pour_by or plan.bundle.now)
        grave = any(c.feasibility is Feasibility.DOES_NOT_FIT for c in waiting)
        return JobStep("pour", "pour by", Severity.WARNING if grave else Severity.CAUTION, first.pour_by)
    if all(c.phase is ImpressionPhase.PLANNED for c in clocks):
        return JobStep("pour", "planned")
    return JobStep("pour", "poured", Severity.NOTE)


def _cast(casts: Sequence[CastStep]) -> JobStep:
    if not casts:
        return JobStep("cast", "not yet")
    units = casts[-1].result.units
    moved = [u.tooth for u in units if u.verdict is Verdict.DOES_NOT_CONFORM]
    if moved:
        return JobStep("cast", ", ".join(moved) + " moved", Severity.STOP)
    unsure = [u.tooth for u in units if u.verdict is Verdict.CANNOT_TELL]
    if unsure:
        return JobStep("cast", "cannot tell: " + ", ".join(unsure), Severity.CAUTION)
    return JobStep("cast", "conforms", Severity.NOTE)


def _cast_by_hand(by_hand: ByHand) -> JobStep:
    """Return the word of caliper and foil: the graver of both."""
    steps = []
    if by_hand.caliper is not None:
        result = by_hand.caliper.result
        off = [m.mark for m in result.marks if m.judged.verdict is Verdict.DOES_NOT_CONFORM]
        steps.append(_word_of(result.verdict, f"{', '.join(off)} off by caliper" if off else "distances off"))
    if by_hand.index is not None:
        found = by_hand.index.result
        where = f"{found.candidates[0].seats[0]} off by foil" if found.is_located else "gaps by foil"
        steps.append(_word_of(found.verdict, where))
    order = (Severity.STOP, Severity.CAUTION, Severity.NOTE)
    return min(steps, key=lambda step: order.index(step.severity or Severity.NOTE))


def _word_of(verdict: Verdict, grave: str) -> JobStep:
    if verdict is Verdict.DOES_NOT_CONFORM:
        return JobStep("cast", grave, Severity.STOP)
    if verdict is Verdict.CANNOT_TELL:
        return JobStep("cast", "cannot tell by hand", Severity.CAUTION)
    return JobStep("cast", "conforms by hand", Severity.NOTE)
