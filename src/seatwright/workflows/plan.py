"""The plan at one moment: support, axes, dies and pour of a case, from its documents alone."""

from dataclasses import dataclass
from datetime import datetime

from seatwright.case import (
    AxisPair,
    Case,
    ImpressionRole,
    ScanRole,
    SupportResult,
    classify_support,
    measure_axis_divergence,
    review_case,
)
from seatwright.dies import DieResult, choose_dies
from seatwright.findings import Finding, sort_findings
from seatwright.pour import ImpressionPhase, PourResult, assess_pour, average_cast_volume_ml
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock

__all__ = ["Plan", "measure_cast_volumes_ml", "plan_case"]

_MM3_PER_ML = 1000.0  # definition: 1 ml is 1 cm3


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
) -> Plan:
    """Load the case and run every step before the cast check.

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
        places=_places_on_scan(case),
        cast_volumes_ml=measure_cast_volumes_ml(source, case),
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


def measure_cast_volumes_ml(source: CaseSource, case: Case) -> dict[str, float]:
    """Volume of the cast that each pick-up will give, from the reference scan of the same arch, ml.

    An open scan ends before the sulcus, so that the volume under it is a lower bound: it counts only where it is
    larger than an average cast's, because running short of stone costs more than stone.
    """
    reference = next((s for s in case.scan if s.role is ScanRole.REFERENCE and s.arch is case.arch), None)
    pick_ups = [i for i in case.impression if i.role is ImpressionRole.PICK_UP and i.arch is case.arch]
    if reference is None or not pick_ups:
        return {}
    scan = source.scan_volume(reference)
    told_ml = {i: scan.on_base_mm3(i.pour.base_height_mm) / _MM3_PER_ML for i in pick_ups}
    is_whole = scan.enclosed_mm3 is not None
    return {i.id: volume_ml for i, volume_ml in told_ml.items() if is_whole or volume_ml > average_cast_volume_ml(i)}


def _places_on_scan(case: Case) -> dict[int, tuple[float, float, float]]:
    """Return where each unit with a seed stands on the reference scan, mm."""
    return {region.tooth: region.seed_mm for region in case.region if region.seed_mm is not None}


def _minutes_left(pour: PourResult) -> dict[str, float]:
    waiting = (c for c in pour.impressions if c.phase is ImpressionPhase.WAITING)
    return {clock.impression: clock.minutes_left for clock in waiting if clock.minutes_left is not None}
