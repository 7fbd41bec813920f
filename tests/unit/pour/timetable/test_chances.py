"""The simulation agrees with closed forms, and reserves are held where they help."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from scipy import stats
from tests.bench_days import bench_day

from seatwright.case import Duration
from seatwright.pour import Band
from seatwright.pour.timetable import (
    AgeBand,
    Edge,
    Lag,
    Pin,
    PlanOptions,
    Problem,
    Task,
    Window,
    Worker,
    check_timetable,
    find_remedies,
    learn_paces,
    make_timetable,
    replay_runs,
    simulate_misses,
    with_more_hands,
)
from seatwright.pour.timetable._remedies import count_hands
from seatwright.pour.timetable._simulate import draw_durations

NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
HANDS = (Worker("w", frozenset({"work"})),)


def window(task: str, within_min: float, **other) -> Window:
    until = round(within_min * 60)
    bands = (AgeBand(0, until, Band.WITHIN, 10), AgeBand(until, None, Band.BEYOND, None))
    return Window(task, "C", task, 0, bands, **other)


def planned(problem: Problem):
    return make_timetable(problem, options=PlanOptions(limit_s=60))


def test_one_step_misses_its_window_as_often_as_its_beta_law_says() -> None:
    spread = Duration(1, 2, 6)
    problem = Problem(
        NOW, (Task("p", "p", 120, skill="work", spread=spread),), workers=HANDS, windows=(window("p", 3),)
    )
    miss = simulate_misses(*planned(problem), rng=np.random.default_rng(3), n_runs=20_000)[0]
    # the beta law of PERT on [1, 6] with mode 2: alpha 1 + 4/5, beta 1 + 16/5
    expected = stats.beta(1.8, 4.2).sf((3 - 1) / 5)
    assert miss.chance == pytest.approx(expected, abs=4 * miss.u_chance)
    assert miss.u_chance == pytest.approx(np.sqrt(expected * (1 - expected) / 20_000), rel=0.1)


def test_drawn_durations_have_the_mean_of_pert_and_stay_in_their_range() -> None:
    drawn = draw_durations(Duration(0.5, 1, 4), np.random.default_rng(1).standard_normal(100_000)) / 60
    assert drawn.min() >= 0.5
    assert drawn.max() <= 4
    assert drawn.mean() == pytest.approx((0.5 + 4 * 1 + 4) / 6, abs=0.01)


def test_step_without_spread_takes_exactly_its_time() -> None:
    problem = Problem(NOW, (Task("a", "a", 60, skill="work"), Task("b", "b", 90, skill="work")), workers=HANDS)
    problem, timetable = planned(problem)
    replay = replay_runs(problem, timetable, rng=np.random.default_rng(1), n_runs=5)
    assert max(end.max() for end in replay.ends_s.values()) == 150


def test_mix_is_held_back_while_the_impression_is_not_ready() -> None:
    spread = Duration(8, 10, 20)
    tasks = (
        Task("box", "box", 600, skill="box", spread=spread),
        Task("mix", "mix", 60, skill="mix"),
        Task("pour", "pour", 120, skill="box"),
    )
    lags = (
        Lag("order", "box", "pour"),
        Lag("order", "mix", "pour"),
        Lag("working-time", "mix", "pour", Edge.START, Edge.END, None, 300),
    )
    workers = (Worker("w", frozenset({"box"})), Worker("m", frozenset({"mix"})))
    misses = simulate_misses(*planned(Problem(NOW, tasks, lags, workers)), rng=np.random.default_rng(1), n_runs=2000)
    assert [m for m in misses if m.kind == "lag"] == []


def test_break_is_kept_in_every_run() -> None:
    spread = Duration(1, 2, 8)
    workers = (Worker("w", frozenset({"work"}), ((300, 900),)),)
    tasks = tuple(Task(n, n, 120, skill="work", spread=spread) for n in "abcd")
    problem, timetable = planned(Problem(NOW, tasks, workers=workers))
    replay = replay_runs(problem, timetable, rng=np.random.default_rng(1), n_runs=500)
    for starts in replay.starts_s.values():
        assert not ((starts > 300) & (starts < 900)).any()


def test_same_seed_gives_the_same_chances() -> None:
    made = planned(bench_day((4,), n_people=2))
    first = simulate_misses(*made, rng=np.random.default_rng(7), n_runs=300)
    assert first == simulate_misses(*made, rng=np.random.default_rng(7), n_runs=300)


def test_reserve_is_held_for_a_risky_window_and_lowers_its_chance() -> None:
    spread = Duration(2, 4, 10)
    tasks = (
        Task("long", "long", 240, skill="work", spread=spread),
        Task("pour", "pour", 240, skill="work", spread=spread),
    )
    problem = Problem(NOW, tasks, workers=HANDS, windows=(window("pour", 9), window("long", 60)))
    _, plain = planned(problem)
    made, held = make_timetable(problem, options=PlanOptions(limit_s=60, n_runs=2000), rng=np.random.default_rng(1))
    by_name = {m.what: m for m in held.misses}
    assert check_timetable(made, held) == ()
    assert held.task("pour").start <= held.task("long").start
    assert by_name["C/pour"].chance < 0.1
    assert plain.proven


def test_more_hands_are_counted_until_they_suffice() -> None:
    tasks = tuple(Task(n, n, 300, skill="work") for n in "abc")
    problem = Problem(NOW, tasks, workers=HANDS, windows=tuple(window(n, 5) for n in "abc"))
    problem, timetable = planned(problem)
    assert len(timetable.late) == 2
    remedies = find_remedies(problem, timetable)
    assert remedies[0].change == "2 more pairs of hands"
    assert remedies[0].n_late == 0
    assert remedies[0].is_proven
    assert planned(with_more_hands(problem, 1))[1].late


def test_giving_up_what_is_late_saves_the_others_and_a_better_storage_is_tried() -> None:
    tasks = tuple(Task(n, n, 300, "C", n, skill="work") for n in "ab")
    problem = Problem(NOW, tasks, workers=HANDS, windows=(window("a", 5, weight=3), window("b", 5)))
    longer = Problem(NOW, tasks, workers=HANDS, windows=(window("a", 5, weight=3), window("b", 30)))
    problem, timetable = planned(problem)
    remedies = {r.change: r for r in find_remedies(problem, timetable, alternatives={"a humid box": longer})}
    assert remedies["b taken again later"].helps
    assert remedies["a humid box"].n_late == 0


def test_nothing_is_tried_when_nothing_is_late() -> None:
    problem, timetable = planned(Problem(NOW, (Task("a", "a", 60, skill="work"),), workers=HANDS))
    assert find_remedies(problem, timetable) == ()


def test_two_changes_are_tried_together_when_none_suffices_alone() -> None:
    tasks = tuple(Task(n, n, 300, "C", n, skill="work") for n in "ab")
    short = Problem(NOW, tasks, workers=HANDS, windows=(window("a", 4), window("b", 4)))
    quick = replace(short, tasks=tuple(replace(task, duration_s=200) for task in tasks))
    problem, timetable = planned(short)
    found = find_remedies(problem, timetable, alternatives={"quicker dies": quick})
    assert [r.change for r in found if r.n_late == 0] == ["one more pair of hands, and quicker dies"]


def test_fewest_hands_are_counted_whatever_the_bench_has() -> None:
    tasks = tuple(Task(n, n, 300, skill="work") for n in "abc")
    assert count_hands(Problem(NOW, tasks, workers=HANDS, windows=tuple(window(n, 5) for n in "abc"))) == 3
    assert count_hands(Problem(NOW, tasks, workers=HANDS, windows=tuple(window(n, 15) for n in "abc"))) == 1
    assert count_hands(Problem(NOW, tasks, workers=HANDS, windows=tuple(window(n, 4) for n in "abc"))) is None


def test_change_that_makes_a_miss_rare_is_found_and_a_useless_one_is_told_as_such() -> None:
    spread = Duration(2, 4, 10)
    tasks = tuple(Task(n, n, 240, "C", n, skill="work", spread=spread) for n in "ab")
    problem = Problem(NOW, tasks, workers=HANDS, windows=(window("a", 60), window("b", 9)))
    chained = replace(problem, lags=(Lag("order", "a", "b"),))
    wider = replace(chained, windows=(window("a", 60), window("b", 60)))
    options = PlanOptions(limit_s=60, n_runs=1000, remedies_s=10, alternatives=lambda: {"a longer window": wider})
    _, timetable = make_timetable(chained, options=options, rng=np.random.default_rng(1))
    found = {r.change: r for r in timetable.remedies}
    assert {r.about for r in found.values()} == {"C/b"}
    assert found["a longer window"].helps
    assert not found["one more pair of hands"].helps  # one comes after the other, whoever does it
    risk = next(f for f in timetable.findings if f.id == "timetable-risk-window")
    assert "a longer window" in risk.do


def measured(*minutes: float, step: str = "box") -> Problem:
    spread = Duration(4, 8, 15)
    tasks = tuple(
        Task(f"C/i/{step}/{k}", step, 480, steps=(step,), skill="work", spread=spread,
             pin=Pin(0, round(60 * m), is_timed=True))
        for k, m in enumerate(minutes)
    )  # fmt: skip
    return Problem(NOW, tasks, workers=HANDS)


def test_pace_is_drawn_towards_the_table_while_few_were_measured_and_reaches_the_measured_one_with_many() -> None:
    few, many = (learn_paces([measured(*[12.0] * n)])[0] for n in (1, 400))
    assert (few.n_measured, many.n_measured) == (1, 400)
    assert few.factor == pytest.approx(1.5 ** (1 / 5))  # one measurement against a table that counts as four
    assert many.factor == pytest.approx(1.5, rel=0.01)


def test_pace_learns_from_every_day_given() -> None:
    apart = learn_paces([measured(12.0), measured(10.0)])
    assert apart == learn_paces([measured(12.0, 10.0)])
    assert apart[0].n_measured == 2


def test_touch_forgotten_overnight_teaches_nothing_and_is_counted() -> None:
    pace = learn_paces([measured(9.0, 14 * 60.0)])[0]
    assert (pace.n_measured, pace.n_left_out) == (1, 1)
    assert pace.factor == pytest.approx((9 / 8) ** (1 / 5))
