"""Laws of the case documents: what was written is read back; nothing hostile gets past, or past unexplained."""

import copy
import json
import tomllib
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.examples import DEMO_NOW, demo_bench, demo_case, demo_events

from seatwright.case import (
    Bench,
    Case,
    Equipment,
    Event,
    ImpressionOut,
    MeasuredOnce,
    Person,
    SignedOff,
    Skill,
    Stone,
    StoneStock,
    Tolerance,
    check_log,
    parse_bench,
    parse_case,
    parse_event,
)
from seatwright.errors import Fault
from seatwright.files import bench_to_toml, case_to_toml, events_to_jsonl, read_bench, read_case, read_log

TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=40).filter(
    lambda text: not set(text) & set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
)
NAME = TEXT.map(str.strip).filter(bool)
MOMENT = st.datetimes(datetime(1991, 1, 1), datetime(2198, 1, 1), timezones=st.timezones())  # noqa: DTZ001 - the strategy adds zones
MOMENT = MOMENT.filter(
    lambda moment: moment.utcoffset() is not None and moment.utcoffset() % timedelta(minutes=1) == timedelta(0)
)
NUMBER = st.floats(allow_nan=False, allow_infinity=False)


@given(
    title=TEXT,
    reason=NAME,
    as_of=st.none() | MOMENT,
    shift_um=st.floats(1, 1000),
)
def test_case_is_read_back_as_it_was_written(title: str, reason: str, as_of: datetime | None, shift_um: float) -> None:
    case = demo_case(title=title, as_of=as_of, tolerance=Tolerance(unit_shift_um=shift_um, reason=reason))
    written = case_to_toml(case)
    again, faults = read_case(written)
    assert faults == ()
    assert again == case
    assert case_to_toml(again) == written


@given(
    people=st.lists(st.builds(Person, id=NAME, role=TEXT, skills=st.sets(st.sampled_from(Skill)).map(tuple)), min_size=1, unique_by=lambda p: p.id),
    stones=st.lists(
        st.builds(
            StoneStock,
            stone=st.sampled_from(Stone),
            water_powder=st.floats(0.11, 0.6),
            sachet_g=st.none() | st.floats(1, 5000),
            lot=TEXT,
        ),
        unique_by=lambda s: s.stone,
    ),
)  # fmt: skip
def test_bench_is_read_back_as_it_was_written(people: list[Person], stones: list[StoneStock]) -> None:
    bench = demo_bench(person=tuple(people), stone=tuple(stones), equipment=(Equipment(id="b", kind="balance"),))
    again, faults = read_bench(bench_to_toml(bench))
    assert faults == ()
    assert again == bench


EVENTS = st.one_of(
    st.builds(ImpressionOut, seq=st.integers(1, 2**53), at=MOMENT, by=NAME, impression=NAME),
    st.builds(
        MeasuredOnce, seq=st.integers(1, 2**53), at=MOMENT, by=NAME, quantity=NAME, value=NUMBER, unit=TEXT, u=st.none()
    ),
    st.builds(SignedOff, seq=st.integers(1, 2**53), at=MOMENT, by=NAME, gate=NAME, accepted=st.booleans(), note=TEXT),
)


@given(st.lists(EVENTS, max_size=5))
def test_log_is_read_back_as_it_was_written(events: list[Event]) -> None:
    again, lines, faults = read_log(events_to_jsonl(events))
    assert faults == ()
    assert again == tuple(events)
    assert lines == tuple(range(1, len(events) + 1))


HOSTILE = st.sampled_from(
    [
        None, True, False, 0, -1, 1, 19, 36, 39, 50, 10**30, -(10**18), 36.0, 1e308, float("nan"), float("inf"), -0.0,
        "", " ", "36", "LL6", "３６", "a\0b", "a\nb", "\u202etrap", "\ud800", "../x", "/etc/passwd", "C:\\x", "x" * 20_000, "x" * 100, [37] * 20,
        [], [[]], [None], [1, 2], [1, 2, 3, 4], [36, 36], ["36"], {}, {"": 1}, {"a": {"b": {"c": 1}}}, [{}], [{"id": 1}],
        "2026-03-10T09:00:00", "2016-12-31T23:59:60Z", "1773133200", "9999-12-31T23:59:59-23:00", "0001-01-01T00:00+14:00",
    ]
)  # fmt: skip
JARGON = ("pydantic", "input should", "http", "traceback", "validat", "tuple", "dict", "none_", "nonetype", "str_")


