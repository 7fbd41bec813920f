"""Does the work fit the window, and if not: what does it cost, and what would make it fit.

Owns the comparison of minutes needed with minutes left, and its findings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from seatwright.case import (
    Bench,
    Case,
    Duration,
    Impression,
    ImpressionRole,
    ImpressionState,
    Skill,
    StepCard,
    UnitKind,
)
from seatwright.evidence import source_of
from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.pour._naming import lower_first, spoken, whole_minutes
from seatwright.pour._result import Band, Feasibility, Mix, Remedy
from seatwright.pour._rows import minutes_of
from seatwright.pour._spans import Span, cost_over_span
from seatwright.pour._windows import Stretch
from seatwright.pour._work import Job, Question, build_job, find_remedies, judge_fit, list_tasks, measure_work

__all__ = ["Fit", "check_fit", "find_fit"]

_SKILLS = {
    Skill.DISINFECT: "disinfect",
    Skill.COUNT: "count crowns",
    Skill.DIES: "make dies",
    Skill.MASK: "mask margins",
    Skill.MIX: "mix",
    Skill.POUR: "pour",
    Skill.SEPARATE: "separate",
}
_BENCH = Source(SourceKind.CASE, "bench file")


@dataclass(frozen=True, slots=True)
class Fit:
    """Work against window for one impression."""

    minutes: Duration
    bound: Duration
    n_people: int
    feasibility: Feasibility
    left_min: float
    is_planned: bool
    missing: tuple[Skill, ...]
    together: Duration | None
    """Minutes until this one is poured when the other impressions' work is done by the same hands; None when alone."""
    remedies: tuple[Remedy, ...]


def find_fit(
    case: Case,
    impression: Impression,
    bench: Bench,
    *,
    mixes: Sequence[Mix],
    jobs: Mapping[str, Job],
    die_cards: Sequence[StepCard],
    state: ImpressionState | None,
    left_min: float,
) -> Fit:
    """Return how the work of one impression, still to be poured, compares with the minutes left."""
    job = jobs[impression.id]
    work = measure_work([job], bench)
    minutes = work.time.minutes
    feasibility = Feasibility.DOES_NOT_FIT if work.missing else judge_fit(minutes, left_min)
    others = [other for key, other in jobs.items() if key != impression.id and not all(other.done)]
    together = _together(job, others, bench) if others else None
    shares = together is not None and judge_fit(together, left_min) is not judge_fit(minutes, left_min)
    remedies: tuple[Remedy, ...] = ()
    if left_min > 0 and (feasibility is not Feasibility.FITS or shares):

        def build(cards: Sequence[StepCard], wet: bool | None) -> Job:
            return build_job(case, impression, bench, mixes=mixes, die_cards=cards, state=state, in_hydrocolloid=wet)

        may_change = state is None and impression.material.is_hydrocolloid
        no_die = (UnitKind.PONTIC, UnitKind.IMPLANT_SCREWED)
        may_be_stone = frozenset(unit.tooth for unit in case.unit if unit.kind not in no_die)
        question = Question(job, left_min, tuple(die_cards), build, may_change, may_be_stone, shares)
        remedies = find_remedies(question, bench)
    return Fit(
        minutes,
        work.time.bound,
        work.time.n_people,
        feasibility,
        left_min,
        state is None,
        work.missing,
        together if shares else None,
        remedies,
    )


def _together(job: Job, others: Sequence[Job], bench: Bench) -> Duration:
    """Return when this job is done if the same hands do the others' work as well, all from one start."""
    ends = measure_work([job, *others], bench).time.ends[: len(list_tasks(job))]
    return Duration(
        max((e.low_min for e in ends), default=0.0),
        max((e.typical_min for e in ends), default=0.0),
        max((e.high_min for e in ends), default=0.0),
    )


