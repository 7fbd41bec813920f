"""The timetable of whole cases, and the live day, with values in memory instead of files and a terminal."""

import json
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from io import StringIO

import pytest
from rich.console import Console
from tests.examples import DEMO_NOW, OPPOSING, PICK_UP, demo_bench, demo_case, demo_events, demo_impressions, minutes
from tests.workflow.fakes import MemorySource, StoppedClock

from seatwright.case import (
    Event,
    ImpressionMaterial,
    ImpressionOut,
    Person,
    Poured,
    Skill,
    StepFinished,
    StepStarted,
    Storage,
    StorageChanged,
    fold_events,
)
from seatwright.cli._today import run_live
from seatwright.errors import CaseError, ConflictError, InputError
from seatwright.pour import Band
from seatwright.pour.timetable import check_timetable, verdict_of
from seatwright.workflows.edited import check_edited
from seatwright.workflows.timetable import PlanSettings, cards_in_order, plan_bench_day, timetable_envelope
from seatwright.workflows.today import LiveDay

CLOCK = StoppedClock(DEMO_NOW)
QUICK = PlanSettings(limit_s=60, n_runs=300)


def source(events=(), *, now=None, bench=None, **other) -> MemorySource:
    case = demo_case(**{"scan": (), "region": (), "as_of": now or minutes(0), **other})
    return MemorySource(case, bench or demo_bench(), tuple(events))


def planned(*sources, now=None, settings=QUICK):
    return plan_bench_day(sources or (source(),), now=now, clock=CLOCK, settings=settings)


@pytest.fixture(scope="module")
def evening():
    return planned()


@pytest.fixture(scope="module")
def morning():
    return planned(source(demo_events(), now=DEMO_NOW))


def test_evening_before_plans_taking_pouring_and_separating_of_both_arches(evening) -> None:
    steps = {(row.impression, step) for row in evening.timetable.tasks for step in row.steps}
    for impression in (PICK_UP, OPPOSING):
        assert {(impression, step) for step in ("take", "rinse", "disinfect", "mix", "pour", "separate")} <= steps
    assert evening.timetable.late == ()
    assert evening.timetable.proven
    assert check_timetable(evening.problem, evening.timetable) == ()


def test_json_answer_has_every_field_that_it_promises(morning) -> None:
    document = json.loads(json.dumps(timetable_envelope(morning)))
    result = document["result"]
    assert {"tasks", "objective", "bound", "proven", "late"} <= set(result)
    for task in result["tasks"]:
        assert {"id", "case", "impression", "what", "who", "equipment", "start", "end"} <= set(task)
        assert datetime.fromisoformat(task["start"]) < datetime.fromisoformat(task["end"])
        assert isinstance(task["equipment"], list)
    assert result["objective"] == result["bound"]
    assert [late["impression"] for late in result["late"]] == [OPPOSING]


def test_same_case_gives_the_same_timetable(morning) -> None:
    again = planned(source(demo_events(), now=DEMO_NOW))
    assert again.timetable.tasks == morning.timetable.tasks
    assert again.timetable.misses == morning.timetable.misses


def test_lost_opposing_impression_is_named_first_and_its_retake_saves_the_rest(morning) -> None:
    late = morning.timetable.late[0]
    assert (late.impression, late.band) == (OPPOSING, Band.BEYOND)
    assert [r.change for r in morning.timetable.remedies if r.helps] == [f"{OPPOSING} taken again later"]
    assert any(f.id == "timetable-late" and f.about == OPPOSING for f in morning.findings)


def test_seven_crowns_in_alginate_do_not_fit_one_pair_of_hands_and_an_elastomer_does() -> None:
    alone = demo_bench(person=(Person(id="technician", role="technician", skills=tuple(Skill)),))
    pick = demo_impressions()[0].model_copy(update={"material": ImpressionMaterial.ALGINATE})
    day = planned(source(bench=alone, impression=(pick,)))
    assert [late.impression for late in day.timetable.late] == [PICK_UP]
    remedies = {remedy.change: remedy for remedy in day.timetable.remedies}
    silicone = remedies["addition silicone instead of alginate for what is still to be taken"]
    assert silicone.n_late == 0
    assert silicone.helps
    hands = [remedy for change, remedy in remedies.items() if "pair" in change]
    assert len(hands) == 1
    verdict = verdict_of(day.timetable, zone=day.zone)
    assert verdict.startswith(f"Not feasible with these hands and materials: past its window {PICK_UP}")
    assert day.timetable.findings[0].do.startswith("In time with: addition silicone")


