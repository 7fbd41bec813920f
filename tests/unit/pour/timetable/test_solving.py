"""Small problems whose answer is plain."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from seatwright.pour import Band
from seatwright.pour.timetable import (
    AgeBand,
    Edge,
    Lag,
    Machine,
    Pin,
    PlanOptions,
    Problem,
    Task,
    Window,
    Worker,
    check_timetable,
    make_timetable,
)

NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)


def problem(tasks, lags=(), workers=(), machines=(), windows=(), grid_s=1) -> Problem:
    return Problem(NOW, tuple(tasks), tuple(lags), tuple(workers), tuple(machines), tuple(windows), grid_s)


def plan(made: Problem):
    made, timetable = make_timetable(made, options=PlanOptions(limit_s=60))
    assert check_timetable(made, timetable) == ()
    return timetable


def seconds(timetable, name: str) -> tuple[float, float]:
    row = timetable.task(name)
    return (row.start - NOW).total_seconds(), (row.end - NOW).total_seconds()


def everyone(n: int, *, breaks=()) -> tuple[Worker, ...]:
    return tuple(Worker(f"w{i}", frozenset({"work"}), breaks) for i in range(n))


def window(task: str, within_s: int, stretched_s: int | None = None, *, weight: int = 1, costs=(100, 300)) -> Window:
    bands = [AgeBand(0, within_s, Band.WITHIN, costs[0])]
    if stretched_s is not None:
        bands.append(AgeBand(within_s, stretched_s, Band.STRETCHED, costs[1]))
    bands.append(AgeBand(bands[-1].until_s, None, Band.BEYOND, None))
    return Window(task, "C", task, 0, tuple(bands), weight=weight)


def test_two_tasks_of_one_person_follow_each_other() -> None:
    timetable = plan(problem([Task("a", "a", 60, skill="work"), Task("b", "b", 60, skill="work")], workers=everyone(1)))
    assert timetable.goal("makespan").value == 120
    assert timetable.proven


def test_two_people_work_at_the_same_time() -> None:
    timetable = plan(problem([Task("a", "a", 60, skill="work"), Task("b", "b", 60, skill="work")], workers=everyone(2)))
    assert timetable.goal("makespan").value == 60


def test_somebody_without_the_skill_is_not_asked() -> None:
    workers = (Worker("trainee", frozenset({"mix"})), Worker("technician", frozenset({"mix", "work"})))
    tasks = [Task("a", "a", 60, skill="work"), Task("b", "b", 60, skill="work"), Task("m", "m", 60, skill="mix")]
    timetable = plan(problem(tasks, workers=workers))
    assert {timetable.task(name).who for name in "ab"} == {"technician"}
    assert timetable.task("m").who == "trainee"


def test_break_keeps_hands_away_but_not_what_needs_none() -> None:
    workers = everyone(1, breaks=((90, 300),))
    tasks = [Task("a", "a", 60, skill="work"), Task("b", "b", 60, skill="work"), Task("set", "sets", 200)]
    timetable = plan(problem(tasks, [Lag("o", "a", "b"), Lag("o", "a", "set")], workers))
    assert seconds(timetable, "b") == (300, 360)
    assert seconds(timetable, "set") == (60, 260)


def test_second_machine_of_a_kind_halves_the_queue() -> None:
    tasks = [Task(name, name, 60, needs=("mixer",)) for name in "abcd"]
    one = plan(problem(tasks, machines=[Machine("m1", "mixer")]))
    two = plan(problem(tasks, machines=[Machine("m1", "mixer"), Machine("m2", "mixer")]))
    assert one.goal("makespan").value == 240
    assert two.goal("makespan").value == 120


def test_longest_time_holds_the_mix_back_until_the_pour_can_follow() -> None:
    tasks = [Task("mix", "mix", 60), Task("box", "box", 500), Task("pour", "pour", 120)]
    lags = [
        Lag("order", "mix", "pour"),
        Lag("order", "box", "pour"),
        Lag("working-time", "mix", "pour", Edge.START, Edge.END, None, 300),
    ]
    timetable = plan(problem(tasks, lags))
    assert seconds(timetable, "pour")[1] - seconds(timetable, "mix")[0] <= 300
    assert timetable.goal("makespan").value == 620


def test_longest_time_that_breaks_forbid_is_overstepped_as_little_as_can_be() -> None:
    workers = everyone(1, breaks=((60, 500),))
    tasks = [Task("mix", "mix", 60, skill="work", not_before_s=0), Task("pour", "pour", 100, skill="work")]
    lags = [Lag("order", "mix", "pour"), Lag("working-time", "mix", "pour", Edge.START, Edge.END, None, 300)]
    first = plan(problem(tasks, lags, workers))
    assert first.oversteps == ()
    begun = [replace(tasks[0], pin=Pin(0, 60, "w0")), tasks[1]]
    made = problem(begun, lags, workers)
    timetable = plan(made)
    assert [o.lag for o in timetable.oversteps] == ["working-time"]
    assert timetable.oversteps[0].by_min == pytest.approx((600 - 300) / 60)
    assert timetable.findings[0].id == "timetable-working-time"


def test_window_comes_before_forecast_error_and_error_before_makespan() -> None:
    tasks = [Task("p1", "p1", 100, skill="work"), Task("p2", "p2", 100, skill="work")]
    cheap_first = [window("p1", 200, 1000, costs=(10, 20)), window("p2", 100, 1000, costs=(10, 20))]
    timetable = plan(problem(tasks, workers=everyone(1), windows=cheap_first))
    assert timetable.late == ()
    assert seconds(timetable, "p2") == (0, 100)
    same_window = [window("p1", 100, 1000, costs=(10, 500)), window("p2", 100, 1000, costs=(10, 20))]
    timetable = plan(problem(tasks, workers=everyone(1), windows=same_window))
    assert [late.impression for late in timetable.late] == ["p2"]
    assert timetable.goal("error").value == 30


def test_lighter_impression_is_given_up_first() -> None:
    tasks = [Task("pick", "pick", 100, skill="work"), Task("opposing", "opposing", 100, skill="work")]
    windows = [window("pick", 100, weight=3), window("opposing", 100, weight=1)]
    timetable = plan(problem(tasks, workers=everyone(1), windows=windows))
    assert [late.impression for late in timetable.late] == ["opposing"]
    assert timetable.late[0].by_min == pytest.approx(100 / 60)
    assert timetable.proven


def test_planned_impression_is_taken_no_earlier_than_its_pour_needs() -> None:
    tasks = [
        Task("other", "other", 600, skill="work"),
        Task("take", "take", 60),
        Task("pour", "pour", 100, skill="work"),
    ]
    bands = (AgeBand(0, 300, Band.WITHIN, 10), AgeBand(300, None, Band.BEYOND, None))
    taken = Window("pour", "C", "i", None, bands, out_task="take")
    timetable = plan(
        problem(tasks, [Lag("order", "take", "pour"), Lag("order", "other", "pour")], everyone(1), windows=[taken])
    )
    assert timetable.late == ()
    assert timetable.goal("age").value == 100


def test_grid_never_breaks_a_rule_that_is_kept_in_seconds() -> None:
    tasks = [Task("a", "a", 50, skill="work"), Task("b", "b", 50, skill="work", not_before_s=47)]
    timetable = plan(problem(tasks, [Lag("o", "a", "b", min_s=13)], everyone(1, breaks=((100, 131),)), grid_s=30))
    assert seconds(timetable, "b")[0] >= 131


def test_empty_problem_is_an_empty_timetable() -> None:
    timetable = plan(problem([]))
    assert timetable.tasks == ()
    assert timetable.proven
