from datetime import datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.examples import DEMO_NOW, OPPOSING, PICK_UP, demo_case, demo_events, demo_impressions, demo_scans, minutes

from seatwright.case import (
    CrownsCounted,
    CrownsDried,
    DieTried,
    Disinfected,
    Event,
    ImpressionOut,
    Poured,
    Seating,
    Separated,
    SignedOff,
    StepFinished,
    StepStarted,
    Stone,
    Storage,
    StorageChanged,
    Temperature,
    check_log,
    fold_events,
    storage_spells,
)
from seatwright.errors import CaseError

OUT = minutes(0)


def _disinfected(at: float, contact_min: float, *, bagged: bool, method: str = "spray") -> Disinfected:
    return Disinfected(
        seq=1, at=minutes(at), by="a", impression=PICK_UP, method=method, contact_min=contact_min, bagged=bagged
    )


def _kept(at: float, storage: Storage) -> StorageChanged:
    return StorageChanged(seq=1, at=minutes(at), by="a", impression=PICK_UP, storage=storage)


def _spells(*events: Event) -> list[tuple[str, float]]:
    spells = storage_spells(events, out_at=OUT)
    return [(spell.storage.value, (spell.since - OUT) / timedelta(minutes=1)) for spell in spells]


def test_impression_lies_in_open_air_until_told_otherwise() -> None:
    assert _spells() == [("open_air", 0)]
    assert _spells(_kept(5, Storage.DAMP_WRAP)) == [("open_air", 0), ("damp_wrap", 5)]


def test_bagged_disinfection_is_a_sealed_bag_for_the_time_of_contact() -> None:
    assert _spells(_disinfected(12, 10, bagged=True)) == [("open_air", 0), ("sealed_bag", 2), ("open_air", 12)]


def test_what_was_told_before_holds_again_after_disinfection() -> None:
    events = (_kept(1, Storage.HUMID_BOX), _disinfected(12, 10, bagged=True), _kept(20, Storage.DAMP_WRAP))
    assert _spells(*events) == [
        ("open_air", 0), ("humid_box", 1), ("sealed_bag", 2), ("humid_box", 12), ("damp_wrap", 20)
    ]  # fmt: skip


def test_storage_told_during_contact_holds_from_its_end() -> None:
    events = (_kept(5, Storage.DAMP_WRAP), _disinfected(12, 10, bagged=True))
    assert _spells(*events) == [("open_air", 0), ("sealed_bag", 2), ("damp_wrap", 12)]


def test_unbagged_spray_changes_nothing_and_immersion_immerses() -> None:
    assert _spells(_disinfected(12, 10, bagged=False)) == [("open_air", 0)]
    assert _spells(_disinfected(12, 10, bagged=False, method="immersion")) == [
        ("open_air", 0), ("immersed", 2), ("open_air", 12)
    ]  # fmt: skip


def test_contact_of_no_time_leaves_no_spell() -> None:
    assert _spells(_disinfected(12, 0, bagged=True)) == [("open_air", 0)]


def test_storage_told_at_the_moment_it_came_out_replaces_open_air() -> None:
    assert _spells(_kept(0, Storage.DAMP_WRAP)) == [("damp_wrap", 0)]


STEPS = st.lists(
    st.one_of(
        st.builds(_kept, st.integers(0, 60), st.sampled_from(Storage)),
        st.builds(_disinfected, st.integers(20, 60), st.integers(0, 20), bagged=st.booleans()),
    ),
    max_size=8,
).map(lambda events: sorted(events, key=lambda event: event.at))


@given(STEPS)
def test_spells_are_contiguous_distinct_and_the_last_is_open(events: list[Event]) -> None:
    spells = storage_spells(events, out_at=OUT)
    assert spells[0].since == OUT
    assert spells[-1].until is None
    for earlier, later in pairwise(spells):
        assert earlier.until == later.since
        assert earlier.since < later.since
        assert earlier.storage is not later.storage


@given(STEPS, st.integers(0, 61 * 60))
def test_spells_agree_with_asking_minute_by_minute(events: list[Event], second: int) -> None:
    moment = OUT + timedelta(seconds=second)
    spells = storage_spells(events, out_at=OUT)
    found = next(s for s in spells if s.since <= moment and (s.until is None or moment < s.until))
    expected = Storage.OPEN_AIR
    for event in events:
        if isinstance(event, StorageChanged) and event.at <= moment:
            expected = event.storage
    for event in events:
        in_bag = isinstance(event, Disinfected) and event.bagged
        if in_bag and event.at - timedelta(minutes=event.contact_min) <= moment < event.at:
            expected = Storage.SEALED_BAG
    assert found.storage is expected


