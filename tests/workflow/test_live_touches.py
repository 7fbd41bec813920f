"""What a wet glove does at the live day: touches not meant, counts that are not good, storage, a window about to close."""

from dataclasses import dataclass, field, replace
from datetime import UTC, timedelta

import pytest
from rich.console import Console
from tests.examples import DEMO_NOW, OPPOSING, PICK_UP, demo_bench, demo_case, demo_events
from tests.workflow.fakes import MemorySource, StoppedClock

from seatwright.case import CrownsCounted, Event, StepFinished, StepStarted, Storage, StorageChanged
from seatwright.cli._live_screen import render_view
from seatwright.errors import ConflictError, InputError
from seatwright.pour import Band, ImpressionPhase
from seatwright.pour.timetable import Late, check_timetable
from seatwright.workflows._live_rows import say_headline
from seatwright.workflows.take_over import offer_steps, running_with, take_over
from seatwright.workflows.timetable import PlanSettings, plan_bench_day
from seatwright.workflows.today import LiveDay

SECOND = timedelta(seconds=1)
SETTINGS = PlanSettings(limit_s=60, n_runs=0, remedies_s=0)


@dataclass
class MemoryLog:
    events: list[Event] = field(default_factory=list)

    def append(self, *events: Event) -> None:
        self.events.extend(events)


def planned(events=None):
    source = MemorySource(
        demo_case(scan=(), region=(), as_of=DEMO_NOW), demo_bench(), tuple(demo_events() if events is None else events)
    )
    return plan_bench_day([source], now=DEMO_NOW, clock=StoppedClock(DEMO_NOW), settings=SETTINGS)


@pytest.fixture(scope="module")
def morning():
    return planned()


@pytest.fixture
def live(morning):
    log = MemoryLog()
    return LiveDay(morning, {"DEMO-1": log}), log


def row_of(day: LiveDay, who: str, now):
    return next(row for row in day.view(now=now).people if row.who == who)


def count_keys(day: LiveDay, tooth: int) -> str:
    return next(row.key for row in day.count.rows if row.tooth == tooth)


def test_second_touch_within_a_moment_is_not_counted(live) -> None:
    day, log = live
    key = row_of(day, "dentist", DEMO_NOW).key
    day.press(key, now=DEMO_NOW)
    n_logged = len(log.events)
    day.press(key, now=DEMO_NOW + 0.3 * SECOND)
    assert len(log.events) == n_logged
    assert "touched twice" in day.message


@pytest.mark.parametrize("by", ["account-7", "technician"])
def test_a_touch_is_by_whoever_is_signed_in_and_moves_the_hands_of_its_row(live, by: str) -> None:
    day, log = live
    row = row_of(day, "dentist", DEMO_NOW)
    day.press(row.key, now=DEMO_NOW, by=by)
    assert {event.by for event in log.events} == {by}
    after = row_of(day, "dentist", DEMO_NOW + SECOND)
    assert after.now is not None
    assert after.now.id == row.next.id
    assert row_of(day, "technician", DEMO_NOW + SECOND).now is None
    assert check_timetable(day.problem, day.timetable) == ()
    waiting = next(clock for clock in day.view(now=DEMO_NOW + SECOND).clocks if clock.impression == PICK_UP)
    day.keep("DEMO-1", PICK_UP, waiting.storage, now=DEMO_NOW + SECOND, by=by)
    assert log.events[-1].by == by


@pytest.mark.parametrize("is_begun", [True, False])
def test_a_colleague_takes_a_step_over_and_the_log_says_who_what_and_when(live, is_begun: bool) -> None:
    day, log = live
    now, giver, taker = DEMO_NOW, "technician", "dentist"
    if is_begun:
        day.press(row_of(day, giver, now).key, now=now)
        now += timedelta(minutes=2)
    given = row_of(day, giver, now)
    step = given.now or given.next
    assert given.now is None or is_begun
    able = {w.id: replace(w, skills=w.skills | {t.skill for t in day.problem.tasks}) for w in day.problem.workers}
    with pytest.raises(ConflictError, match="other skills"):
        take_over(day, "no such step", taker, now=now)
    day.problem = replace(day.problem, workers=(*(w for w in day.problem.workers if w.id != taker), able[taker]))
    assert step.id in {(row.now or row.next).id for row in offer_steps(day, taker, now=now)}
    n_before = len(log.events)
    take_over(day, step.id, taker, now=now)
    told, *begun = log.events[n_before:]
    assert (told.what, told.by, told.at) == ("decided", taker, now)
    assert told.decision.startswith(f"{taker} takes over from {giver}: {step.what}")
    assert {(event.what, event.by) for event in begun} == {("step_started", taker)}
    running = row_of(day, taker, now + SECOND)
    assert running.now.id == step.id
    assert running.running_since == (DEMO_NOW if is_begun else now)
    left = row_of(day, giver, now + SECOND)
    assert left.now is None or left.now.id != step.id
    with pytest.raises(ConflictError, match="is at a step"):
        take_over(day, step.id, taker, now=now + SECOND)
    slip = day.view(now=now + SECOND).slips[0]
    day.take_back("DEMO-1", slip.seq, now=now + SECOND, by=taker)
    assert row_of(day, taker, now + 2 * SECOND).now is None
    assert [event.what for event in log.events[-len(begun) - 1 :]] == ["corrected"] * (len(begun) + 1)