def test_evening_before_a_day_that_fits_says_feasible_and_how_few_hands_would_do(evening) -> None:
    assert verdict_of(evening.timetable, zone=evening.zone).startswith("Feasible")
    assert evening.timetable.hands_needed == 1


def test_alginate_waits_wrapped_and_a_poured_one_humid(morning) -> None:
    waits = [w for w in morning.timetable.waits if w.impression == OPPOSING]
    pour = morning.timetable.task("DEMO-1/opposing-1/pour")
    assert {w.keep for w in waits if w.end <= pour.start} == {"wrapped, in the humid box"}
    assert {w.keep for w in waits if w.start >= pour.end} == {"in the humid box, not in water"}


def test_cards_stand_in_the_order_of_the_timetable(morning) -> None:
    listed = cards_in_order(morning)
    ids = [row.id for row in morning.timetable.tasks]
    assert [row.id for row, _ in listed] == [i for i in ids if i in {row.id for row, _ in listed}]
    assert all(cards for _, cards in listed)


def test_durations_are_learned_from_what_is_over_and_from_other_cases(morning) -> None:
    slow = [
        ImpressionOut(seq=1, at=minutes(0), by="dentist", impression=OPPOSING),
        StepStarted(seq=2, at=minutes(1), by="technician", impression=OPPOSING, step="weigh"),
        StepFinished(seq=3, at=minutes(4), by="technician", impression=OPPOSING, step="weigh"),
    ]
    other = source(slow, now=minutes(60), code="DEMO-9")
    settings = PlanSettings(limit_s=60, n_runs=0, remedies_s=0)
    day = plan_bench_day([source()], now=None, clock=CLOCK, settings=settings, learn=[other])
    pace = next(pace for pace in day.paces if pace.step == "weigh")
    assert (pace.n_measured, pace.factor) == (1, pytest.approx(1.5 ** (1 / 5)))
    assert day.problem.task(f"DEMO-1/{PICK_UP}/weigh").spread.typical_min == pytest.approx(2 * pace.factor)
    live = LiveDay(day, {"DEMO-1": MemoryLog()})
    live.press("0", now=minutes(1))
    assert live.problem.task(f"DEMO-1/{PICK_UP}/weigh").spread.typical_min == pytest.approx(2 * pace.factor)


def test_two_cases_share_one_bench() -> None:
    day = planned(source(), source(code="DEMO-9"), settings=PlanSettings(limit_s=60, n_runs=0, remedies_s=2))
    assert {row.case for row in day.timetable.tasks} == {"DEMO-1", "DEMO-9"}
    assert check_timetable(day.problem, day.timetable) == ()
    assert {file.name for file in day.inputs} == {"DEMO-1/case.toml", "DEMO-9/case.toml"}


def test_cases_with_different_benches_are_refused() -> None:
    other = demo_bench(person=demo_bench().person[:2])
    with pytest.raises(CaseError, match="different benches"):
        planned(source(), source(code="DEMO-9", bench=other))


def test_one_case_twice_is_refused() -> None:
    with pytest.raises(InputError, match="given twice"):
        planned(source(), source())


def test_no_case_is_refused() -> None:
    with pytest.raises(InputError, match="no case"):
        plan_bench_day((), now=None, clock=CLOCK)


def test_skill_that_nobody_has_is_refused_by_name() -> None:
    bench = demo_bench(person=(Person(id="assistant", role="assistant", skills=(Skill.MIX, Skill.DISINFECT)),))
    with pytest.raises(CaseError, match="nobody at this bench has the skill"):
        planned(source(bench=bench))


