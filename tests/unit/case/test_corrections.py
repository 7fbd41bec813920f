"""A correction is a new event; what is computed from the log follows the truth, and the log itself stays."""

from dataclasses import replace
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.examples import DEMO_NOW, PICK_UP, demo_case, demo_events, minutes

from seatwright.case import (
    CaseStage,
    Corrected,
    Event,
    MaterialRole,
    MaterialUsed,
    Outcome,
    OutcomeSeen,
    Rinsed,
    Storage,
    StorageChanged,
    check_log,
    effective_events,
    fold_events,
    parse_event,
    stand_case,
    tell_event,
)
from seatwright.case._events import event_adapter
from seatwright.case._telling import _WORDS

N = len(demo_events())


def _corrected(corrects: int | None, instead: Event | None, *, seq: int = N + 1, **other: Any) -> Corrected:
    at = other.pop("at", DEMO_NOW)
    return Corrected(seq=seq, at=at, by="lead", corrects=corrects, instead=instead, reason="misread", **other)


def _faults(*events: Event) -> list[tuple[str, str]]:
    found = check_log((*demo_events(), *events), demo_case(), now=DEMO_NOW)
    return [(fault.where.removeprefix("log.jsonl: "), fault.what) for fault in found]


@given(number=st.integers(1, N), shift=st.integers(1, 50))
def test_log_with_a_wrong_event_put_right_folds_as_the_true_log(number: int, shift: int) -> None:
    true = demo_events()
    wrong = list(true)
    at = wrong[number - 1].at
    wrong[number - 1] = Rinsed(seq=number, at=at, by=f"p{shift}", impression=PICK_UP)
    log = (*wrong, _corrected(number, true[number - 1]))
    assert effective_events(log) == true
    folded = fold_events(log, demo_case(), now=DEMO_NOW)
    expected = fold_events(true, demo_case(), now=DEMO_NOW)
    assert folded == replace(expected, last_event_at=DEMO_NOW, n_events=N + 1)


def test_forgotten_event_takes_its_place_in_time() -> None:
    forgotten = StorageChanged(seq=N + 1, at=minutes(8), by="assistant", impression=PICK_UP, storage=Storage.HUMID_BOX)
    log = (*demo_events(), _corrected(None, forgotten))
    assert check_log(log, demo_case(), now=DEMO_NOW) == ()
    truly = effective_events(log)
    assert truly[2] == forgotten
    spells = fold_events(log, demo_case(), now=DEMO_NOW).impressions[PICK_UP].spells
    assert Storage.HUMID_BOX in {spell.storage for spell in spells}


def test_event_that_did_not_happen_no_longer_counts() -> None:
    log = (*demo_events(), _corrected(2, None))
    assert not fold_events(log, demo_case(), now=DEMO_NOW).impressions[PICK_UP].rinsed


def test_later_correction_of_the_same_event_holds() -> None:
    again = demo_events()[1]
    log = (*demo_events(), _corrected(2, None), _corrected(2, again, seq=N + 2))
    assert effective_events(log) == demo_events()


def test_event_written_in_later_can_be_corrected_by_its_number() -> None:
    forgotten = StorageChanged(seq=N + 1, at=minutes(8), by="a", impression=PICK_UP, storage=Storage.HUMID_BOX)
    log = (*demo_events(), _corrected(None, forgotten), _corrected(N + 1, None, seq=N + 2))
    assert check_log(log, demo_case(), now=DEMO_NOW) == ()
    assert effective_events(log) == demo_events()


RINSED = Rinsed(seq=2, at=minutes(6), by="assistant", impression=PICK_UP)


