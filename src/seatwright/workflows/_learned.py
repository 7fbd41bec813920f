"""Days that are over, to learn durations from: finished impressions of today's cases, and other cases' logs."""

from collections.abc import Sequence
from datetime import datetime

from seatwright.case import Bench
from seatwright.dies import choose_dies
from seatwright.pour import assess_pour
from seatwright.pour.timetable import Problem, read_facts, recall_problem
from seatwright.workflows._bench_works import works_of
from seatwright.workflows.plan import Plan
from seatwright.workflows.ports import CaseBundle, CaseSource, Clock

__all__ = ["past_days", "past_of_cases"]


def past_days(
    plans: Sequence[Plan], bench: Bench, *, now: datetime, today: frozenset[tuple[str, str]]
) -> list[Problem]:
    """Return what was done on impressions of these cases that are no part of today's plan.

    Parameters
    ----------
    plans : sequence of Plan
    bench : Bench
    now : datetime
    today : set of (case, impression)
        Left out, since today's plan knows them.
    """
    found = []
    for plan in plans:
        code = plan.bundle.case.code
        left_out = frozenset(name for case, name in today if case == code)
        works, _ = works_of(plan.bundle, plan.pour, plan.dies.cards_by_impression(), left_out=left_out)
        found.append(
            recall_problem(works, bench, now=now, facts=read_facts(plan.bundle.case, plan.bundle.events, now=now))
        )
    return found


def past_of_cases(sources: Sequence[CaseSource], *, now: datetime | None, clock: Clock) -> list[Problem]:
    """Return what the logs of other cases say was done; each is looked at as at its own moment."""
    return [_past_of(source.load(now=now, clock=clock)) for source in sources]


def _past_of(bundle: CaseBundle) -> Problem:
    cards = choose_dies(bundle.case, bundle.state).cards_by_impression()
    pour = assess_pour(bundle.case, bundle.state, bundle.bench, die_cards=cards, now=bundle.now)
    works, _ = works_of(bundle, pour, cards, left_out=frozenset())
    facts = read_facts(bundle.case, bundle.events, now=bundle.now)
    return recall_problem(works, bundle.bench, now=bundle.now, facts=facts)