def test_timetable_sent_back_unchanged_is_sound_and_an_edited_one_is_told(evening) -> None:
    document = json.loads(json.dumps(timetable_envelope(evening)))
    assert check_edited(evening, document) == ()
    pour = next(task for task in document["result"]["tasks"] if task["id"].endswith("opposing-1/pour"))
    pour["who"] = "trainee"
    found = check_edited(evening, document)
    assert any(v.rule == "skill" and "trainee" in v.what for v in found)


def test_edited_timetable_that_misses_a_window_is_told(evening) -> None:
    document = json.loads(json.dumps(timetable_envelope(evening)))
    for task in document["result"]["tasks"]:
        if task["impression"] == OPPOSING and not task["id"].endswith(("take", "rinse", "disinfect", "weigh")):
            for end in ("start", "end"):
                task[end] = (datetime.fromisoformat(task[end]) + timedelta(hours=3)).isoformat()
    assert "window" in {v.rule for v in check_edited(evening, document)}


@pytest.mark.parametrize("document", [[], {}, {"tasks": 3}, {"tasks": [{"id": "a"}]}, {"tasks": ["text"]}])
def test_what_is_no_timetable_is_refused(evening, document) -> None:
    with pytest.raises(InputError):
        check_edited(evening, document)


def test_edited_time_without_zone_is_refused(evening) -> None:
    row = {"id": "a", "who": "", "equipment": [], "start": "2026-03-10T09:00:00", "end": "2026-03-10T09:01:00"}
    with pytest.raises(InputError, match="without its zone"):
        check_edited(evening, {"tasks": [row]})


# -- the live day --------------------------------------------------------------------------------------------------


@dataclass
class MemoryLog:
    events: list[Event] = field(default_factory=list)
    is_taken: bool = False

    def append(self, *events: Event) -> None:
        if self.is_taken:
            raise ConflictError("log.jsonl was changed by somebody else")
        self.events.extend(events)


@dataclass
class SteppingClock:
    at: datetime
    step: timedelta = timedelta(seconds=10)

    def now(self) -> datetime:
        self.at += self.step
        return self.at


@dataclass
class Keys:
    pressed: list[str | None]

    def read(self, timeout_s: float) -> str | None:
        return self.pressed.pop(0) if self.pressed else "q"


@pytest.fixture
def live(morning):
    log = MemoryLog()
    return LiveDay(morning, {"DEMO-1": log}), log


def person(view, who: str):
    return next(row for row in view.people if row.who == who)


def test_one_touch_starts_a_batch_and_the_next_one_finishes_it(live) -> None:
    day, log = live
    now = DEMO_NOW
    row = person(day.view(now=now), "dentist")
    assert row.now is None
    assert day.press(row.key, now=now)
    started = person(day.view(now=now), "dentist")
    assert started.now == row.next or started.now.id == row.next.id
    assert {event.what for event in log.events} == {"step_started"}
    assert day.press(row.key, now=now + timedelta(minutes=9))
    assert {event.what for event in log.events} == {"step_started", "step_finished"}
    assert person(day.view(now=now + timedelta(minutes=9)), "dentist").now is None


def test_what_is_logged_is_a_log_that_adds_up(live, morning) -> None:
    day, log = live
    now = DEMO_NOW
    for minute, key in enumerate("1233b1B2m0m11"):
        day.press(key, now=now + minute * timedelta(minutes=2))
    case = morning.plans[0].bundle.case
    state = fold_events((*demo_events(), *log.events), case, now=now + timedelta(hours=1))
    assert state.n_events == len(demo_events()) + len(log.events)
    assert check_timetable(day.problem, day.timetable) == ()


def test_step_is_logged_only_on_the_units_that_have_it(morning) -> None:
    cards = {key: card for key, card in morning.cards.items() if key[2:] not in {("separator", 35), ("separator", 37)}}
    day = LiveDay(replace(morning, cards=cards), {"DEMO-1": MemoryLog()})
    row = next(row for row in day.timetable.tasks if "gel-fill" in row.steps and 44 in row.units)
    assert set(day.record.units_of(row, "gel-fill")) == {35, 37, 44}
    assert day.record.units_of(row, "separator") == (44,)


