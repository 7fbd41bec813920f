"""The forecast of a case: its plan and, once there are scans, its cast check, handed to the chain."""

import math
from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np

from seatwright.case import ImpressionRole
from seatwright.cast import CastResult
from seatwright.dies import Effect
from seatwright.forecast import Choices, ForecastResult, MeasuredUnit, Rest, Stage, forecast_seating
from seatwright.pour import ImpressionClock, ImpressionPhase
from seatwright.progress import SILENT, Progress
from seatwright.quantities import Measured
from seatwright.workflows.plan import Plan, plan_case
from seatwright.workflows.ports import CaseSource, Clock

__all__ = ["ForecastAnswer", "ForecastAsked", "choices_from_plan", "forecast_case", "measured_units"]


@dataclass(frozen=True, slots=True)
class ForecastAsked:
    """What a forecast is asked for beside the case.

    Attributes
    ----------
    choices : Choices
    rests : tuple of Rest
        Rests of the framework; each rigid attachment is a stop anyway.
    seed, n_trials : int
        The same seed gives the same answer, bit for bit.
    """

    choices: Choices = field(default_factory=Choices)
    rests: tuple[Rest, ...] = ()
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
    asked = asked or ForecastAsked()
    plan = plan_case(source, now=now, clock=clock)
    result = forecast_seating(
        plan.bundle.case,
        choices_from_plan(plan, asked.choices),
        np.random.default_rng(asked.seed),
        rests=asked.rests,
        measured=measured_units(cast) if cast is not None else (),
        n_trials=asked.n_trials,
        progress=progress,
    )
    return ForecastAnswer(plan, result)


def choices_from_plan(plan: Plan, choices: Choices) -> Choices:
    """Fill in what dies and pour steps say where the choices leave it open: techniques, the band now, how far it is."""
    techniques = {unit.tooth: unit.chosen.value for unit in plan.dies.units if unit.chosen and unit.chosen != "none"}
    others = {
        unit.tooth: tuple(v.technique.value for v in unit.ranked if v.effect in (Effect.CHOSEN, Effect.ALLOWED))
        for unit in plan.dies.units
    }
    clock = _pick_up_clock(plan)
    change, stage = choices.impression_change, choices.stage
    if clock is not None:
        change = change or _change_now(clock)
        stage = _STAGES[clock.phase]
    return replace(
        choices,
        die_technique={**techniques, **choices.die_technique},
        open_dies=others,
        impression_change=change,
        stage=stage,
    )


_STAGES = {
    ImpressionPhase.PLANNED: Stage.PLANNED,
    ImpressionPhase.WAITING: Stage.IMPRESSION_OUT,
    ImpressionPhase.POURED: Stage.POURED,
    ImpressionPhase.SEPARATED: Stage.POURED,
}


def _pick_up_clock(plan: Plan) -> ImpressionClock | None:
    current = {i.id for i in plan.bundle.case.current_impressions() if i.role is ImpressionRole.PICK_UP}
    return next((clock for clock in plan.pour.impressions if clock.impression in current), None)


def _change_now(clock: ImpressionClock) -> Measured | None:
    age = clock.age_min or 0.0
    for step in clock.steps:
        if step.since_min <= age and (step.until_min is None or age < step.until_min):
            if step.bias_percent is None or step.u_percent is None:
                return None
            return Measured(step.bias_percent, step.u_percent, "%")
    return None


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