def _log(*events: Event) -> tuple[Event, ...]:
    return tuple(event.model_copy(update={"seq": i}) for i, event in enumerate(events, start=1))


def _at(kind: type, at: float, **fields: object) -> Event:
    return kind(seq=1, at=minutes(at), by="a", **fields)


def test_impression_to_which_nothing_happened_has_a_state_too() -> None:
    state = fold_events((), demo_case(), now=DEMO_NOW)
    assert set(state.impressions) == {PICK_UP, OPPOSING}
    assert state.impressions[PICK_UP].out_at is None
    assert state.impressions[PICK_UP].spells == ()
    assert state.last_event_at is None


def test_events_of_one_impression_leave_the_other_alone() -> None:
    events = _log(
        _at(ImpressionOut, 0, impression=PICK_UP),
        _at(Temperature, 1, impression=PICK_UP, temperature_c=35.0),
        _at(CrownsDried, 2, impression=PICK_UP, units=(37,)),
        _at(CrownsDried, 3, impression=PICK_UP, units=(35,)),
    )
    state = fold_events(events, demo_case(), now=DEMO_NOW)
    assert state.impressions[PICK_UP].dried == {35, 37}
    assert state.impressions[PICK_UP].temperatures_c == ((minutes(1), 35.0),)
    assert state.impressions[OPPOSING] == fold_events((), demo_case(), now=DEMO_NOW).impressions[OPPOSING]


def test_step_runs_until_it_is_finished_and_counts_for_the_pick_up_of_its_units() -> None:
    started = _at(StepStarted, 1, step="gel-fill", units=(37, 35))
    finished = _at(StepFinished, 2, step="gel-fill", units=(37,))
    boxed = _at(StepFinished, 3, step="boxing", impression=PICK_UP)
    state = fold_events(_log(started, finished, boxed), demo_case(), now=DEMO_NOW).impressions[PICK_UP]
    assert state.steps_running == {("gel-fill", 35)}
    assert state.steps_done == {("gel-fill", 37), ("boxing", 0)}


def test_step_on_units_that_no_pick_up_lifts_and_events_of_the_whole_case_change_no_impression() -> None:
    case = demo_case(impression=demo_impressions()[1:], scan=demo_scans()[:1])
    events = _log(_at(StepFinished, 1, step="gel-fill", units=(37,)), _at(SignedOff, 2, gate="try-in", accepted=True))
    state = fold_events(events, case, now=DEMO_NOW)
    assert state.impressions == fold_events((), case, now=DEMO_NOW).impressions
    assert state.n_events == 2


def test_second_pour_after_separation_is_counted() -> None:
    poured = {"impression": PICK_UP, "stone": Stone.TYPE_4}
    events = _log(
        _at(ImpressionOut, 0, impression=PICK_UP),
        _at(Poured, 5, **poured),
        _at(Separated, 10, impression=PICK_UP),
        _at(Poured, 12, **poured),
    )
    state = fold_events(events, demo_case(), now=DEMO_NOW).impressions[PICK_UP]
    assert (state.n_pours, state.poured_at, state.separated_at) == (2, minutes(12), None)


def _plan_with_base(base_stone: Stone | None):
    planned = demo_impressions()
    pour = planned[0].pour.model_copy(update={"base_stone": base_stone})
    return demo_case(impression=(planned[0].model_copy(update={"pour": pour}), *planned[1:]))


def _poured_twice(case, *more: Event):
    events = (
        ImpressionOut(seq=1, at=minutes(0), by="a", impression=PICK_UP),
        Poured(seq=2, at=minutes(30), by="a", impression=PICK_UP, stone=Stone.TYPE_4),
        Poured(seq=3, at=minutes(50), by="a", impression=PICK_UP, stone=Stone.TYPE_3),
    )
    return fold_events((*events, *more), case, now=minutes(200)).impressions[PICK_UP]


def test_base_logged_as_a_second_pour_leaves_the_first_pour_its_age() -> None:
    state = _poured_twice(_plan_with_base(Stone.TYPE_3))
    assert (state.poured_at, state.poured_stone, state.n_pours) == (minutes(30), Stone.TYPE_4, 1)
    assert ("pour-base", 0) in state.steps_done


def test_third_pour_before_separation_is_refused_even_with_a_base() -> None:
    third = Poured(seq=4, at=minutes(60), by="a", impression=PICK_UP, stone=Stone.TYPE_3)
    with pytest.raises(CaseError):
        _poured_twice(_plan_with_base(Stone.TYPE_3), third)