def test_storage_change_is_one_key_and_changes_the_clock(morning) -> None:
    events = tuple(event for event in demo_events() if getattr(event, "impression", "") != OPPOSING)
    events = tuple(e.model_copy(update={"seq": i + 1}) for i, e in enumerate(events))
    fresh = (*events, ImpressionOut(seq=len(events) + 1, at=minutes(28), by="dentist", impression=OPPOSING))
    log = MemoryLog()
    day = LiveDay(planned(source(fresh, now=DEMO_NOW)), {"DEMO-1": log})
    row = next(c for c in day.view(now=DEMO_NOW).clocks if c.impression == OPPOSING)
    assert row.storage is Storage.OPEN_AIR
    day.press(row.key, now=DEMO_NOW)
    day.press(row.key.upper(), now=DEMO_NOW + timedelta(minutes=1))
    assert [e.storage for e in log.events if isinstance(e, StorageChanged)] == [Storage.DAMP_WRAP, Storage.HUMID_BOX]
    after = next(c for c in day.view(now=DEMO_NOW + timedelta(minutes=1)).clocks if c.impression == OPPOSING)
    assert after.storage is Storage.HUMID_BOX
    assert after.minutes_left > row.minutes_left - 1


def test_late_step_makes_a_new_timetable_and_says_why(live) -> None:
    day, _ = live
    before = day.timetable
    day.press("1", now=DEMO_NOW)
    day.tick(now=DEMO_NOW + timedelta(minutes=20))
    assert day.timetable.now > before.now
    assert day.changes
    assert check_timetable(day.problem, day.timetable) == ()


def test_touch_that_cannot_be_logged_changes_nothing(morning) -> None:
    log = MemoryLog(is_taken=True)
    day = LiveDay(morning, {"DEMO-1": log})
    before = day.view(now=DEMO_NOW)
    with pytest.raises(ConflictError):
        day.press("1", now=DEMO_NOW)
    assert day.view(now=DEMO_NOW) == before


def test_clock_going_backwards_is_refused(live) -> None:
    day, _ = live
    day.tick(now=DEMO_NOW + timedelta(minutes=1))
    with pytest.raises(InputError, match="backwards"):
        day.tick(now=DEMO_NOW)


def test_pour_touch_is_logged_as_poured_and_stops_the_clock(morning) -> None:
    log = MemoryLog()
    day = LiveDay(morning, {"DEMO-1": log})
    row = next(r for r in day.timetable.tasks if r.id == "DEMO-1/opposing-1/pour")
    index = 1 + [worker.id for worker in day.problem.workers].index(row.who)
    now = DEMO_NOW
    for _ in range(40):
        view = day.view(now=now)
        for entry in (*view.people, *view.idle):
            if entry.now is None and entry.next is not None and entry.next.start > now:
                continue
            if entry.now is not None and entry.now.end > now:
                continue
            day.press(entry.key, now=now)
        if any(isinstance(event, Poured) for event in log.events):
            break
        now += timedelta(minutes=1)
    assert index
    poured = [event for event in log.events if isinstance(event, Poured)]
    assert poured
    assert next(c for c in day.view(now=now).clocks if c.impression == poured[0].impression).minutes_left is None


def test_live_view_runs_from_keys_to_the_end_without_a_terminal(live, morning) -> None:
    day, log = live
    console = Console(record=True, width=150, file=StringIO())
    code = run_live(day, Keys(["1", None, "b", "?", "0", "q"]), SteppingClock(DEMO_NOW), console, morning.zone)
    assert code == 0
    assert log.events
    shown = console.export_text()
    assert "Past its window" in shown
    assert "q leave" in shown


def test_key_without_meaning_is_told_and_harmless(live) -> None:
    day, log = live
    assert day.press("?", now=DEMO_NOW)
    assert day.message == "'?' does nothing now."
    assert log.events == []


def test_leaving_key_ends_the_view(live) -> None:
    day, _ = live
    assert not day.press("q", now=DEMO_NOW)


def test_view_is_one_value_that_can_be_replayed(live) -> None:
    day, _ = live
    assert day.view(now=DEMO_NOW) == replace(day.view(now=DEMO_NOW))
