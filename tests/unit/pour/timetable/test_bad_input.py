"""Problems that cannot be meant are refused, all faults at once, in words that say what mends them."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from seatwright.errors import CaseError, InputError
from seatwright.pour import Band
from seatwright.pour.timetable import (
    AgeBand,
    Fact,
    Lag,
    Machine,
    Pin,
    PlanOptions,
    Problem,
    Task,
    Window,
    Worker,
    make_timetable,
    replan,
    require_sound,
)

NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
WORKER = Worker("w", frozenset({"work"}))


def problem(**other) -> Problem:
    fields = {
        "origin": NOW,
        "tasks": (
            Task("C/i/a", "a", 60, "C", "i", steps=("a",), skill="work"),
            Task("C/i/b", "b", 60, "C", "i", steps=("b",)),
        ),
        "workers": (WORKER,),
    }
    return Problem(**(fields | other))


def window(*bands: AgeBand, **other) -> Window:
    fields = {"task": "C/i/a", "case": "C", "impression": "i", "out_s": 0, "bands": bands}
    return Window(**(fields | other))


GOOD = (AgeBand(0, 600, Band.WITHIN, 10), AgeBand(600, None, Band.BEYOND, None))

BAD = {
    "a cycle in precedence": (
        {"lags": (Lag("o", "C/i/a", "C/i/b"), Lag("o", "C/i/b", "C/i/a"))},
        "wait for each other in a circle",
    ),
    "contradicting lags": (
        {"lags": (Lag("least", "C/i/a", "C/i/b", min_s=600), Lag("most", "C/i/a", "C/i/b", max_s=60))},
        "contradict each other by 9.0 min",
    ),
    "a skill that nobody has": ({"workers": (Worker("w", frozenset()),)}, "nobody at this bench has the skill 'work'"),
    "equipment that is not there": ({"tasks": (Task("a", "a", 60, needs=("vacuum_mixer",)),)}, "no vacuum_mixer"),
    "a zero duration": ({"tasks": (Task("a", "a", 0),)}, "a duration of 0 s"),
    "a negative duration": ({"tasks": (Task("a", "a", -60),)}, "a duration of -60 s"),
    "a name twice": ({"tasks": (Task("a", "a", 60), Task("a", "a", 60))}, "the name stands twice"),
    "an unknown task in a lag": ({"lags": (Lag("o", "C/i/a", "nothing"),)}, "it names nothing, which is no task"),
    "a lag that is shorter than itself": (
        {"lags": (Lag("o", "C/i/a", "C/i/b", min_s=60, max_s=30),)},
        "longest time is shorter",
    ),
    "a window on no task": ({"windows": (window(*GOOD, task="nothing"),)}, "it names 'nothing', no task"),
    "bands with a hole": (
        {"windows": (window(AgeBand(0, 60, Band.WITHIN, 1), AgeBand(90, None, Band.BEYOND, None)),)},
        "do not follow each other",
    ),
    "bands with an end": ({"windows": (window(AgeBand(0, 60, Band.WITHIN, 1)),)}, "its last band ends"),
    "no bands": ({"windows": (window(),)}, "no bands"),
    "a weight of nothing": ({"windows": (window(*GOOD, weight=0),)}, "its weight is not positive"),
    "a break that ends before it begins": (
        {"workers": (Worker("w", frozenset({"work"}), ((60, 30),)),)},
        "it ends before it begins",
    ),
    "a pin that ends before it starts": ({"tasks": (Task("a", "a", 60, pin=Pin(60, 0)),)}, "ended before it started"),
    "a pin to nobody": ({"tasks": (Task("a", "a", 60, pin=Pin(0, 60, "ghost")),)}, "'ghost' is nobody"),
    "a pin on nothing": ({"tasks": (Task("a", "a", 60, pin=Pin(0, 60, "", ("x",))),)}, "'x' is no equipment"),
    "a time without its zone": ({"origin": NOW.replace(tzinfo=None)}, "a time without its zone"),
}


@pytest.mark.parametrize("case", BAD, ids=str)
def test_bad_problem_is_refused_with_what_is_wrong(case) -> None:
    fields, words = BAD[case]
    with pytest.raises(CaseError) as caught:
        require_sound(problem(**fields))
    assert any(words in fault.what for fault in caught.value.faults)
    assert all(fault.hint for fault in caught.value.faults)


def test_good_problem_passes() -> None:
    require_sound(problem(windows=(window(*GOOD),), machines=(Machine("m", "mixer"),)))


def test_all_faults_are_told_at_once() -> None:
    with pytest.raises(CaseError) as caught:
        require_sound(problem(workers=(), tasks=(Task("a", "a", 0, skill="work", needs=("mixer",)),)))
    assert len(caught.value.faults) == 3


def test_window_already_past_is_a_result_with_what_to_do() -> None:
    past = window(*GOOD, out_s=-3600)
    _, timetable = make_timetable(problem(windows=(past,)), options=PlanOptions(limit_s=60))
    assert [late.band for late in timetable.late] == [Band.BEYOND]
    assert "is past already" in timetable.findings[0].what
    assert timetable.findings[0].do


def test_clock_going_backwards_is_refused() -> None:
    made, timetable = make_timetable(problem(), options=PlanOptions(limit_s=60))
    with pytest.raises(InputError, match="clock went backwards"):
        replan(made, timetable, (), now=NOW - timedelta(seconds=1))


def test_step_that_ended_before_it_started_is_refused() -> None:
    made, timetable = make_timetable(problem(), options=PlanOptions(limit_s=60))
    turned = Fact("C", "i", "a", 0, NOW + timedelta(minutes=5), NOW, "w")
    with pytest.raises(CaseError, match="ended before it started"):
        replan(made, timetable, (turned,), now=NOW + timedelta(minutes=6))


def test_pinned_facts_that_contradict_a_rule_are_not_argued_with() -> None:
    tasks = problem().tasks
    pinned = (replace(tasks[0], pin=Pin(0, 60, "w")), replace(tasks[1], pin=Pin(0, 60)))
    made = problem(tasks=pinned, lags=(Lag("o", "C/i/a", "C/i/b"),))
    _, timetable = make_timetable(made, options=PlanOptions(limit_s=60))
    assert timetable.proven
