"""The bench timetable of one or several cases: load, pour and dies, plan; and replan from what happened since."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from typing import NoReturn

import numpy as np

from seatwright.case import Bench, Case, CaseState, Impression, ImpressionMaterial, StepCard, Storage, StorageSpell
from seatwright.dies import DieResult, Effect, Technique, derive_unit_facts, make_cards
from seatwright.errors import CaseError, InputError
from seatwright.findings import Finding, Severity, sort_findings
from seatwright.pour import ImpressionPhase, PourResult, assess_pour
from seatwright.pour.timetable import (
    Fact,
    ImpressionWork,
    Placed,
    PlanOptions,
    Problem,
    Timetable,
    apply_paces,
    bench_zone,
    bring_work,
    build_problem,
    keep_words,
    learn_paces,
    make_timetable,
    read_facts,
)
from seatwright.progress import SILENT, Progress
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

_HOLDS = ("crown-missing", "crown-left-on-tooth", "crown-loose")
"""Findings of the pour step that forbid to go on with an impression, when they are stops."""


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
    """

    limit_s: float = 10.0
    n_runs: int = 2000
    seed: int = 1
    remedies_s: float = 10.0


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
    holds: tuple[Finding, ...] = ()
    """Why impressions are left out: a crown of theirs is missing, left or loose."""


