"""The bars show every task on its rows, in local time, and say it all in words as well."""

import re
from dataclasses import replace
from datetime import UTC, timedelta
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import pytest
from tests.bench_days import bench_day

from seatwright.figures import draw_timetable_bars
from seatwright.pour import Band
from seatwright.pour.timetable import Late, PlanOptions, make_timetable

BERLIN = ZoneInfo("Europe/Berlin")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def timetable():
    return make_timetable(bench_day((5,)), options=PlanOptions(limit_s=60))[1]


def texts(svg: str) -> list[str]:
    return ["".join(e.itertext()).replace("\u00a0", " ") for e in ET.fromstring(svg).iter(f"{SVG}text")]


def test_every_task_is_a_bar_on_each_of_its_rows(timetable) -> None:
    root = ET.fromstring(draw_timetable_bars(timetable, zone=UTC))
    wanted = sum(max(1, bool(row.who) + len(row.equipment)) for row in timetable.tasks)
    assert len(list(root.iter(f"{SVG}rect"))) == wanted


def test_times_are_those_of_the_bench_clock(timetable) -> None:
    start = min(row.start for row in timetable.tasks)
    listed = [t for t in texts(draw_timetable_bars(timetable, zone=BERLIN)) if re.match(r"1 +\d", t)]
    assert f"{start.astimezone(BERLIN):%H:%M}" in listed[0]


def test_clock_change_is_drawn_through(timetable) -> None:
    night = timetable.now.replace(month=10, day=24, hour=23, minute=30)
    by = night - timetable.now
    moved = tuple(replace(row, start=row.start + by, end=row.end + by) for row in timetable.tasks)
    svg = draw_timetable_bars(replace(timetable, now=night, tasks=moved), zone=BERLIN)
    marks = [t for t in texts(svg) if re.fullmatch(r"\d\d:\d\d", t)]
    assert len(marks) == len([m for m in marks if m])
    assert any(marks.count(mark) == 2 for mark in marks)  # the hour that comes twice


def test_description_holds_every_task_in_words(timetable) -> None:
    described = ET.fromstring(draw_timetable_bars(timetable, zone=UTC)).find(f"{SVG}desc")
    assert described is not None
    for row in timetable.tasks:
        assert f"{row.start:%H:%M}-{row.end:%H:%M}" in described.text


def test_late_pour_is_said_in_words_not_by_color_alone(timetable) -> None:
    pour = timetable.task("C0/pickup-1/pour")
    late = Late("C0", "pickup-1", pour.end, pour.start, 4.0, Band.STRETCHED, 300)
    shown = texts(draw_timetable_bars(replace(timetable, late=(late,)), zone=UTC))
    assert any(t.startswith("Does not fit: past its window pickup-1 by 4 min") for t in shown)
    assert "window of pickup-1 ends" in shown


def test_empty_timetable_says_so(timetable) -> None:
    assert "Nothing is left to do." in texts(draw_timetable_bars(replace(timetable, tasks=(), late=()), zone=UTC))


def test_text_is_escaped(timetable) -> None:
    row = replace(timetable.tasks[0], what="<b>&", who="a<b")
    svg = draw_timetable_bars(replace(timetable, tasks=(row, *timetable.tasks[1:])), zone=UTC)
    assert any("<b>&" in t for t in texts(svg))


def test_long_day_keeps_its_marks_apart(timetable) -> None:
    last = timetable.tasks[-1]
    far = replace(last, start=last.start + timedelta(hours=30), end=last.end + timedelta(hours=30))
    svg = draw_timetable_bars(replace(timetable, tasks=(*timetable.tasks[:-1], far)), zone=UTC)
    assert len([t for t in texts(svg) if re.fullmatch(r"\d\d:\d\d", t)]) < 20