def test_second_pour_without_a_planned_base_is_refused_with_what_to_do() -> None:
    with pytest.raises(CaseError) as caught:
        _poured_twice(_plan_with_base(None))
    assert "base_stone" in caught.value.faults[0].hint


def test_cast_after_a_base_counts_its_own_pour() -> None:
    apart = Separated(seq=4, at=minutes(80), by="a", impression=PICK_UP)
    again = Poured(seq=5, at=minutes(90), by="a", impression=PICK_UP, stone=Stone.TYPE_4)
    state = _poured_twice(_plan_with_base(Stone.TYPE_3), apart, again)
    assert (state.poured_at, state.n_pours) == (minutes(90), 2)


def test_retake_lifts_the_units_instead_of_the_impression_it_replaces() -> None:
    pick_up, opposing = demo_impressions()
    retake = pick_up.model_copy(update={"id": "pickup-2", "replaces": PICK_UP})
    case = demo_case(impression=(pick_up, opposing, retake))
    assert [i.id for i in case.current_impressions()] == [OPPOSING, "pickup-2"]
    assert case.pick_up_of(37) is retake
    state = fold_events(_log(_at(StepFinished, 1, step="gel-fill", units=(37,))), case, now=DEMO_NOW)
    assert state.impressions["pickup-2"].steps_done == {("gel-fill", 37)}


# (what, events after the first out, exact places)
BAD_LOGS: dict[str, tuple[tuple[Event, ...], list[str]]] = {
    "poured before it left the mouth": (
        (_at(Poured, 1, impression=OPPOSING, stone=Stone.TYPE_4),), ["line 2: what"]
    ),
    "separated before it was poured": ((_at(Separated, 1, impression=PICK_UP),), ["line 2: what"]),
    "left the mouth twice": ((_at(ImpressionOut, 1, impression=PICK_UP),), ["line 2: what"]),
    "poured three times": (
        tuple(_at(Poured, at, impression=PICK_UP, stone=Stone.TYPE_4) for at in (1, 2, 3)), ["line 4: what"]
    ),
    "disinfected before it left the mouth": ((_disinfected(5, 10, bagged=True),), ["line 2: contact_min"]),
    "unknown impression": ((_at(Separated, 1, impression="pickup-9"),), ["line 2: impression"]),
    "die of an unknown unit and name": (
        (_at(DieTried, 1, die="die-99", tooth=36, seating=Seating.FREELY, gap_um=0.0),), ["line 2: die", "line 2: tooth"]
    ),
    "unknown unit": ((_at(CrownsDried, 1, impression=PICK_UP, units=(37, 36)),), ["line 2: units[1]"]),
    "in the future": ((_at(StepFinished, 31, step="x"),), ["line 2: at"]),
    "back in time": ((_at(StepFinished, 2, step="x"), _at(StepFinished, 1, step="x")), ["line 3: at"]),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD_LOGS)
def test_impossible_log_is_refused_at_the_exact_place(name: str) -> None:
    events, places = BAD_LOGS[name]
    with pytest.raises(CaseError) as caught:
        fold_events(_log(_at(ImpressionOut, 0, impression=PICK_UP), *events), demo_case(), now=DEMO_NOW)
    assert [fault.where for fault in caught.value.faults] == [f"log.jsonl: {place}" for place in places]
    assert all(fault.hint for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("numbers", "places"),
    [
        ([1, 2, 3], []),
        ([1, 2, 4], ["line 3: seq"]),
        ([1, 3, 2], ["line 2: seq", "line 3: seq"]),
        ([1, 1, 2], ["line 2: seq"]),
        ([2, 3, 4], ["line 1: seq"]),
        ([1, 5, 6], ["line 2: seq"]),
    ],
)
def test_numbers_of_a_log_are_consecutive(numbers: list[int], places: list[str]) -> None:
    events = tuple(_at(StepFinished, i, step="x").model_copy(update={"seq": n}) for i, n in enumerate(numbers))
    try:
        fold_events(events, demo_case(), now=DEMO_NOW)
        found = []
    except CaseError as error:
        found = [fault.where.removeprefix("log.jsonl: ") for fault in error.faults]
    assert found == places


def test_log_of_an_unreadable_case_is_still_checked_for_numbers_times_and_order() -> None:
    events = _log(_at(Separated, 1, impression="anything"), _at(StepFinished, 31, step="x"))
    found = [f.where for f in check_log(events, None, now=DEMO_NOW)]
    assert found == ["log.jsonl: line 1: what", "log.jsonl: line 2: at"]


