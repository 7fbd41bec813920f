"""Invented bench days that tests and benchmarks share: several cases, each a pick-up and an opposing alginate.

Import as ``from tests.bench_days import bench_day``.
"""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from tests.examples import OPPOSING, PICK_UP, demo_bench, demo_case, minutes

from seatwright.case import Bench, Person, Skill, fold_events
from seatwright.dies import choose_dies
from seatwright.pour import assess_pour
from seatwright.pour.timetable import Fact, ImpressionWork, Problem, Timetable, bring_work, build_problem

ORIGIN = minutes(0)
TEETH = (37, 35, 44, 33, 42, 43, 45)


def people_bench(n_people: int) -> Bench:
    """Return the example bench with so many people who may do everything."""
    people = tuple(Person(id=f"p{i + 1}", role="technician", skills=tuple(Skill)) for i in range(n_people))
    return demo_bench(person=people)


def demo_works(bench: Bench, *, now: datetime = ORIGIN) -> tuple[ImpressionWork, ImpressionWork]:
    """Return what the example case's two impressions bring, nothing taken yet."""
    case = demo_case()
    state = fold_events((), case, now=now)
    cards = choose_dies(case, state).cards_by_impression()
    pour = assess_pour(case, state, bench, die_cards=cards, now=now)
    pick, opposing = (
        bring_work(case, case.impression_by_id(name), bench, clock=pour.clock(name), die_cards=cards.get(name, ()))
        for name in (PICK_UP, OPPOSING)
    )
    return pick, opposing


def bench_day(
    units: tuple[int, ...] = (7, 7, 6), *, gap_min: float = 8.0, n_people: int = 2, seed: int | None = None
) -> Problem:
    """Return one case for each entry of `units`, so many units in its pick-up, every `gap_min` minutes; one mixer.

    With a `seed` impressions leave the mouth up to two minutes later, as a log has it: to the second.
    """
    rng = np.random.default_rng(seed)
    bench = people_bench(n_people)
    pick, opposing = demo_works(bench)
    works = []
    for index, n_units in enumerate(units):
        teeth = TEETH[:n_units]
        out = ORIGIN + timedelta(minutes=gap_min * index - 2, seconds=0 if seed is None else int(rng.integers(120)))
        works.append(
            replace(
                pick,
                case=f"C{index}",
                out_at=out,
                die_cards=tuple(c for c in pick.die_cards if c.tooth in teeth and not c.id.startswith("bar-")),
                own_cards=tuple(c for c in pick.own_cards if c.tooth == 0 or c.tooth in teeth),
            )
        )
        opposing_s = 360 if seed is None else int(rng.integers(300, 420))
        works.append(replace(opposing, case=f"C{index}", out_at=out + timedelta(seconds=opposing_s)))
    return build_problem(works, bench, now=ORIGIN)


def facts_as_planned(timetable: Timetable, *, now: datetime, late_min: float = 0.0) -> tuple[Fact, ...]:
    """Return a log in which all went as planned, but nothing was begun in the last `late_min` minutes."""
    facts = []
    for row in timetable.tasks:
        for step in row.steps:
            for unit in row.units or (0,):
                if row.end <= now:
                    facts.append(Fact(row.case, row.impression, step, unit, row.start, row.end, row.who))
                elif row.start <= now - timedelta(minutes=late_min):
                    facts.append(Fact(row.case, row.impression, step, unit, row.start, None, row.who))
    return tuple(facts)