def _places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a document, tables and lists included."""
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [path, *(place for key, inner in items for place in _places(inner, (*path, key)))]


def _spoil(document: dict[str, Any], data: st.DataObject) -> dict[str, Any]:
    spoiled = copy.deepcopy(document)
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.sampled_from([p for p in _places(spoiled) if p]))
        parent: Any = spoiled
        for key in place[:-1]:
            parent = parent[key]
        action = data.draw(st.sampled_from(["set", "remove", "rename", "repeat"]))
        if action == "remove":
            del parent[place[-1]]
        elif action == "rename" and isinstance(parent, dict):
            parent[f"{place[-1]}x"] = parent.pop(place[-1])
        elif action == "repeat" and isinstance(parent, list):
            parent.append(copy.deepcopy(parent[place[-1]]))
        else:
            parent[place[-1]] = copy.deepcopy(data.draw(HOSTILE))
    return spoiled


def _assert_plain(faults: tuple[Fault, ...], file: str) -> None:
    for fault in faults:
        assert fault.where.startswith(file), fault
        assert fault.what, fault
        assert fault.hint, fault
        assert not any(word in f"{fault.what} {fault.hint}".lower() for word in JARGON), fault


CASE_DOCUMENT = json.loads(
    json.dumps(tomllib.loads(case_to_toml(demo_case()).decode()), default=lambda v: v.isoformat())
)
BENCH_DOCUMENT = tomllib.loads(bench_to_toml(demo_bench()).decode())
EVENT_DOCUMENTS = [json.loads(line) for line in events_to_jsonl(demo_events()).splitlines()]


@settings(max_examples=300)
@given(st.data())
def test_spoiled_case_is_a_sound_case_or_faults_in_plain_words(data: st.DataObject) -> None:
    case, faults = parse_case(_spoil(CASE_DOCUMENT, data))
    _assert_plain(faults, "case.toml")
    assert faults or isinstance(case, Case)


@given(st.data())
def test_spoiled_bench_is_a_sound_bench_or_faults_in_plain_words(data: st.DataObject) -> None:
    bench, faults = parse_bench(_spoil(BENCH_DOCUMENT, data))
    _assert_plain(faults, "bench.toml")
    assert faults or isinstance(bench, Bench)


@settings(max_examples=300)
@given(st.data(), st.sampled_from(EVENT_DOCUMENTS))
def test_spoiled_event_is_a_sound_event_or_faults_in_plain_words(data: st.DataObject, document: dict[str, Any]) -> None:
    event, faults = parse_event(_spoil(document, data))
    _assert_plain(faults, "log.jsonl: line 1")
    assert (event is None) == bool(faults)
    if event is not None:
        check_log([event], demo_case(), now=DEMO_NOW)


def _cut_and_spoil(text: bytes, data: st.DataObject) -> bytes:
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, len(text)))
    junk = data.draw(
        st.binary(max_size=8) | st.sampled_from([b"\0", b"\xef\xbb\xbf", b"\r\n", b'"', b"[[", b"}", b"\n"])
    )
    return text[:start] + junk + text[end:]


@settings(max_examples=200)
@given(st.data())
def test_damaged_bytes_are_read_or_refused_but_never_break_the_reader(data: st.DataObject) -> None:
    case, faults = read_case(_cut_and_spoil(case_to_toml(demo_case()), data))
    assert case is not None or faults
    _assert_plain(faults, "case.toml")
    events, lines, log_faults = read_log(_cut_and_spoil(events_to_jsonl(demo_events()), data))
    assert len(events) == len(lines)
    _assert_plain(log_faults, "log.jsonl")
    assert isinstance(check_log(events, case, now=DEMO_NOW, lines=lines), tuple)


@given(st.binary(max_size=200))
def test_arbitrary_bytes_never_break_the_reader(data: bytes) -> None:
    _assert_plain(read_case(data)[1], "case.toml")
    _assert_plain(read_log(data)[2], "log.jsonl")


@pytest.mark.parametrize("offset_h", [-11, 0, 5.5, 14])
def test_time_zones_are_one_moment(offset_h: float) -> None:
    shifted = (DEMO_NOW + timedelta(hours=offset_h)).replace(tzinfo=None).isoformat()
    hours, minutes = divmod(round(abs(offset_h) * 60), 60)
    sign = "-" if offset_h < 0 else "+"
    event, faults = parse_event({"seq": 1, "at": f"{shifted}{sign}{hours:02}:{minutes:02}", "by": "a", "what": "signed_off", "gate": "g", "accepted": True})  # fmt: skip
    assert faults == ()
    assert event is not None
    assert event.at == DEMO_NOW
    assert event.at.tzinfo is UTC