def test_what_hangs_on_an_unreadable_line_is_not_judged() -> None:
    out, poured, later = (
        _at(ImpressionOut, 0, impression=PICK_UP),
        _at(Poured, 5, impression=PICK_UP, stone=Stone.TYPE_4),
        _at(Separated, 6, impression=PICK_UP),
    )
    events = _log(out, poured, later)
    assert check_log(events[1:], demo_case(), now=DEMO_NOW, lines=[2, 3]) == ()
    assert check_log(events[::2], demo_case(), now=DEMO_NOW, lines=[1, 3]) == ()
    numbered_too_high = events[2].model_copy(update={"seq": 4})
    (fault,) = check_log((events[0], numbered_too_high), demo_case(), now=DEMO_NOW, lines=[1, 3])
    assert fault.where == "log.jsonl: line 3: seq"


def test_missing_numbers_are_named_one_or_many() -> None:
    events = _log(*(_at(StepFinished, 1, step="x") for _ in range(6)))
    one = check_log((events[0], *events[2:]), demo_case(), now=DEMO_NOW)
    many = check_log((events[0], *events[4:]), demo_case(), now=DEMO_NOW)
    assert one[0].what == "number 2 is missing before 3"
    assert many[0].what == "numbers 2 to 4 are missing before 5"


def test_repeated_number_is_told_apart_from_one_out_of_order() -> None:
    events = _log(*(_at(StepFinished, 1, step="x") for _ in range(3)))
    twice = check_log((*events, events[1]), demo_case(), now=DEMO_NOW)
    late = check_log((events[0], events[2], events[1]), demo_case(), now=DEMO_NOW)
    assert "twice" in twice[0].what
    assert "line 2" in twice[0].what
    assert "comes after 3" in late[1].what


def test_only_the_first_hundred_faults_are_told_and_the_rest_counted() -> None:
    events = _log(*(_at(StepFinished, 1, step="x", units=(36,)) for _ in range(130)))
    faults = check_log(events, demo_case(), now=DEMO_NOW)
    assert len(faults) == 101
    assert faults[-1].what.startswith("30 more")
    assert len(check_log(events[:100], demo_case(), now=DEMO_NOW)) == 100


def test_log_looked_at_from_before_tells_the_future_once() -> None:
    faults = check_log(_log(*(_at(StepFinished, 31, step="x") for _ in range(130))), demo_case(), now=DEMO_NOW)
    assert len(faults) == 1
    assert "and 129 more lines are" in faults[0].what


COUNT = {"seated": (37, 35), "in_tray": (37, 35)}


@pytest.mark.parametrize(
    ("change", "places"),
    [
        ({}, []),
        ({"in_tray": (37,), "left_on_tooth": (35,)}, []),
        ({"in_tray": (37,)}, []),
        ({"in_tray": (37, 35, 44)}, ["in_tray"]),
        ({"loose": (44,)}, ["loose"]),
        ({"left_on_tooth": (35,)}, ["left_on_tooth"]),
        ({"seated": (37, 35, 36), "in_tray": (37, 35)}, ["seated[2]"]),
        ({"in_tray": (37, 35, 37)}, ["in_tray[2]"]),
        ({"impression": OPPOSING}, ["impression"]),
        ({"impression": "pickup-9"}, ["impression"]),
    ],
)
def test_count_of_crowns_agrees_with_itself(change: dict[str, object], places: list[str]) -> None:
    events = _log(
        _at(ImpressionOut, 0, impression=PICK_UP),
        _at(ImpressionOut, 0, impression=OPPOSING),
        _at(CrownsCounted, 1, **({"impression": PICK_UP} | COUNT | change)),
    )
    found = [f.where for f in check_log(events, demo_case(), now=DEMO_NOW)]
    assert found == [f"log.jsonl: line 3: {place}" for place in places]


def test_crown_that_the_pick_up_was_not_to_lift_is_told() -> None:
    pick_up, opposing = demo_impressions()
    case = demo_case(impression=(pick_up.model_copy(update={"lifts": (37, 35, 33, 42, 43, 44, 45)}), opposing))
    counted = _at(CrownsCounted, 1, impression=PICK_UP, seated=(37, 34), in_tray=(37, 34))
    (fault,) = check_log(_log(_at(ImpressionOut, 0, impression=PICK_UP), counted), case, now=DEMO_NOW)
    assert fault.where == "log.jsonl: line 2: seated"
    assert "34" in fault.what


def test_moment_of_the_last_event_may_be_now_itself() -> None:
    last: datetime = demo_events()[-1].at
    assert fold_events(demo_events(), demo_case(), now=last).last_event_at == last
