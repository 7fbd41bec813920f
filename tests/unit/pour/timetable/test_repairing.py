"""The quick proposal: the old order pushed later, sound on its own where it can be."""

from datetime import timedelta

import pytest
from tests.bench_days import bench_day, facts_as_planned

from seatwright.pour.timetable import PlanOptions, check_timetable, make_timetable
from seatwright.pour.timetable._assemble import assemble_timetable
from seatwright.pour.timetable._freeze import freeze_close
from seatwright.pour.timetable._model import Keep
from seatwright.pour.timetable._pins import pin_facts
from seatwright.pour.timetable._pushed import pushed_solution
from seatwright.pour.timetable._repair import repair_places


@pytest.fixture(scope="module")
def day():
    return make_timetable(bench_day((7, 6), gap_min=20), options=PlanOptions(limit_s=60))


def proposal(day, minute: float, late_min: float):
    problem, timetable = day
    now = timetable.now + timedelta(minutes=minute)
    facts = facts_as_planned(timetable, now=now, late_min=late_min)
    frozen = freeze_close(pin_facts(problem, facts, now=now), timetable, now=now)
    keep = {row.id: Keep(frozen.offset_s(row.start), row.who, row.equipment) for row in timetable.tasks}
    return frozen, keep, repair_places(frozen, keep), now


def test_day_that_goes_as_planned_is_left_as_it_is(day) -> None:
    _, keep, places, _ = proposal(day, 30, 0)
    assert {n: (p.start_s, p.who) for n, p in places.items()} == {n: (p.start_s, p.who) for n, p in keep.items()}


@pytest.mark.parametrize("minute", [12, 25, 40, 55, 70, 100])
def test_proposal_keeps_every_rule_or_states_what_it_oversteps(day, minute) -> None:
    frozen, keep, places, now = proposal(day, minute, 3)
    solution = pushed_solution(frozen, places)
    assert solution is not None
    timetable = assemble_timetable(frozen, solution, now=now, keep=keep)
    assert check_timetable(frozen, timetable) == ()
    assert not timetable.proven


def test_nothing_starts_before_its_old_time_unless_a_longest_time_runs(day) -> None:
    frozen, keep, places, _ = proposal(day, 40, 3)
    followers = {lag.second for lag in frozen.lags if lag.max_s is not None}
    for task in frozen.tasks:
        if task.pin is None and task.id not in followers:
            assert places[task.id].start_s >= keep[task.id].start_s


def test_mix_and_pour_stay_together_when_pushed(day) -> None:
    frozen, _, places, _ = proposal(day, 55, 6)
    for lag in frozen.lags:
        if lag.id == "working-time" and not frozen.task(lag.first).pin:
            end = places[lag.second].start_s + frozen.task(lag.second).duration_s
            assert end - places[lag.first].start_s <= lag.max_s