def test_all_that_runs_on_an_impression_is_taken_over_in_one_decision_or_nothing_is(morning) -> None:
    now, giver, taker = DEMO_NOW, "technician", "dentist"
    rows = [row for row in morning.timetable.tasks if row.who and row.impression == PICK_UP and row.start >= now][:2]
    assert len(rows) == 2
    seq = len(demo_events())
    begun = [
        StepStarted(seq=seq + 1 + k, at=now, by=giver, impression=PICK_UP, step=row.steps[0], units=row.units)
        for k, row in enumerate(rows)
    ]
    log = MemoryLog()
    day = LiveDay(planned([*demo_events(), *begun]), {"DEMO-1": log})
    now += timedelta(minutes=1)
    given = row_of(day, giver, now)
    steps = running_with(given)
    assert {step.id for step in steps} == {given.now.id, *(step.id for step in given.beside)}
    assert len(steps) == 2
    learned = {t.id: t.skill for t in day.problem.tasks}

    def teach(*skills):
        workers = [w if w.id != taker else replace(w, skills=frozenset(skills)) for w in day.problem.workers]
        day.problem = replace(day.problem, workers=tuple(workers))

    if learned[steps[0].id] != learned[steps[1].id]:
        teach(learned[steps[0].id])
        with pytest.raises(ConflictError, match="nothing is taken over"):
            take_over(day, given.now.id, taker, now=now, every=True)
        assert log.events == []
    teach(*learned.values())
    take_over(day, given.now.id, taker, now=now, every=True)
    told, *taken = log.events
    assert (told.what, told.by, told.at) == ("decided", taker, now)
    assert all(step.what in told.decision for step in steps)
    assert {event.step for event in taken} == {name for step in steps for name in step.steps}
    assert {step.id for step in running_with(row_of(day, taker, now + SECOND))} == {step.id for step in steps}
    assert row_of(day, giver, now + SECOND).now is None
    slip = day.view(now=now + SECOND).slips[0]
    assert len(slip.events) == len(log.events)


def test_step_that_would_be_done_in_no_time_is_asked_about_and_logged_when_touched_again(live) -> None:
    day, log = live
    key = row_of(day, "dentist", DEMO_NOW).key
    day.press(key, now=DEMO_NOW)
    day.press(key, now=DEMO_NOW + 5 * SECOND)
    assert not any(isinstance(event, StepFinished) for event in log.events)
    assert "its shortest is" in day.message
    day.press(key, now=DEMO_NOW + 8 * SECOND)
    assert any(isinstance(event, StepFinished) for event in log.events)


def test_step_whose_time_has_not_come_is_asked_about(live) -> None:
    day, log = live
    later = 10 * timedelta(minutes=1)
    tasks = (replace(row, start=row.start + later, end=row.end + later) for row in day.timetable.tasks)
    day.timetable = replace(day.timetable, tasks=tuple(tasks))
    waiting = row_of(day, "dentist", DEMO_NOW)
    day.press(waiting.key, now=DEMO_NOW)
    assert log.events == []
    assert "Touch it again to log it all the same" in day.message
    day.press(waiting.key, now=DEMO_NOW + 50 * SECOND)  # the question is forgotten by then
    assert log.events == []
    day.press(waiting.key, now=DEMO_NOW + 52 * SECOND)
    assert any(isinstance(event, StepStarted) for event in log.events)


