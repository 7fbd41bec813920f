"""From step cards to tasks: what waits for what, what goes together, what the log has done."""

from dataclasses import replace
from datetime import time, timedelta

import pytest
from tests.bench_days import ORIGIN, bench_day, demo_works, people_bench
from tests.examples import demo_bench, demo_case, demo_events, minutes

from seatwright.case import Break, Corrected, Duration, Skill, StepCard
from seatwright.errors import CaseError
from seatwright.files import bench_to_toml, read_bench
from seatwright.pour.timetable import LAG_ROWS, build_problem, read_facts
from seatwright.pour.timetable._batches import batch_dies, run_duration
from seatwright.pour.timetable._grid import grids_of


@pytest.fixture(scope="module")
def works():
    return demo_works(demo_bench())


@pytest.fixture(scope="module")
def problem(works):
    return build_problem(works, demo_bench(), now=ORIGIN)


def steps(problem) -> list[tuple[str, ...]]:
    return [task.steps for task in problem.tasks if task.impression == "pickup-1"]


def test_every_step_card_stands_in_exactly_one_task(works, problem) -> None:
    for work in works:
        dry_twice = {c.tooth for c in work.die_cards if c.id == "flash-and-dry"}
        cards = {(c.id, c.tooth) for c in (*work.own_cards, *work.die_cards)}
        cards -= {("dry-crown", tooth) for tooth in dry_twice}
        mine = [t for t in problem.tasks if t.impression == work.impression and t.steps != ("take",)]
        for step, tooth in cards:
            holding = [t for t in mine if step in t.steps and tooth in (t.units or (0,))]
            assert len(holding) == 1, (step, tooth)


def test_lag_rows_name_steps_that_the_dies_and_the_pour_know(works) -> None:
    known = {card.id for work in works for card in (*work.own_cards, *work.die_cards)}
    known |= {"die-trial", "die-dry", "die-tack", "die-seal", "lubricate", "stone-pin", "dry-crown"}
    for row in LAG_ROWS:
        assert set(row.first) & known, row.id
        assert set(row.second) <= known, row.id
        assert row.why
        assert row.min_min is not None or row.max_min is not None


def test_alginate_is_taken_out_when_contact_ends_and_an_elastomer_is_not_hurried(problem) -> None:
    contact = [lag for lag in problem.lags if lag.id == "contact-ends"]
    assert {lag.first.split("/")[1] for lag in contact} == {"opposing-1"}
    assert contact[0].max_s == 300


def test_masked_units_are_dried_masked_and_gelled_one_after_the_other(problem) -> None:
    chain = [t for t in problem.tasks if set(t.units) == {33, 42, 43}]
    assert [t.id.split("/")[2] for t in chain] == ["flash-and-dry", "mask-wax", "gel-fill"]
    assert any(lag.id == "dry-then-die" and lag.second == chain[1].id and lag.max_s == 60 for lag in problem.lags)


def test_bar_stops_are_a_task_of_their_own(problem) -> None:
    assert ("bar-stops-bar-front",) in steps(problem)


def test_weighing_and_mixing_leave_the_tray_free(problem) -> None:
    tray = "tray DEMO-1/pickup-1"
    by_step = {task.id.split("/")[2]: task for task in problem.tasks if task.impression == "pickup-1"}
    assert tray not in by_step["weigh"].needs
    assert tray not in by_step["mix"].needs
    assert tray in by_step["pour"].needs


def test_maker_working_time_replaces_the_rule(problem) -> None:
    stocked = [lag for lag in problem.lags if lag.id == "working-time"]
    assert {lag.max_s for lag in stocked} == {360}


def test_planned_impressions_are_taken_in_one_visit_by_the_dentist(problem) -> None:
    taken = [task for task in problem.tasks if task.steps == ("take",)]
    assert len(taken) == 2
    assert {task.skill for task in taken} == {"take impressions"}
    assert sum(lag.id == "one-visit" for lag in problem.lags) == 2


def test_without_a_dentist_at_the_bench_impressions_take_no_hands(works) -> None:
    alone = build_problem(works, people_bench(1), now=ORIGIN)
    assert {task.skill for task in alone.tasks if task.steps == ("take",)} == {""}


def test_logged_work_is_pinned_and_the_rest_starts_from_now(works) -> None:
    case, now = demo_case(), minutes(30)
    outs = {"pickup-1": minutes(5), "opposing-1": minutes(16)}
    there = [replace(work, out_at=outs[work.impression]) for work in works]
    facts = read_facts(case, demo_events(), now=now)
    problem = build_problem(there, demo_bench(), now=now, facts=facts)
    pinned = {task.id.split("/", 1)[1] for task in problem.tasks if task.pin}
    assert pinned == {"pickup-1/rinse", "pickup-1/disinfect", "pickup-1/count-crowns", "opposing-1/rinse"}
    assert problem.task("DEMO-1/pickup-1/disinfect").pin.end_s == -13 * 60
    assert problem.task("DEMO-1/pickup-1/disinfect").pin.start_s == -23 * 60


def card(tooth: int, step: str = "gel-fill", *, batch: str = "gel", attended: bool = True) -> StepCard:
    return StepCard(step, step, "", "i", tooth, Skill.DIES, Duration(1, 2, 4), attended=attended, batch=batch)


def test_batch_of_three_takes_sixty_percent_and_of_two_all() -> None:
    assert run_duration([card(33), card(34), card(35)]).typical_min == pytest.approx(3.6)
    assert run_duration([card(33), card(34)]).typical_min == pytest.approx(4.0)


