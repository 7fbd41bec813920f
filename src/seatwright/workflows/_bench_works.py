"""What each impression brings to the bench, and what holds it back."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from seatwright.case import Case, CaseState, StepCard
from seatwright.dies import DieResult
from seatwright.findings import Finding, Severity
from seatwright.pour import ImpressionPhase, PourResult, assess_pour
from seatwright.pour.timetable import ImpressionWork, bring_work
from seatwright.workflows.plan import Plan
from seatwright.workflows.ports import CaseBundle

__all__ = ["cards_of", "works_anew", "works_of", "works_of_plan"]

_HOLDS = ("crown-missing", "crown-left-on-tooth", "crown-loose")
"""Findings of the pour step that forbid to go on with an impression, when they are stops."""


def works_of_plan(plan: Plan) -> list[ImpressionWork]:
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


def works_anew(
    case: Case,
    state: CaseState,
    bundle: CaseBundle,
    *,
    dies: DieResult,
    instead: Mapping[str, tuple[StepCard, ...]] | None = None,
) -> list[ImpressionWork]:
    """Return what the case would bring were it, its state or its die cards other than they are."""
    die_cards = instead or dies.cards_by_impression()
    pour = assess_pour(case, state, bundle.bench, die_cards=die_cards, now=bundle.now)
    return works_of(replace(bundle, case=case), pour, die_cards)[0]


def cards_of(works: Sequence[ImpressionWork]) -> dict[tuple[str, str, str, int], StepCard]:
    """Return every step card by case, impression, step and unit."""
    return {
        (work.case, work.impression, card.id, card.tooth): card
        for work in works
        for card in (*work.own_cards, *work.die_cards)
    }
