"""When the day slips: facts stand, what starts within five minutes is not moved, changes are few and explained."""

from dataclasses import replace
from datetime import UTC, timedelta

import pytest
from tests.bench_days import bench_day, facts_as_planned

from seatwright.pour.timetable import (
    Fact,
    PlanOptions,
    check_timetable,
    learn_paces,
    make_timetable,
    replan,
)

MINUTE = timedelta(minutes=1)
QUICK = PlanOptions(limit_s=2)


@pytest.fixture(scope="module")
def day():
    return make_timetable(bench_day((7, 6), gap_min=20), options=PlanOptions(limit_s=60))


def test_day_that_goes_as_planned_keeps_its_timetable(day) -> None:
    problem, timetable = day
    now = timetable.now + 30 * MINUTE
    again, new = replan(problem, timetable, facts_as_planned(timetable, now=now), now=now, options=QUICK)
    assert check_timetable(again, new) == ()
    assert new.goal("change").value == 0
    assert new.changes == ()
    assert {r.id: (r.start, r.who) for r in new.tasks} == {r.id: (r.start, r.who) for r in timetable.tasks}


@pytest.mark.parametrize("minute", [12, 25, 40, 70])
def test_late_step_gives_a_sound_timetable_that_keeps_what_is_close(day, minute) -> None:
    problem, timetable = day
    now = timetable.now + minute * MINUTE
    facts = facts_as_planned(timetable, now=now, late_min=3)
    again, new = replan(problem, timetable, facts, now=now, options=QUICK)
    assert check_timetable(again, new) == ()
    for row in timetable.tasks:
        if now <= row.start <= now + 5 * MINUTE and again.task(row.id).pin:
            assert (new.task(row.id).start, new.task(row.id).who) == (row.start, row.who)


def test_close_task_is_let_go_only_when_it_cannot_be_kept(day) -> None:
    problem, timetable = day
    now = timetable.now + 25 * MINUTE
    facts = facts_as_planned(timetable, now=now, late_min=3)
    again, _ = replan(problem, timetable, facts, now=now, options=QUICK)
    close = [r for r in timetable.tasks if now <= r.start <= now + 5 * MINUTE]
    assert close
    for row in close:
        if again.task(row.id).pin:
            continue
        task = again.task(row.id)
        waits = [lag.first for lag in again.lags if lag.second == task.id]
        busy = [r.id for r in timetable.tasks if row.who and r.who == row.who and r.start < row.start]
        things = [r.id for r in timetable.tasks if set(r.equipment) & set(row.equipment) and r.start < row.start]
        late = [
            name
            for name in (*waits, *busy, *things)
            if again.task(name).pin is None or again.task(name).pin.end_s > again.offset_s(row.start)
        ]
        assert late, row.id


def test_every_change_is_one_line_with_a_reason(day) -> None:
    problem, timetable = day
    now = timetable.now + 40 * MINUTE
    facts = facts_as_planned(timetable, now=now, late_min=6)
    _, new = replan(problem, timetable, facts, now=now, options=PlanOptions(limit_s=60, zone=UTC))
    moved = [
        r.id for r in timetable.tasks if abs(new.task(r.id).start - r.start) >= MINUTE or new.task(r.id).who != r.who
    ]
    assert moved
    assert len(new.changes) == len([m for m in moved if not new.task(m).is_fixed])
    assert all("\n" not in line and "; " in line for line in new.changes)


def test_step_that_runs_over_is_expected_to_end_soon_and_pushes_what_follows(day) -> None:
    problem, timetable = day
    rinse = min((r for r in timetable.tasks if r.steps == ("rinse",)), key=lambda r: r.start)
    now = rinse.start + 10 * MINUTE
    facts = (Fact(rinse.case, rinse.impression, "rinse", 0, rinse.start, None, rinse.who),)
    again, new = replan(problem, timetable, facts, now=now, options=QUICK)
    assert check_timetable(again, new) == ()
    assert new.task(rinse.id).end == now + MINUTE
    contact = rinse.id.replace("rinse", "disinfect")
    assert new.task(contact).start >= now + MINUTE


def test_poured_impression_needs_no_logged_step_before_it(day) -> None:
    problem, timetable = day
    pour = timetable.task("C0/opposing-1/pour")
    facts = (Fact("C0", "opposing-1", "pour", 0, pour.start, pour.end, pour.who),)
    again, new = replan(problem, timetable, facts, now=pour.end, options=QUICK)
    left = {r.steps for r in new.tasks if (r.case, r.impression) == ("C0", "opposing-1") and not r.is_fixed}
    assert left == {("separate",)}
    assert check_timetable(again, new) == ()


