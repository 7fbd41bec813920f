"""The forecast of a case: its plan and, once there are scans, its cast check, handed to the chain."""

import math
import re
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np

from seatwright.case import Impression, ImpressionMaterial, ImpressionRole, Stone
from seatwright.cast import CastResult
from seatwright.dies import Effect
from seatwright.evidence import Confidence, EvidenceRecord, HowObtained, find_evidence, list_evidence
from seatwright.forecast import Choices, ForecastResult, MeasuredUnit, PourBand, Stage, forecast_seating
from seatwright.pour import CostBasis, CostStep, ImpressionClock, ImpressionPhase
from seatwright.progress import SILENT, Progress
from seatwright.quantities import Measured
from seatwright.workflows.plan import Plan, plan_case
from seatwright.workflows.ports import CaseSource, Clock

__all__ = ["ForecastAnswer", "ForecastAsked", "choices_from_plan", "forecast_case", "forecast_plan", "measured_units"]


@dataclass(frozen=True, slots=True)
class ForecastAsked:
    """What a forecast is asked for beside the case.

    Attributes
    ----------
    choices : Choices
    seed, n_trials : int
        The same seed gives the same answer, bit for bit.
    """

    choices: Choices = field(default_factory=Choices)
    seed: int = 1
    n_trials: int = 20_000


@dataclass(frozen=True, slots=True)
class ForecastAnswer:
    """A forecast with the plan it rests on."""

    plan: Plan
    result: ForecastResult


def forecast_case(
    source: CaseSource,
    *,
    now: datetime | None,
    clock: Clock,
    asked: ForecastAsked | None = None,
    cast: CastResult | None = None,
    progress: Progress = SILENT,
) -> ForecastAnswer:
    """Load a case, plan it, and forecast its seating; a cast check's result narrows it."""
    plan = plan_case(source, now=now, clock=clock)
    return ForecastAnswer(plan, forecast_plan(plan, asked=asked, cast=cast, progress=progress))


def forecast_plan(
    plan: Plan, *, asked: ForecastAsked | None = None, cast: CastResult | None = None, progress: Progress = SILENT
) -> ForecastResult:
    """Forecast the seating of a planned case; a cast check's result narrows it."""
    asked = asked or ForecastAsked()
    return forecast_seating(
        plan.bundle.case,
        choices_from_plan(plan, asked.choices),
        np.random.default_rng(asked.seed),
        measured=measured_units(cast) if cast is not None else (),
        n_trials=asked.n_trials,
        progress=progress,
    )


def choices_from_plan(plan: Plan, choices: Choices) -> Choices:
    """Fill in what plan and bench say where the choices leave it open: dies, the pour's band, the maker's stone."""
    techniques = {unit.tooth: unit.chosen.value for unit in plan.dies.units if unit.chosen and unit.chosen != "none"}
    others = {
        unit.tooth: tuple(v.technique.value for v in unit.ranked if v.effect in (Effect.CHOSEN, Effect.ALLOWED))
        for unit in plan.dies.units
    }
    filled = replace(
        choices,
        die_technique={**techniques, **choices.die_technique},
        open_dies=others,
        own=replace(choices.own, records={**_maker_stone(plan), **choices.own.records}),
    )
    clock = _pick_up_clock(plan)
    if clock is None:
        return filled
    bands = _pour_bands(plan, clock)
    now = next((band for band, step in bands if _holds(step, clock.age_min or 0.0)), None)
    open_later = [band for band, step in bands if band is not now and (clock.age_min or 0.0) < step.since_min]
    return replace(filled, pour=choices.pour or now, other_pours=tuple(open_later), stage=_STAGES[clock.phase])


_STAGES = {
    ImpressionPhase.PLANNED: Stage.PLANNED,
    ImpressionPhase.WAITING: Stage.IMPRESSION_OUT,
    ImpressionPhase.POURED: Stage.POURED,
    ImpressionPhase.SEPARATED: Stage.POURED,
}
_WHOLE_CASTS = (ImpressionMaterial.ADDITION_SILICONE, ImpressionMaterial.POLYETHER)
_RANGES = (CostBasis.SPECIMENS, CostBasis.IMPRESSIONS)
_STONES = {Stone.TYPE_3: "fc_stone_type_3", Stone.TYPE_4: "fc_stone_type_4", Stone.TYPE_5: "fc_stone_type_5"}


def _pick_up(plan: Plan) -> Impression | None:
    return next((i for i in plan.bundle.case.current_impressions() if i.role is ImpressionRole.PICK_UP), None)


def _pick_up_clock(plan: Plan) -> ImpressionClock | None:
    impression = _pick_up(plan)
    return next((clock for clock in plan.pour.impressions if impression and clock.impression == impression.id), None)


def _pour_bands(plan: Plan, clock: ImpressionClock) -> list[tuple[PourBand, CostStep]]:
    """Return the stretches of the clock; none for elastomers, whose whole casts were measured, but by the maker."""
    impression = _pick_up(plan)
    if impression is None:
        return []
    if impression.material in _WHOLE_CASTS and impression.maker.linear_change_percent is None:
        return []
    return [(_pour_band(step), step) for step in clock.steps]


def _pour_band(step: CostStep) -> PourBand:
    if step.until_min is None:
        when = f"later than {_stretch(step.since_min)}"
    elif step.since_min == 0:
        when = f"within {_stretch(step.until_min)}"
    else:
        when = f"between {_stretch(step.since_min)} and {_stretch(step.until_min)}"
    known = step.bias_percent is not None and step.u_percent is not None
    change = Measured(step.bias_percent or 0.0, step.u_percent or 0.0, "%") if known else None
    known_ids = {record.id for record in list_evidence()}
    named = tuple(name for name in re.findall(r"\[(\w+)\]", step.source.reference) if name in known_ids)
    includes_stone = step.basis in (CostBasis.CASTS, CostBasis.WHOLE_CASTS)
    return PourBand(when, change, includes_stone, step.basis in _RANGES, named)


def _stretch(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < 120 else f"{minutes / 60:.0f} h"


def _holds(step: CostStep, age_min: float) -> bool:
    return step.since_min <= age_min and (step.until_min is None or age_min < step.until_min)


def _maker_stone(plan: Plan) -> dict[str, EvidenceRecord]:
    """Return the maker's setting expansion of the stone in use, from the bench file."""
    impression = _pick_up(plan)
    if impression is None:
        return {}
    for stock in plan.bundle.bench.stone:
        if stock.stone is impression.pour.stone and stock.setting_expansion_percent is not None:
            published = find_evidence(_STONES[stock.stone])
            return {
                published.id: replace(
                    published,
                    value=stock.setting_expansion_percent,
                    low=None,
                    high=None,
                    conditions="replaces the published figure; said by the maker",
                    source="bench.toml: maker's setting expansion",
                    how=HowObtained.OWN,
                    confidence=Confidence.MEDIUM,
                    built_from=(),
                )
            }
    return {}


def measured_units(cast: CastResult) -> tuple[MeasuredUnit, ...]:
    """Return the units that a cast check measured, as the chain takes them."""
    return tuple(
        MeasuredUnit(
            tooth=int(unit.tooth),
            shift_mm=unit.shift_mm,
            turn_rad=unit.turn_deg * (math.pi / 180.0),
            cov=unit.covariance,
            about_mm=unit.about_mm,
        )
        for unit in cast.units
        if unit.is_measured
        and unit.shift_mm is not None
        and unit.turn_deg is not None
        and unit.covariance is not None
        and unit.tooth.isdigit()
    )
