"""The plan at one moment: support, axes, dies and pour of a case, from its documents alone."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from seatwright.case import AxisPair, SupportResult, classify_support, measure_axis_divergence, review_case
from seatwright.dies import DieResult, choose_dies
from seatwright.findings import Finding, sort_findings
from seatwright.pour import ImpressionPhase, PourResult, assess_pour
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock

__all__ = ["Plan", "plan_case"]


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that follows from case, log and bench without looking at a scan."""

    bundle: CaseBundle
    support: SupportResult
    axes: tuple[AxisPair, ...]
    dies: DieResult
    pour: PourResult
    findings: tuple[Finding, ...]
    """Of all steps, gravest first."""


def plan_case(
    source: CaseSource,
    *,
    now: datetime | None,
    clock: Clock,
    cast_volumes_ml: Mapping[str, float] | None = None,
) -> Plan:
    """Load the case and run every step that needs no scan.

    The clock is read twice: once without die work, because the choice of a die may depend on the minutes left, and
    once with the chosen dies' cards, which give the minutes needed.
    """
    bundle = source.load(now=now, clock=clock)
    case, state, bench = bundle.case, bundle.state, bundle.bench
    support = classify_support(case.teeth, case.arch)
    axes = measure_axis_divergence(case)
    bare = assess_pour(case, state, bench, die_cards={}, now=bundle.now)
    dies = choose_dies(case, state, minutes_left=_minutes_left(bare))
    pour = assess_pour(
        case,
        state,
        bench,
        die_cards=dies.cards_by_impression(),
        now=bundle.now,
        cast_volumes_ml=cast_volumes_ml,
    )
    findings = sort_findings(
        (
            *review_case(case),
            *support.findings,
            *(pair.finding for pair in axes),
            *dies.findings,
            *pour.findings,
        )
    )
    return Plan(bundle, support, axes, dies, pour, findings)


def _minutes_left(pour: PourResult) -> dict[str, float]:
    waiting = (c for c in pour.impressions if c.phase is ImpressionPhase.WAITING)
    return {clock.impression: clock.minutes_left for clock in waiting if clock.minutes_left is not None}