def test_slow_bench_is_learned_from_and_planned_slower(day) -> None:
    problem, timetable = day
    now = timetable.now + 40 * MINUTE
    slow = tuple(
        Fact("C0", "pickup-1", step, 0, timetable.now + start * MINUTE, timetable.now + end * MINUTE, "p1")
        for step, start, end in (("rinse", 0, 4), ("weigh", 4, 10))
    )
    again, _ = replan(problem, timetable, slow, now=now, options=QUICK)
    paces = {pace.step: pace for pace in learn_paces([again])}
    assert paces["weigh"].factor == pytest.approx((6 / 2) ** (1 / 5))
    assert paces["weigh"].n_measured == 1
    other = again.task("C1/pickup-1/weigh")
    assert other.duration_s == 150  # 2 min x 1.25, on the half-minute grid
    assert other.spread.typical_min == pytest.approx(2 * paces["weigh"].factor)


def test_no_time_to_search_still_gives_a_sound_timetable(day) -> None:
    problem, timetable = day
    now = timetable.now + 40 * MINUTE
    facts = facts_as_planned(timetable, now=now, late_min=3)
    again, new = replan(problem, timetable, facts, now=now, options=PlanOptions(limit_s=1e-6))
    assert check_timetable(again, new) == ()
    assert {r.id for r in new.tasks} == {r.id for r in timetable.tasks}


def test_overdue_step_with_a_longest_time_running_goes_before_what_is_close(day) -> None:
    problem, timetable = day
    mask = next(row for row in timetable.tasks if row.id.startswith("C1/pickup-1/mask-wax"))
    now = mask.start + MINUTE
    facts = facts_as_planned(timetable, now=now, late_min=3)
    again, new = replan(problem, timetable, facts, now=now, options=QUICK)
    assert new.oversteps == ()
    assert new.task(mask.id).start == now
    assert check_timetable(again, new) == ()


def test_step_begun_before_the_one_that_should_come_first_is_not_argued_with(day) -> None:
    problem, timetable = day
    pour = timetable.task("C0/pickup-1/pour")
    now = timetable.now + 10 * MINUTE
    facts = (
        *facts_as_planned(timetable, now=now),
        Fact("C0", "pickup-1", "box", 0, now - MINUTE, None, pour.who),
    )
    again, new = replan(problem, timetable, facts, now=now, options=QUICK)
    assert check_timetable(again, new) == ()
    assert new.task("C0/pickup-1/box").is_fixed
    assert not new.task("C0/pickup-1/mix").is_fixed


def test_touch_a_few_seconds_late_moves_nothing(day) -> None:
    problem, timetable = day
    first = min(row.start for row in timetable.tasks)
    now = first + timedelta(seconds=20)
    again, new = replan(problem, timetable, (), now=now, options=QUICK)
    assert check_timetable(again, new) == ()
    close = [row for row in timetable.tasks if row.start <= now + 5 * MINUTE]
    assert len(close) > 2
    for row in close:
        assert timedelta(0) <= new.task(row.id).start - row.start < MINUTE
        assert new.task(row.id).who == row.who
    assert new.goal("late").value == timetable.goal("late").value


def test_what_is_close_moves_only_when_somebody_asks_for_it(day) -> None:
    problem, timetable = day
    now = timetable.now + 25 * MINUTE
    facts = facts_as_planned(timetable, now=now, late_min=3)
    _, kept = replan(problem, timetable, facts, now=now, options=QUICK)
    freely, moved = replan(problem, timetable, facts, now=now, options=replace(QUICK, may_move_close=True))
    assert check_timetable(freely, moved) == ()
    assert not any(task.pin and not task.pin.is_fact for task in freely.tasks)
    assert moved.goal("late").value <= kept.goal("late").value


@pytest.mark.parametrize("late_s", [5, 29, 55])
def test_slip_of_seconds_costs_no_window_and_unsearched_no_more_than_itself(day, late_s) -> None:
    """Which hands change depends on the day, of which several are equally good: the least change is the search's."""
    problem, timetable = day
    first = min(timetable.tasks, key=lambda row: row.start)
    now = first.start + timedelta(seconds=late_s)
    facts = tuple(Fact(first.case, first.impression, step, 0, now, None, first.who) for step in first.steps)
    again, hasty = replan(problem, timetable, facts, now=now, options=PlanOptions(limit_s=1e-6))
    patient, searched = replan(problem, timetable, facts, now=now, options=QUICK)
    assert check_timetable(again, hasty) == check_timetable(patient, searched) == ()
    for goal in ("late", "reserve", "error"):
        assert searched.goal(goal).value <= timetable.goal(goal).value
    assert len(timetable.late) == 0
    assert all(60 * row.by_min <= late_s for row in hasty.late)
    if not hasty.late:
        assert searched.goal("change").value <= hasty.goal("change").value
