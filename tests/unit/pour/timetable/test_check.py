"""The checker finds each kind of fault that a hand can make."""

from dataclasses import replace
from datetime import timedelta

import pytest
from tests.bench_days import bench_day

from seatwright.pour.timetable import PlanOptions, check_timetable, make_timetable

MINUTE = timedelta(minutes=1)


@pytest.fixture(scope="module")
def day():
    return make_timetable(bench_day((3,), n_people=2), options=PlanOptions(limit_s=60))


def moved(timetable, name: str, **fields):
    rows = tuple(replace(row, **fields) if row.id == name else row for row in timetable.tasks)
    assert rows != timetable.tasks
    return replace(timetable, tasks=rows)


def rules(problem, timetable) -> set[str]:
    return {violation.rule for violation in check_timetable(problem, timetable)}


def shifted(timetable, name: str, by: timedelta):
    row = timetable.task(name)
    return moved(timetable, name, start=row.start + by, end=row.end + by)


def test_sound_timetable_passes(day) -> None:
    assert check_timetable(*day) == ()


def test_missing_task_is_found(day) -> None:
    problem, timetable = day
    assert rules(problem, replace(timetable, tasks=timetable.tasks[1:])) == {"once"}


def test_task_that_stands_twice_is_found(day) -> None:
    problem, timetable = day
    assert "once" in rules(problem, replace(timetable, tasks=(*timetable.tasks, timetable.tasks[0])))


def test_unknown_task_is_found(day) -> None:
    problem, timetable = day
    stray = replace(timetable.tasks[0], id="stray")
    assert "known" in rules(problem, replace(timetable, tasks=(*timetable.tasks, stray)))


def test_shortened_task_is_found(day) -> None:
    problem, timetable = day
    row = timetable.task("C0/pickup-1/pour")
    assert "duration" in rules(problem, moved(timetable, row.id, end=row.end - MINUTE))


def test_broken_order_is_found(day) -> None:
    assert "order" in rules(day[0], shifted(day[1], "C0/pickup-1/mix", -5 * MINUTE))


def test_too_early_a_start_is_found(day) -> None:
    first = min(day[1].tasks, key=lambda row: row.start)
    assert "release" in rules(day[0], shifted(day[1], first.id, -30 * MINUTE))


def test_mix_left_standing_is_found(day) -> None:
    assert "working-time" in rules(day[0], shifted(day[1], "C0/pickup-1/pour", 10 * MINUTE))


def test_late_separation_is_found(day) -> None:
    assert "separation" in rules(day[0], shifted(day[1], "C0/opposing-1/separate", 60 * MINUTE))


def test_person_doing_two_things_is_found(day) -> None:
    problem, timetable = day
    pour = timetable.task("C0/pickup-1/pour")
    other = next(r for r in timetable.tasks if r.who and r.id != pour.id and r.start < pour.start)
    both = moved(timetable, other.id, start=pour.start, end=pour.start + (other.end - other.start), who=pour.who)
    assert "hands" in rules(problem, both)


def test_unknown_person_is_found(day) -> None:
    assert "hands" in rules(day[0], moved(day[1], "C0/pickup-1/pour", who="ghost"))


def test_person_on_a_step_without_hands_is_found(day) -> None:
    assert "hands" in rules(day[0], moved(day[1], "C0/pickup-1/disinfect", who="p1"))


def test_wrong_equipment_is_found(day) -> None:
    assert "equipment" in rules(day[0], moved(day[1], "C0/pickup-1/mix", equipment=()))


def test_equipment_used_twice_at_once_is_found(day) -> None:
    problem, timetable = day
    mix = timetable.task("C0/pickup-1/mix")
    clash = moved(timetable, "C0/opposing-1/mix", start=mix.start, end=mix.end)
    assert "equipment" in rules(problem, clash)


def test_missing_skill_is_found(day) -> None:
    problem, timetable = day
    workers = tuple(replace(w, skills=frozenset({"mix"})) for w in problem.workers)
    assert "skill" in rules(replace(problem, workers=workers), timetable)


def test_work_in_a_break_is_found(day) -> None:
    problem, timetable = day
    pour = timetable.task("C0/pickup-1/pour")
    span = (problem.offset_s(pour.start) + 30, problem.offset_s(pour.end) + 600)
    workers = tuple(replace(w, breaks_s=(span,)) for w in problem.workers)
    assert "break" in rules(replace(problem, workers=workers), timetable)


def test_crowded_tray_is_found(day) -> None:
    problem, timetable = day
    dies = next(r for r in timetable.tasks if "gel-fill" in r.steps)
    box = timetable.task("C0/pickup-1/box")
    crowded = replace(problem, machines=tuple(m for m in problem.machines if not m.id.endswith("#2")))
    together = moved(timetable, box.id, start=dies.start, end=dies.start + (box.end - box.start))
    assert "place" not in rules(problem, together)
    assert "place" in rules(crowded, together)


def test_window_missed_in_silence_is_found(day) -> None:
    problem, timetable = day
    window = next(w for w in problem.windows if w.impression == "opposing-1")
    tight = replace(window, out_s=window.out_s - 3600)
    harder = replace(problem, windows=tuple(tight if w is window else w for w in problem.windows))
    assert "window" in rules(harder, timetable)


def test_false_alarm_is_found(day) -> None:
    problem = day[0]
    window = next(w for w in problem.windows if w.impression == "opposing-1")
    tight = replace(window, out_s=window.out_s - 3600)
    harder = replace(problem, windows=tuple(tight if w is window else w for w in problem.windows))
    _, late = make_timetable(harder, options=PlanOptions(limit_s=60))
    assert late.late
    assert "window" in rules(problem, late)


def test_wrong_makespan_is_found(day) -> None:
    problem, timetable = day
    goals = tuple(replace(g, value=g.value + 60) if g.name == "makespan" else g for g in timetable.goals)
    assert rules(problem, replace(timetable, goals=goals)) == {"makespan"}