def test_hardening_of_several_units_passes_at_the_same_time() -> None:
    assert run_duration([card(33, attended=False), card(34, attended=False)]).typical_min == 2.0


def test_batches_hold_four_units_at_most_and_are_even() -> None:
    chains = batch_dies([card(tooth) for tooth in (31, 32, 33, 34, 35, 36, 37)])
    assert [len(chain[0].units) for chain in chains] == [4, 3]


def test_break_is_read_on_the_clock_of_the_bench() -> None:
    bench = demo_bench(**{"break": (Break(start=time(12, 0), end=time(12, 30)),), "time_zone": "Europe/Berlin"})
    problem = build_problem(demo_works(bench), bench, now=ORIGIN)  # 09:00 UTC is 10:00 there in winter
    assert problem.workers[0].breaks_s[0] == (2 * 3600, 2 * 3600 + 1800)


def test_break_of_one_person_leaves_the_others_at_work() -> None:
    bench = demo_bench(**{"break": (Break(start=time(12, 0), end=time(12, 30), person="assistant"),)})
    problem = build_problem(demo_works(bench), bench, now=ORIGIN)
    assert [worker.id for worker in problem.workers if worker.breaks_s] == ["assistant"]


def test_break_across_a_clock_change_counts_real_minutes() -> None:
    zone = {"time_zone": "Europe/Berlin"}
    lunch = (Break(start=time(12, 0), end=time(12, 30)),)
    spring = ORIGIN.replace(month=3, day=29, hour=0)  # the clock goes forward at 01:00 UTC
    bench = demo_bench(**{"break": lunch}, **zone)
    problem = build_problem(demo_works(bench, now=spring), bench, now=spring)
    assert problem.workers[0].breaks_s[0] == (10 * 3600, 10 * 3600 + 1800)
    assert problem.workers[0].breaks_s[1][0] - problem.workers[0].breaks_s[0][0] == 24 * 3600


BAD_BREAKS = {
    "a time that the clock skips": (time(2, 15), time(2, 45), None, "does not exist on 2026-03-29"),
    "somebody unknown": (time(12), time(13), "ghost", "'ghost' is nobody of this bench"),
    "an end before its start": (time(13), time(12), None, "it ends before it begins"),
}


@pytest.mark.parametrize("case", BAD_BREAKS, ids=str)
def test_bad_break_is_refused(case) -> None:
    start, end, person, words = BAD_BREAKS[case]
    bench = demo_bench(**{"break": (Break(start=start, end=end, person=person),), "time_zone": "Europe/Berlin"})
    now = ORIGIN.replace(month=3, day=29, hour=0)
    with pytest.raises(CaseError) as caught:
        build_problem(demo_works(bench, now=now), bench, now=now)
    assert any(words in fault.what for fault in caught.value.faults)


def test_break_in_a_repeated_hour_covers_both() -> None:
    night = ORIGIN.replace(month=10, day=24, hour=23)  # the clock goes back at 01:00 UTC
    bench = demo_bench(**{"break": (Break(start=time(2, 15), end=time(2, 45)),), "time_zone": "Europe/Berlin"})
    problem = build_problem(demo_works(bench, now=night), bench, now=night)
    since, until = problem.workers[0].breaks_s[0]
    assert until - since == 90 * 60


def test_unknown_time_zone_is_refused() -> None:
    bench = demo_bench(time_zone="Nowhere/Land")
    with pytest.raises(CaseError, match="no known time zone"):
        build_problem(demo_works(bench), bench, now=ORIGIN)


def test_announced_impression_is_not_touched_before_it_is_out(works) -> None:
    later = [replace(work, out_at=ORIGIN + timedelta(minutes=20)) for work in works]
    problem = build_problem(later, demo_bench(), now=ORIGIN)
    early = {t.steps for t in problem.tasks if t.not_before_s < 20 * 60}
    assert early == {("weigh",), ("mix",)}


def test_breaks_and_zone_come_back_from_the_bench_file() -> None:
    bench = demo_bench(**{"break": (Break(start=time(12, 0), end=time(12, 30)),), "time_zone": "Europe/Berlin"})
    read, faults = read_bench(bench_to_toml(bench))
    assert faults == ()
    assert read == bench


def test_day_counts_from_the_full_minute_and_nothing_starts_before_now(works) -> None:
    now = minutes(0) + timedelta(seconds=27)
    made = build_problem(works, demo_bench(), now=now)
    assert made.origin == minutes(0)
    assert all(task.not_before_s >= 27 for task in made.tasks)


def test_full_minutes_are_searched_first_where_all_work_is_in_full_minutes() -> None:
    day = bench_day((3,))
    assert grids_of(day) == (60, 30)
    slow = replace(day.tasks[0], duration_s=day.tasks[0].duration_s + 30)
    assert grids_of(replace(day, tasks=(slow, *day.tasks[1:]))) == (30,)


def test_a_step_that_a_correction_takes_back_is_no_fact() -> None:
    case, events = demo_case(), demo_events()
    now = events[-1].at + timedelta(minutes=1)
    rinsed = next(event for event in events if event.what == "rinsed")
    correction = Corrected(seq=len(events) + 1, at=now, by="bench", corrects=rinsed.seq, reason="by mistake")
    before = {(fact.impression, fact.step): fact for fact in read_facts(case, events, now=now)}
    after = {(fact.impression, fact.step): fact for fact in read_facts(case, [*events, correction], now=now)}
    assert before.keys() - after.keys() == {(rinsed.impression, "rinse")}