def check_fit(
    impression: Impression, fit: Fit, stretches: Sequence[Stretch], *, name: str, minute: float, longest: Span
) -> list[Finding]:
    """Return the findings on fit: a missing skill, work that does not fit and what it costs, hands shared."""
    found = []
    now_band = _stretch_at(stretches, minute).judged.rung.band
    is_given_up = now_band is Band.BEYOND
    if fit.missing:
        what = f"{name}: nobody at the bench may {', '.join(_SKILLS[skill] for skill in fit.missing)}."
        found.append(
            Finding(
                "skill-missing",
                Severity.STOP,
                what,
                do="Find the person before the appointment goes on; the minutes count such a person.",
                source=_BENCH,
                about=impression.id,
            )
        )
    if fit.is_planned and impression.material.is_hydrocolloid:
        found.append(_keep_wrapped(impression, name))
    does_fit = judge_fit(fit.minutes, fit.left_min) is Feasibility.FITS
    if not does_fit and not is_given_up:
        found.append(
            _does_not_fit(impression, name, fit, _stretch_at(stretches, minute + fit.minutes.typical_min), longest)
        )
    if fit.together is not None:
        what = f"{name}: other work on hand makes it {_range(fit.together)} min instead of {_range(fit.minutes)} min."
        do = f"Do the {lower_first(name)} first; keep the other for later, or give it to other hands."
        found.append(Finding("hands-shared", Severity.CAUTION, what, do=do, source=_BENCH, about=impression.id))
    return found


def _keep_wrapped(impression: Impression, name: str) -> Finding:
    limit = minutes_of("clock_alg_open")
    what = f"{name}: the plan counts on it wrapped between steps; uncovered it has {limit:g} min in all."
    do = "Damp tissue over all but the crown in hand."
    return Finding("plan-keeps-wrapped", Severity.NOTE, what, "", do, source_of("clock_alg_open"), impression.id)


def _stretch_at(stretches: Sequence[Stretch], minute: float) -> Stretch:
    return next((s for s in stretches if s.until_min is None or minute <= s.until_min), stretches[-1])


def _does_not_fit(impression: Impression, name: str, fit: Fit, reached: Stretch, longest: Span) -> Finding:
    """Say what the work takes against what is left, and what the cast costs when it is done anyway."""
    band = reached.judged.rung.band
    is_tight = fit.feasibility is Feasibility.TIGHT
    head = "tight" if is_tight else "does not fit"
    left = f"a window of {spoken(fit.left_min)}" if fit.is_planned else f"{whole_minutes(fit.left_min)} min left"
    people = "one pair of hands" if fit.n_people == 1 else f"{fit.n_people} pairs of hands"
    what = f"{name}: {head}, {_range(fit.minutes)} min of work with {people} against {left}."
    cost = cost_over_span(longest, reached.judged.rung, impression.material)
    if is_tight:
        why = "It fits at the typical pace, not at the slowest."
    elif cost is None:
        why = f"At the typical pace it is poured in the band '{band.value}'; no number is supported for that."
    else:
        why = (
            f"At the typical pace it is poured in the band '{band.value}': {cost.change_um.shown()} (95 %) "
            f"over {cost.what}; {cost.basis.value}."
        )
    do = _advise(fit, name)
    return Finding(
        f"work-{fit.feasibility.value.replace('_', '-')}",
        _grave(impression, fit, band),
        what,
        why,
        do,
        about=impression.id,
    )


def _grave(impression: Impression, fit: Fit, band: Band) -> Severity:
    if fit.feasibility is Feasibility.TIGHT:
        return Severity.CAUTION
    is_pick_up = impression.role is ImpressionRole.PICK_UP
    if band is Band.BEYOND:
        return Severity.STOP if is_pick_up else Severity.WARNING
    return Severity.WARNING if is_pick_up else Severity.CAUTION


def _advise(fit: Fit, name: str) -> str:
    """Return what would make it fit, first what does; without any, what is left to do."""
    if not fit.remedies:
        return (
            f"Too late for other ways: finish the dies and pour the {lower_first(name)} at once, then verify the cast."
        )
    order = list(Feasibility)
    return " ".join(_line(r) for r in sorted(fit.remedies, key=lambda r: order.index(r.feasibility)))


def _line(remedy: Remedy) -> str:
    words = {
        Feasibility.FITS: "fits",
        Feasibility.TIGHT: "tight",
        Feasibility.DOES_NOT_FIT: "does not fit either",
        Feasibility.DONE: "done",
    }
    return f"{remedy.what}: {_range(remedy.minutes)} min, {words[remedy.feasibility]}."


def _range(minutes: Duration) -> str:
    return f"{minutes.typical_min:.0f} ({minutes.low_min:.0f} to {minutes.high_min:.0f})"