@pytest.mark.parametrize(
    ("events", "where", "what"),
    [
        ((_corrected(None, None),), f"line {N + 1}: instead", "is missing"),
        ((_corrected(99, None),), f"line {N + 1}: corrects", "there is no earlier event 99"),
        ((_corrected(2, None), _corrected(N + 1, None, seq=N + 2)), f"line {N + 2}: corrects", f"{N + 1} is itself a"),
        ((_corrected(3, RINSED),), f"line {N + 1}: instead.seq", "is 2, but it stands for event 3"),
        ((_corrected(2, RINSED.model_copy(update={"at": DEMO_NOW.replace(year=2030)})),), f"line {N + 1}: instead.at", "after the correction"),
        ((_corrected(1, None),), "line 2: what", "has not left the mouth yet"),
        ((_corrected(2, RINSED.model_copy(update={"impression": "nowhere"})),), f"line {N + 1}: impression", "no impression nowhere"),
    ],
)  # fmt: skip
def test_correction_that_cannot_be_is_told(events: tuple[Event, ...], where: str, what: str) -> None:
    assert any(place == where and what in said for place, said in _faults(*events)), _faults(*events)


def test_wrong_field_inside_a_correction_is_named_without_jargon() -> None:
    inner = {"seq": 2, "at": "2026-03-10T08:00:00Z", "by": "a", "what": "rinsed"}
    outer = {"seq": 9, "at": "2026-03-10T09:00:00Z", "by": "a", "what": "corrected", "corrects": 2, "reason": "r"}
    event, faults = parse_event({**outer, "instead": inner})
    assert event is None
    assert [fault.where for fault in faults] == ["log.jsonl: line 1: instead.impression"]


def test_every_kind_of_event_has_words_of_its_own() -> None:
    kinds = {get_args(model.model_fields["what"].annotation)[0] for model in get_args(get_args(Event)[0])}
    assert kinds == set(_WORDS)
    assert all(tell_event(event) for event in demo_events())


def test_kinds_of_this_page_are_told_and_read_back() -> None:
    used = MaterialUsed(
        seq=8, at=DEMO_NOW, by="technician", material="light-cured resin gel", lot="G-1", used_for=MaterialRole.DIE,
        impression=PICK_UP, units=(43, 44),
    )  # fmt: skip
    chipped = OutcomeSeen(seq=9, at=DEMO_NOW, by="lead", outcome=Outcome.MARGIN_CHIPPED, units=(43,), note="facial")
    assert tell_event(used) == f"light-cured resin gel, lot G-1, for die {PICK_UP} (43, 44)"
    assert tell_event(chipped) == "outcome: margin chipped (43) (facial)"
    correction = _corrected(8, used, seq=10)
    assert tell_event(correction).startswith("event 8 was wrong; truly at ")
    for event in (used, chipped, correction):
        assert event_adapter.validate_json(event.model_dump_json(exclude_none=True), strict=True) == event


def test_case_goes_from_planned_to_bench_to_finished_and_back_for_a_new_impression() -> None:
    case, events = demo_case(), demo_events()

    def stage(log: tuple[Event, ...]) -> CaseStage:
        return stand_case(case, fold_events(log, case, now=DEMO_NOW), log).stage

    seated = OutcomeSeen(seq=N + 1, at=DEMO_NOW, by="dentist", outcome=Outcome.SEATED)
    chipped = OutcomeSeen(seq=N + 1, at=DEMO_NOW, by="dentist", outcome=Outcome.MARGIN_CHIPPED)
    assert stage(()) is CaseStage.PLANNED
    assert stage(events) is CaseStage.AT_BENCH
    assert stage((*events, chipped)) is CaseStage.AT_BENCH
    assert stage((*events, seated)) is CaseStage.FINISHED
    early = seated.model_copy(update={"seq": 1, "at": minutes(4)})
    later = [event.model_copy(update={"seq": event.seq + 1}) for event in events]
    assert stage((early, *later)) is CaseStage.AT_BENCH


def test_lots_are_listed_as_corrected() -> None:
    case = demo_case()
    used = MaterialUsed(seq=N + 1, at=minutes(24), by="t", material="gel", lot="wrong", used_for=MaterialRole.DIE)
    right = used.model_copy(update={"lot": "G-1"})
    log = (*demo_events(), used, _corrected(N + 1, right, seq=N + 2))
    lots = stand_case(case, fold_events(log, case, now=DEMO_NOW), log).lots
    assert [(use.seq, use.lot) for use in lots] == [(N + 1, "G-1")]
