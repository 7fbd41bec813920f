"""The parts of a case's work that take seconds, each computed by itself: cast check, survey, forecast, timetable.

A part that a case has nothing for is a reason why not, never an error.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from seatwright.case import Motion, ScanRole
from seatwright.errors import CannotCompute, CaseError
from seatwright.forecast import Choices, ForecastResult
from seatwright.progress import SILENT, Progress
from seatwright.workflows.cast_check import check_case_casts
from seatwright.workflows.forecast import choices_from_plan, forecast_plan
from seatwright.workflows.plan import Plan, plan_case
from seatwright.workflows.ports import CaseSource, Clock, InputFile
from seatwright.workflows.results import CastStep
from seatwright.workflows.survey import BenchAsked
from seatwright.workflows.survey_case import SCAN_SLACK_MM, CaseSurvey, SurveyAsked, survey_bundle
from seatwright.workflows.timetable import BenchDay, PlanSettings, is_work_left, plan_day_of

__all__ = ["CastPart", "Part", "Parts", "compute_part", "compute_part_of_case"]

_DAY = PlanSettings(limit_s=5.0, n_runs=500, remedies_s=0.0)  # judgement: a dossier is not kept waiting for a bound

CastPart = tuple[tuple[CastStep, ...], tuple[InputFile, ...]]
"""Each poured scan's check, and the files that were read for them."""


class Part(StrEnum):
    """What can be computed by itself, in the order of the job."""

    CAST = "cast"
    SURVEY = "survey"
    FORECAST = "forecast"
    """Takes what the cast check measured, where there is one."""
    TIMETABLE = "timetable"


@dataclass(frozen=True, slots=True)
class Parts:
    """What was computed of a case; None where it was not. Beside a result that there is not stands why."""

    cast: CastPart | None = None
    survey: tuple[CaseSurvey | None, str] | None = None
    forecast: tuple[ForecastResult | None, str] | None = None
    timetable: tuple[BenchDay | None, str] | None = None


def compute_part_of_case(
    source: CaseSource, part: Part, parts: Parts, *, now: datetime | None, clock: Clock, progress: Progress = SILENT
) -> object:
    """Read the case and compute one part of it; return the field of `Parts` that bears its name."""
    progress.report(0.0, "reading the case")
    return compute_part(source, plan_case(source, now=now, clock=clock), part, parts, progress=progress)


def compute_part(source: CaseSource, plan: Plan, part: Part, parts: Parts, *, progress: Progress = SILENT) -> object:
    """Compute one part; `parts` are those that are there already."""
    return _COMPUTE[part](source, plan, parts, progress)


def _check_casts(source: CaseSource, plan: Plan, _parts: Parts, progress: Progress) -> CastPart:
    if not any(scan.role is ScanRole.POURED for scan in plan.bundle.case.scan):
        return (), ()
    choices = choices_from_plan(plan, Choices())
    return check_case_casts(source, plan.bundle, choices=choices, progress=progress)


def _plan_day(_source: CaseSource, plan: Plan, _parts: Parts, progress: Progress) -> tuple[BenchDay | None, str]:
    """Return the timetable of what is left at the bench, or why there is none; a bench half described is no fault."""
    if not is_work_left(plan):
        return None, ""
    progress.report(0.1, "placing the steps")
    try:
        return plan_day_of((plan,), settings=_DAY), ""
    except (CaseError, CannotCompute) as error:
        return None, f"{error.message}: {error.hint}" if error.hint else error.message


def _forecast(_source: CaseSource, plan: Plan, parts: Parts, progress: Progress) -> tuple[ForecastResult | None, str]:
    """Return the forecast of the seating, or why there is none; a case that is half described is no fault."""
    case = plan.bundle.case
    if not case.attachment and not case.rest:
        return None, "Nothing that must fit is planned yet: no attachment and no rest."
    casts = parts.cast[0] if parts.cast is not None else ()
    try:
        return forecast_plan(plan, cast=casts[-1].result if casts else None, progress=progress), ""
    except CaseError as error:
        faults = "; ".join(f"{fault.where}: {fault.what}" for fault in error.faults) or error.hint
        return None, f"{error.message}: {faults}" if faults else error.message


def _survey(source: CaseSource, plan: Plan, _parts: Parts, progress: Progress) -> tuple[CaseSurvey | None, str]:
    """Return the survey of paths, or why there is none."""
    case = plan.bundle.case
    rigid = any(a.motion is Motion.RIGID for a in case.attachment)
    if not (rigid or case.clasp or case.guide_plane):
        return None, "Nothing that asks for a path is planned yet: no rigid attachment, clasp or guide plane."
    try:
        asked = SurveyAsked(bench=BenchAsked(slack_mm=SCAN_SLACK_MM, taper_deg=0.0))
        return survey_bundle(source, plan.bundle, asked=asked, progress=progress), ""
    except CannotCompute as error:
        return None, f"{error.message}: {error.hint}" if error.hint else error.message


_COMPUTE: Mapping[Part, Callable[[CaseSource, Plan, Parts, Progress], object]] = {
    Part.CAST: _check_casts,
    Part.SURVEY: _survey,
    Part.FORECAST: _forecast,
    Part.TIMETABLE: _plan_day,
}