def test_missing_crown_is_logged_holds_its_impression_and_a_good_count_frees_it(live) -> None:
    day, log = live
    day.press("-", now=DEMO_NOW)
    for _ in range(4):
        day.press(count_keys(day, 35), now=DEMO_NOW + SECOND)
    day.press("*", now=DEMO_NOW + SECOND)
    day.press("\r", now=DEMO_NOW + 2 * SECOND)
    event = log.events[-1]
    assert isinstance(event, CrownsCounted)
    assert 35 in event.seated
    assert 35 not in event.in_tray
    view = day.view(now=DEMO_NOW + 2 * SECOND)
    assert view.holds[0].startswith("Crown missing: 35")
    assert "Airway first" in view.holds[0]
    assert view.headline.startswith(f"{PICK_UP} is held.")
    assert {row.impression for row in day.timetable.tasks} == {OPPOSING}
    assert check_timetable(day.problem, day.timetable) == ()
    day.press("-", now=DEMO_NOW + 60 * SECOND)
    day.press("*", now=DEMO_NOW + 61 * SECOND)
    day.press("0", now=DEMO_NOW + 61 * SECOND)
    assert day.view(now=DEMO_NOW + 61 * SECOND).holds == ()
    assert {row.impression for row in day.timetable.tasks} == {OPPOSING, PICK_UP}
    assert check_timetable(day.problem, day.timetable) == ()


def test_every_state_of_a_crown_can_be_entered(live) -> None:
    day, log = live
    day.press("-", now=DEMO_NOW)
    for times, tooth in enumerate((37, 35, 33, 42, 43)):
        for _ in range(times + 1):
            day.press(count_keys(day, tooth), now=DEMO_NOW)
    day.press("*", now=DEMO_NOW + SECOND)
    day.press("0", now=DEMO_NOW + SECOND)
    event = log.events[-1]
    assert (event.loose, event.left_on_tooth) == ((35,), (33,))
    assert {42, 43, 33} & set(event.in_tray) == set()
    assert 43 not in event.seated
    assert {37, 35} <= set(event.in_tray)


def test_no_crown_counts_as_firm_before_somebody_said_so_of_it(live) -> None:
    day, log = live
    day.press("-", now=DEMO_NOW)
    day.press(count_keys(day, 35), now=DEMO_NOW)
    day.press("0", now=DEMO_NOW + SECOND)
    assert log.events == []
    assert day.message.startswith("Not judged yet: 37, 34, ")
    assert "35" not in day.message
    with pytest.raises(InputError, match="not every crown is judged") as caught:
        day.log_count(day.count, now=DEMO_NOW + SECOND)
    assert len(caught.value.faults) == len(day.count.rows) - 1


def test_ending_the_step_asks_where_each_crown_is_and_logs_it_by_those_hands() -> None:
    happened = [event for event in demo_events() if not isinstance(event, CrownsCounted)]
    numbered = [event.model_copy(update={"seq": k}) for k, event in enumerate(happened, start=1)]
    log = MemoryLog()
    day = LiveDay(planned(numbered), {"DEMO-1": log})
    waiting = next(r for r in day.view(now=DEMO_NOW).people if r.next and r.next.steps == ("count-crowns",))
    day.press(waiting.key, now=DEMO_NOW)
    now = DEMO_NOW + timedelta(minutes=2)
    row = row_of(day, waiting.who, now)
    assert row.touch == "count: where is each crown?"
    day.press(row.key, now=now)
    assert [event.what for event in log.events] == ["step_started"]
    assert day.count.open_teeth == demo_case().impression_by_id(PICK_UP).lifts
    day.press("*", now=now)
    day.press("0", now=now)
    assert isinstance(log.events[-1], CrownsCounted)
    assert log.events[-1].by == waiting.who
    assert not any(row.counts for row in day.view(now=now).people)


def test_count_that_is_left_logs_nothing(live) -> None:
    day, log = live
    day.press("-", now=DEMO_NOW)
    day.press("?", now=DEMO_NOW)
    assert day.press("q", now=DEMO_NOW)
    assert (log.events, day.count) == ([], None)


def test_day_with_nothing_but_a_held_impression_says_what_to_do_first() -> None:
    lifted = demo_case().impression_by_id(PICK_UP).lifts
    events = [e for e in demo_events() if not isinstance(e, CrownsCounted) and getattr(e, "impression", "") != OPPOSING]
    count = CrownsCounted(
        seq=1, at=DEMO_NOW, by="a", impression=PICK_UP, seated=lifted, in_tray=tuple(t for t in lifted if t != 35)
    )
    numbered = [e.model_copy(update={"seq": i}) for i, e in enumerate((*events, count), start=1)]
    only = demo_case(scan=(), region=(), as_of=DEMO_NOW, impression=demo_case().impression[:1])
    source = MemorySource(only, demo_bench(), tuple(numbered))
    with pytest.raises(InputError, match="Crown missing: 35") as caught:
        plan_bench_day([source], now=DEMO_NOW, clock=StoppedClock(DEMO_NOW), settings=SETTINGS)
    assert "Airway first" in caught.value.hint