def plan_bench_day(
    sources: Sequence[CaseSource],
    *,
    now: datetime | None,
    clock: Clock,
    settings: PlanSettings | None = None,
    progress: Progress = SILENT,
) -> BenchDay:
    """Plan the bench for all impressions of all cases that are not separated yet.

    Raises
    ------
    InputError
        No case, or one case twice.
    CaseError
        A case is faulty, the cases' benches differ, or no timetable can be made of them.
    """
    progress.report(0.0, "reading the cases")
    return plan_day_of(_load_plans(sources, now=now, clock=clock), settings=settings, progress=progress)


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
    problem = apply_paces(problem, learn_paces([problem]))
    options = PlanOptions(
        limit_s=settings.limit_s,
        n_runs=settings.n_runs,
        keep=keep_of(plans),
        alternatives=lambda: _alternatives(plans, bench, facts=facts, now=moment),
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


def _works_of(plan: Plan) -> list[ImpressionWork]:
    """Return the works by the plan's own clocks, whose amounts know the cast's measured volume."""
    return works_of(plan.bundle, plan.pour, plan.dies.cards_by_impression())[0]


def works_of(
    bundle: CaseBundle,
    pour: PourResult,
    die_cards: Mapping[str, tuple[StepCard, ...]],
    *,
    left_out: frozenset[str] | None = None,
) -> tuple[list[ImpressionWork], list[Finding]]:
    """Return what a case's impressions bring, and the findings that hold others back: a crown missing, left or loose.

    Parameters
    ----------
    bundle, pour
    die_cards : mapping of impression to step cards
    left_out : set of str, optional
        Impressions that are no work any more; those separated, where not given.
    """
    works: list[ImpressionWork] = []
    holds: list[Finding] = []
    for impression in bundle.case.current_impressions():
        clock = pour.clock(impression.id)
        is_over = clock.phase is ImpressionPhase.SEPARATED if left_out is None else impression.id in left_out
        held = [f for f in clock.findings if f.id in _HOLDS and f.severity is Severity.STOP]
        holds += held
        if not is_over and not held:
            cards = die_cards.get(impression.id, ())
            works.append(bring_work(bundle.case, impression, bundle.bench, clock=clock, die_cards=cards))
    return works, holds


def _works(
    case: Case,
    state: CaseState,
    bundle: CaseBundle,
    *,
    dies: DieResult,
    instead: Mapping[str, tuple[StepCard, ...]] | None = None,
) -> list[ImpressionWork]:
    die_cards = instead or dies.cards_by_impression()
    pour = assess_pour(case, state, bundle.bench, die_cards=die_cards, now=bundle.now)
    return works_of(replace(bundle, case=case), pour, die_cards)[0]


def keep_of(plans: Sequence[Plan]) -> dict[tuple[str, str], tuple[str, str]]:
    """Return how each impression is kept while it waits, before and after the pour."""
    return {
        (plan.bundle.case.code, impression.id): keep_words(impression, plan.bundle.bench)
        for plan in plans
        for impression in plan.bundle.case.current_impressions()
    }


def cards_of(works: Sequence[ImpressionWork]) -> dict[tuple[str, str, str, int], StepCard]:
    """Return every step card by case, impression, step and unit."""
    return {
        (work.case, work.impression, card.id, card.tooth): card
        for work in works
        for card in (*work.own_cards, *work.die_cards)
    }


def _named(bundle: CaseBundle) -> tuple[InputFile, ...]:
    return tuple(replace(file, name=f"{bundle.case.code}/{file.name}") for file in bundle.inputs)


def _alternatives(plans: Sequence[Plan], bench: Bench, *, facts: Sequence[Fact], now: datetime) -> dict[str, Problem]:
    """Return what else could be done: keep longer, another material, fewer resin dies at once."""
    changes: dict[str, list[list[ImpressionWork]]] = {}
    for name, change in (
        ("hydrocolloids kept in the humid box from now on", _kept_humid),
        ("addition silicone instead of alginate for what is still to be taken", _in_silicone),
        ("pins and stone instead of resin dies where the die table allows it", _with_stone_dies),
    ):
        changed = [change(plan) for plan in plans]
        if any(works is not None for works in changed):
            parts = zip(changed, plans, strict=True)
            changes[name] = [works if works is not None else _works_of(plan) for works, plan in parts]
    problems = {}
    for name, parts_of in changes.items():
        works = [work for part in parts_of for work in part]
        problems[name] = build_problem(works, bench, now=now, facts=facts)
    return problems


def _kept_humid(plan: Plan) -> list[ImpressionWork] | None:
    bundle = plan.bundle
    states = dict(bundle.state.impressions)
    for impression in bundle.case.current_impressions():
        state = states.get(impression.id)
        if not impression.material.is_hydrocolloid or state is None or not state.spells or state.poured_at:
            continue
        last = state.spells[-1]
        if last.storage is not Storage.HUMID_BOX and last.since < bundle.now:
            closed = replace(last, until=bundle.now)
            spells = (*state.spells[:-1], closed, StorageSpell(Storage.HUMID_BOX, bundle.now))
            states[impression.id] = replace(state, spells=spells)
    if states == bundle.state.impressions:
        return None
    return _works(bundle.case, replace(bundle.state, impressions=states), bundle, dies=plan.dies)


def _in_silicone(plan: Plan) -> list[ImpressionWork] | None:
    bundle = plan.bundle
    impressions = tuple(_as_silicone(bundle, impression) for impression in bundle.case.impression)
    if impressions == bundle.case.impression:
        return None
    case = bundle.case.model_copy(update={"impression": impressions})
    return _works(case, bundle.state, bundle, dies=plan.dies)


def _as_silicone(bundle: CaseBundle, impression: Impression) -> Impression:
    state = bundle.state.impressions.get(impression.id)
    if not impression.material.is_hydrocolloid or (state is not None and state.out_at is not None):
        return impression
    return impression.model_copy(update={"material": ImpressionMaterial.ADDITION_SILICONE})


def _with_stone_dies(plan: Plan) -> list[ImpressionWork] | None:
    """Every resin die replaced that the table lets be stone; None when there is none."""
    bundle, instead = plan.bundle, {name: list(cards) for name, cards in plan.dies.cards_by_impression().items()}
    changed = False
    for unit in plan.dies.units:
        state = bundle.state.impressions.get(unit.impression)
        allowed = any(v.technique is Technique.STONE and v.effect is not Effect.VETOED for v in unit.ranked)
        resin = unit.chosen in (Technique.GEL, Technique.MASKED, Technique.PATTERN_RESIN)
        begun = state is not None and any(tooth == unit.tooth for _, tooth in state.steps_done | state.steps_running)
        if not (allowed and resin) or begun or unit.impression not in instead:
            continue
        facts = derive_unit_facts(bundle.case, bundle.state, bundle.case.unit_at(unit.tooth))
        own = {card.id for card in unit.cards}
        rest = [c for c in instead[unit.impression] if not (c.tooth == unit.tooth and c.id in own)]
        instead[unit.impression] = [*rest, *make_cards(Technique.STONE, facts)]
        changed = True
    if not changed:
        return None
    cards = {name: tuple(listed) for name, listed in instead.items()}
    return _works(bundle.case, bundle.state, bundle, dies=plan.dies, instead=cards)


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
    return make_envelope("timetable", inputs=day.inputs, result=day.timetable, findings=day.findings)
