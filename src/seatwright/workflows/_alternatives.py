"""What else could be done about a day that does not fit: keep longer, another material, fewer resin dies at once."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from seatwright.case import Bench, Impression, ImpressionMaterial, Storage, StorageSpell
from seatwright.dies import Effect, Technique, derive_unit_facts, make_cards
from seatwright.pour.timetable import Fact, ImpressionWork, Problem, build_problem
from seatwright.workflows._bench_works import works_anew, works_of_plan
from seatwright.workflows.plan import Plan
from seatwright.workflows.ports import CaseBundle

__all__ = ["alternatives_of"]


def alternatives_of(plans: Sequence[Plan], bench: Bench, *, facts: Sequence[Fact], now: datetime) -> dict[str, Problem]:
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
            changes[name] = [works if works is not None else works_of_plan(plan) for works, plan in parts]
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
    return works_anew(bundle.case, replace(bundle.state, impressions=states), bundle, dies=plan.dies)


def _in_silicone(plan: Plan) -> list[ImpressionWork] | None:
    bundle = plan.bundle
    impressions = tuple(_as_silicone(bundle, impression) for impression in bundle.case.impression)
    if impressions == bundle.case.impression:
        return None
    case = bundle.case.model_copy(update={"impression": impressions})
    return works_anew(case, bundle.state, bundle, dies=plan.dies)


def _as_silicone(bundle: CaseBundle, impression: Impression) -> Impression:
    state = bundle.state.impressions.get(impression.id)
    if not impression.material.is_hydrocolloid or (state is not None and state.out_at is not None):
        return impression
    maker = type(impression.maker)()  # the alginate's own figures say nothing about another material
    return impression.model_copy(update={"material": ImpressionMaterial.ADDITION_SILICONE, "maker": maker})


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
    return works_anew(bundle.case, bundle.state, bundle, dies=plan.dies, instead=cards)
