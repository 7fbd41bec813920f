"""The plan at one moment: support, axes, dies and pour of a case, from its documents alone."""

from dataclasses import dataclass
from datetime import datetime

from seatwright.case import (
    AxisResult,
    CaseState,
    SupportResult,
    classify_support,
    fold_events,
    measure_axis_divergence,
)
from seatwright.dies import DieResult, choose_dies
from seatwright.findings import Finding, sort_findings
from seatwright.pour import PourResult, assess_pour, measure_minutes_left
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock

__all__ = ["Plan", "load_case", "plan_case"]


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that follows from case, log and bench without looking at a scan."""

    bundle: CaseBundle
    state: CaseState
    now: datetime
    support: SupportResult
    axes: AxisResult
    dies: DieResult
    pour: PourResult
    findings: tuple[Finding, ...]
    """Of all four, gravest first."""


def load_case(source: CaseSource, *, now: datetime | None, clock: Clock) -> tuple[CaseBundle, CaseState, datetime]:
    """Load a case and fold its log at `now`: as given, else the case's own `as_of`, else the clock."""
    bundle = source.load()
    moment = now or bundle.case.as_of or clock.now()
    return bundle, fold_events(bundle.events, bundle.case, now=moment), moment


def plan_case(source: CaseSource, *, now: datetime | None, clock: Clock) -> Plan:
    """Load the case and run every step that needs no scan."""
    bundle, state, moment = load_case(source, now=now, clock=clock)
    case = bundle.case
    support = classify_support(case)
    axes = measure_axis_divergence(case)
    dies = choose_dies(case, state, minutes_left=measure_minutes_left(case, state, bundle.bench, now=moment))
    pour = assess_pour(case, state, bundle.bench, die_cards=dies.cards_by_impression(), now=moment)
    findings = sort_findings(support.findings + axes.findings + dies.findings + pour.findings)
    return Plan(bundle, state, moment, support, axes, dies, pour, findings)