def test_elastomer_never_goes_into_the_humid_box(live) -> None:
    day, log = live
    key = next(row.key for row in day.view(now=DEMO_NOW).clocks if row.impression == PICK_UP)
    day.press(key.upper(), now=DEMO_NOW)
    assert log.events == []
    assert "kept dry" in day.message
    day.press(key, now=DEMO_NOW + SECOND)
    assert next(e.storage.value for e in log.events if isinstance(e, StorageChanged)) in {"dry", "open_air"}


@pytest.mark.parametrize(("width", "height"), [(30, 10), (44, 16), (80, 24), (120, 40), (200, 60)])
def test_screen_fits_the_terminal_and_shows_every_person_and_the_keys(live, width, height) -> None:
    day, _ = live
    day.press("0", now=DEMO_NOW + timedelta(minutes=12))
    console = Console(width=width, height=height, record=True)
    with console.capture() as shown:
        console.print(
            render_view(day.view(now=DEMO_NOW + timedelta(minutes=12)), day.day.zone, width=width, height=height)
        )
    lines = shown.get().rstrip("\n").split("\n")
    assert all(len(line) <= width for line in lines)
    if height >= 16:
        assert len(lines) <= height
        assert lines[-1].rstrip().endswith(("q", "q leave"))
    assert sum(line.startswith(("1 ", "2 ", "3 ", "4 ")) for line in lines) >= 4


def test_a_wrong_touch_is_taken_back_by_a_correction_and_nothing_is_deleted(live) -> None:
    day, log = live
    before = row_of(day, "dentist", DEMO_NOW)
    day.press(before.key, now=DEMO_NOW)
    touched = list(log.events)
    assert row_of(day, "dentist", DEMO_NOW).now is not None
    day.press("u", now=DEMO_NOW + 4 * SECOND)
    assert log.events[: len(touched)] == touched
    assert {event.corrects for event in log.events[len(touched) :]} == {event.seq for event in touched}
    after = row_of(day, "dentist", DEMO_NOW + 4 * SECOND)
    assert after.now is None
    assert after.next.steps == before.next.steps
    day.press("u", now=DEMO_NOW + 5 * SECOND)
    assert "No touch of the last five minutes" in day.message
    assert "Taken back" not in day.message


def test_touches_go_back_one_by_one_the_latest_first(live) -> None:
    day, _ = live
    day.press(row_of(day, "dentist", DEMO_NOW).key, now=DEMO_NOW)
    later = DEMO_NOW + 60 * SECOND
    waiting = next(row for row in day.view(now=later).clocks if row.phase is ImpressionPhase.WAITING)
    day.keep(waiting.case, waiting.impression, Storage.DAMP_WRAP, now=later)
    first, second = (slip.said for slip in day.view(now=later).slips)
    assert "is kept" in first
    assert "began" in second
    day.press("u", now=later + SECOND)
    assert [slip.said for slip in day.view(now=later + SECOND).slips] == [second]


def test_an_old_touch_is_taken_back_no_longer(live) -> None:
    day, log = live
    day.press(row_of(day, "dentist", DEMO_NOW).key, now=DEMO_NOW)
    seq = log.events[0].seq
    late = DEMO_NOW + 301 * SECOND
    assert day.view(now=late).slips == ()
    with pytest.raises(ConflictError, match="no longer"):
        day.take_back("DEMO-1", seq, now=late)


def test_a_window_that_will_be_missed_is_not_called_past(morning) -> None:
    late = Late("C", "opposing-1", DEMO_NOW, DEMO_NOW + timedelta(minutes=2), 8.0, Band.STRETCHED, 300)
    timetable = replace(morning.timetable, late=(late,))
    assert say_headline(timetable, (), UTC, now=DEMO_NOW) == "Will miss its window: opposing-1 by 8 min."
    later = DEMO_NOW + timedelta(minutes=3)
    assert say_headline(timetable, (), UTC, now=later) == "Past its window: opposing-1 8 min."
