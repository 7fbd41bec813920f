"""The bench timetable of one or several cases: load, pour and dies, plan; and replan from what happened since."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, tzinfo
from typing import NoReturn

import numpy as np

from seatwright.case import Bench, StepCard
from seatwright.errors import CaseError, InputError
from seatwright.findings import Finding, sort_findings
from seatwright.pour import ImpressionPhase
from seatwright.pour.timetable import (
    Fact,
    Pace,
    Placed,
    PlanOptions,
    Problem,
    Timetable,
    apply_paces,
    bench_zone,
    build_problem,
    keep_words,
    learn_paces,
    make_timetable,
    read_facts,
)
from seatwright.progress import SILENT, Progress
from seatwright.workflows._alternatives import alternatives_of
from seatwright.workflows._bench_works import cards_of, works_of
from seatwright.workflows._learned import past_days, past_of_cases
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.plan import Plan, plan_case
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock, InputFile

__all__ = [
    "BenchDay",
    "PlanSettings",
    "cards_in_order",
    "is_work_left",
    "keep_of",
    "plan_bench_day",
    "plan_day_of",
    "timetable_envelope",
]


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """What the person may set.

    Attributes
    ----------
    limit_s : float
        Wall time of the search.
    n_runs : int
        Simulated days; 0: none.
    seed : int
        Of the simulation.
    remedies_s : float
        Time for trying what would help when something is late.
    past : tuple of Problem
        Other days to learn durations from.
    """

    limit_s: float = 10.0
    n_runs: int = 2000
    seed: int = 1
    remedies_s: float = 10.0
    past: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class BenchDay:
    """A timetable with everything that it rests on."""

    plans: tuple[Plan, ...]
    bench: Bench
    now: datetime
    zone: tzinfo
    problem: Problem
    timetable: Timetable
    facts: tuple[Fact, ...]
    cards: Mapping[tuple[str, str, str, int], StepCard]
    """Every step card by case, impression, step and unit."""
    inputs: tuple[InputFile, ...]
    findings: tuple[Finding, ...]
    paces: tuple[Pace, ...] = ()
    """What was learned of each measured step."""
    past: tuple[Problem, ...] = ()
    """Days that are over, which it was learned from."""
    holds: tuple[Finding, ...] = ()
    """Why impressions are left out: a crown of theirs is missing, left or loose."""


def plan_bench_day(
    sources: Sequence[CaseSource],
    *,
    now: datetime | None,
    clock: Clock,
    settings: PlanSettings | None = None,
    learn: Sequence[CaseSource] = (),
    progress: Progress = SILENT,
) -> BenchDay:
    """Plan the bench for all impressions of all cases that are not separated yet.

    Durations are those of the table at the pace that the logs show: of these cases, and of those in `learn`.

    Raises
    ------
    InputError
        No case, or one case twice.
    CaseError
        A case is faulty, the cases' benches differ, or no timetable can be made of them.
    """
    progress.report(0.0, "reading the cases")
    plans = _load_plans(sources, now=now, clock=clock)
    settings = settings or PlanSettings()
    settings = replace(settings, past=(*settings.past, *past_of_cases(learn, now=now, clock=clock)))
    return plan_day_of(plans, settings=settings, progress=progress)


def plan_day_of(
    plans: Sequence[Plan], *, settings: PlanSettings | None = None, progress: Progress = SILENT
) -> BenchDay:
    """Plan the bench for cases that are planned already, all at one moment and one bench; see `plan_bench_day`."""
    settings = settings or PlanSettings()
    moment, bench = plans[0].bundle.now, plans[0].bundle.bench
    facts = tuple(f for p in plans for f in read_facts(p.bundle.case, p.bundle.events, now=moment))
    parts = [works_of(plan.bundle, plan.pour, plan.dies.cards_by_impression()) for plan in plans]
    works = [work for mine, _ in parts for work in mine]
    holds = tuple(finding for _, held in parts for finding in held)
    if not works:
        _raise_nothing(holds)
    problem = build_problem(works, bench, now=moment, facts=facts)
    past = past_days(plans, bench, now=moment, today=frozenset((w.case, w.impression) for w in works))
    past += settings.past
    paces = learn_paces([*past, problem])
    problem = apply_paces(problem, paces)
    options = PlanOptions(
        limit_s=settings.limit_s,
        n_runs=settings.n_runs,
        keep=keep_of(plans),
        alternatives=lambda: {
            name: apply_paces(other, paces)
            for name, other in alternatives_of(plans, bench, facts=facts, now=moment).items()
        },
        remedies_s=settings.remedies_s,
        zone=bench_zone(bench),
    )
    rng = np.random.default_rng(settings.seed)
    problem, timetable = make_timetable(problem, options=options, rng=rng, progress=progress.part(0.1, 1.0))
    stops = (f for plan in plans for f in (*plan.dies.findings, *plan.pour.findings))
    return BenchDay(
        plans=tuple(plans),
        bench=bench,
        now=moment,
        zone=bench_zone(bench),
        problem=problem,
        timetable=timetable,
        facts=facts,
        cards=cards_of(works),
        paces=paces,
        past=tuple(past),
        holds=holds,
        inputs=tuple(file for plan in plans for file in _named(plan.bundle)),
        findings=sort_findings((*timetable.findings, *stops)),
    )


def _raise_nothing(holds: Sequence[Finding]) -> NoReturn:
    if holds:
        raise InputError(f"there is nothing to plan until this is settled: {holds[0].what}", hint=holds[0].do)
    raise InputError("there is nothing to plan: no impression is planned or waiting", hint="add an impression")


def is_work_left(plan: Plan) -> bool:
    """Tell whether an impression of this case is still to be taken, poured or separated."""
    left = {clock.impression for clock in plan.pour.impressions if clock.phase is not ImpressionPhase.SEPARATED}
    return any(impression.id in left for impression in plan.bundle.case.current_impressions())


def _load_plans(sources: Sequence[CaseSource], *, now: datetime | None, clock: Clock) -> tuple[Plan, ...]:
    if not sources:
        raise InputError("no case is given", hint="give one case folder or several")
    if now is None and len(sources) > 1:
        now = max(source.load(now=None, clock=clock).now for source in sources)
    plans = tuple(plan_case(source, now=now, clock=clock) for source in sources)
    codes = [plan.bundle.case.code for plan in plans]
    twice = sorted({code for code in codes if codes.count(code) > 1})
    if twice:
        raise InputError(f"case {twice[0]} is given twice", hint="give each case once, each with its own code")
    if any(plan.bundle.bench != plans[0].bundle.bench for plan in plans):
        raise CaseError("the cases name different benches", hint="give the bench that they share: --bench FILE")
    return plans


def keep_of(plans: Sequence[Plan]) -> dict[tuple[str, str], tuple[str, str]]:
    """Return how each impression is kept while it waits, before and after the pour."""
    return {
        (plan.bundle.case.code, impression.id): keep_words(impression, plan.bundle.bench)
        for plan in plans
        for impression in plan.bundle.case.current_impressions()
    }


def _named(bundle: CaseBundle) -> tuple[InputFile, ...]:
    return tuple(replace(file, name=f"{bundle.case.code}/{file.name}") for file in bundle.inputs)


def cards_in_order(day: BenchDay) -> tuple[tuple[Placed, tuple[StepCard, ...]], ...]:
    """Return (task, its step cards) in the order of the timetable, done work left out."""
    found = []
    for row in day.timetable.tasks:
        if row.is_fixed and row.end <= day.now:
            continue
        keys = [(row.case, row.impression, step, unit) for unit in row.units or (0,) for step in row.steps]
        cards = tuple(day.cards[key] for key in keys if key in day.cards)
        found.append((row, cards))
    return tuple(found)


def timetable_envelope(day: BenchDay) -> dict[str, object]:
    """Return the answer of ``seatwright timetable --json``."""
    result = {field.name: getattr(day.timetable, field.name) for field in fields(day.timetable)}
    result["paces"] = day.paces
    return make_envelope("timetable", inputs=day.inputs, result=result, findings=day.findings)
