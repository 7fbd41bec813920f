"""The forecast of a case: its plan and, once there are scans, its cast check, handed to the chain."""

import math
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from seatwright.case import ImpressionRole
from seatwright.cast import CastResult
from seatwright.forecast import Choices, ForecastResult, MeasuredUnit, Rest, forecast_seating
from seatwright.pour import PourResult
from seatwright.progress import SILENT, Progress
from seatwright.quantities import Measured
from seatwright.workflows.plan import Plan, plan_case
from seatwright.workflows.ports import CaseSource, Clock

__all__ = ["ForecastAnswer", "choices_from_plan", "forecast_case", "measured_units"]

DEFAULT_SEED = 1
"""Any number: the same one gives the same answer, and it is recorded with the result."""


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
    choices: Choices | None = None,
    cast: CastResult | None = None,
    rests: tuple[Rest, ...] = (),
    seed: int = DEFAULT_SEED,
    n_trials: int = 20_000,
    progress: Progress = SILENT,
) -> ForecastAnswer:
    """Load a case, plan it, and forecast its seating; a cast check's result narrows it."""
    plan = plan_case(source, now=now, clock=clock)
    result = forecast_seating(
        plan.bundle.case,
        choices_from_plan(plan, choices or Choices()),
        np.random.default_rng(seed),
        rests=rests,
        measured=measured_units(cast) if cast is not None else (),
        n_trials=n_trials,
        progress=progress,
    )
    return ForecastAnswer(plan, result)


def choices_from_plan(plan: Plan, choices: Choices) -> Choices:
    """Fill in the dies step's techniques and the pour step's band where the choices leave them open."""
    techniques = {unit.tooth: unit.chosen.value for unit in plan.dies.units if unit.chosen and unit.chosen != "none"}
    change = choices.impression_change
    if change is None:
        pick_ups = [i.id for i in plan.bundle.case.impression if i.role is ImpressionRole.PICK_UP]
        change = _band_change(plan.pour, pick_ups[-1]) if pick_ups else None
    return replace(choices, die_technique={**techniques, **choices.die_technique}, impression_change=change)


def _band_change(pour: PourResult, impression: str) -> Measured | None:
    clock = pour.clock(impression)
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
