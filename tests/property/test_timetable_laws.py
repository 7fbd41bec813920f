"""Laws of timetables on random small problems, against a checker and an exhaustive search."""

from dataclasses import replace
from datetime import UTC, datetime
from itertools import permutations, product

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from seatwright.pour import Band
from seatwright.pour.timetable import (
    AgeBand,
    Lag,
    Machine,
    PlanOptions,
    Problem,
    Task,
    Window,
    Worker,
    check_timetable,
    make_timetable,
    replan,
)
from seatwright.pour.timetable._network import find_knot
from seatwright.pour.timetable._pools import WHO, Pool, deal_names

NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
SKILLS = ("mix", "pour")
SLOW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
QUICK = PlanOptions(limit_s=60)


@st.composite
def problems(draw, *, max_tasks: int = 6) -> Problem:
    n_tasks = draw(st.integers(1, max_tasks))
    workers = [Worker("all", frozenset(SKILLS), draw(st.sampled_from([(), ((4, 6),), ((0, 3), (9, 11))])))]
    workers += [Worker(f"w{i}", frozenset({draw(st.sampled_from(SKILLS))})) for i in range(draw(st.integers(0, 2)))]
    machines = [Machine(f"m{i}", "mixer") for i in range(draw(st.integers(1, 2)))]
    tasks = [
        Task(
            f"t{i}",
            f"t{i}",
            draw(st.integers(1, 5)),
            "C",
            f"t{i}",
            steps=(f"t{i}",),
            skill=draw(st.sampled_from(["", *SKILLS])),
            needs=draw(st.sampled_from([(), ("mixer",)])),
            not_before_s=draw(st.integers(0, 3)),
        )
        for i in range(n_tasks)
    ]
    lags = []
    for i, j in product(range(n_tasks), repeat=2):
        if i < j and draw(st.booleans()) and draw(st.booleans()):
            longest = draw(st.sampled_from([None, None, 8]))
            lags.append(Lag(f"lag-{i}-{j}", f"t{i}", f"t{j}", min_s=draw(st.integers(0, 2)), max_s=longest))
    windows = [
        Window(f"t{i}", "C", f"t{i}", 0, _bands(draw(st.integers(1, 12)), draw(st.integers(1, 12))), weight=1 + i % 2)
        for i in range(n_tasks)
        if draw(st.booleans())
    ]
    made = Problem(NOW, tuple(tasks), tuple(lags), tuple(workers), tuple(machines), tuple(windows))
    assume(find_knot(made) is None)
    return made


def _bands(within_s: int, more_s: int) -> tuple[AgeBand, ...]:
    return (
        AgeBand(0, within_s, Band.WITHIN, 10),
        AgeBand(within_s, within_s + more_s, Band.STRETCHED, 40),
        AgeBand(within_s + more_s, None, Band.BEYOND, None),
    )


@SLOW
@given(problems())
def test_every_timetable_keeps_every_rule(problem) -> None:
    made, timetable = make_timetable(problem, options=QUICK)
    assert check_timetable(made, timetable) == ()
    assert timetable.bound <= timetable.objective
    assert timetable.proven == all(goal.is_proven for goal in timetable.goals)


@SLOW
@given(problems(), st.integers(2, 7))
def test_coarser_grid_still_keeps_every_rule(problem, grid_s) -> None:
    made, timetable = make_timetable(replace(problem, grid_s=grid_s), options=QUICK)
    assert check_timetable(made, timetable) == ()


def _stretched(problem: Problem, step_s: int, odd_s: int) -> Problem:
    """Return the problem with all work, lags and windows so many times as long, and releases off it."""
    tasks = [replace(t, duration_s=t.duration_s * step_s, not_before_s=t.not_before_s * odd_s) for t in problem.tasks]
    lags = [
        replace(lag, min_s=(lag.min_s or 0) * step_s, max_s=None if lag.max_s is None else lag.max_s * step_s)
        for lag in problem.lags
    ]
    windows = [
        replace(
            w,
            bands=tuple(
                replace(b, since_s=b.since_s * step_s, until_s=None if b.until_s is None else b.until_s * step_s)
                for b in w.bands
            ),
        )
        for w in problem.windows
    ]
    workers = [replace(w, breaks_s=tuple((a * step_s, b * step_s) for a, b in w.breaks_s)) for w in problem.workers]
    return replace(
        problem, tasks=tuple(tasks), lags=tuple(lags), windows=tuple(windows), workers=tuple(workers), grid_s=1
    )


@SLOW
@given(problems(max_tasks=5), st.integers(2, 6), st.integers(2, 6))
def test_coarse_grid_loses_no_window_and_less_than_one_step(problem, step_s, odd_s) -> None:
    fine = _stretched(problem, step_s, odd_s)
    made, coarse = make_timetable(replace(fine, coarse_grid_s=step_s), options=QUICK)
    _, best = make_timetable(fine, options=QUICK)
    assert check_timetable(made, coarse) == ()
    values = {goal.name: goal.value for goal in coarse.goals}
    least = {goal.name: goal.value for goal in best.goals}
    windows = [name for name in ("overstep", "late", "reserve", "error") if name in least]
    assert [values[name] for name in windows] == [least[name] for name in windows]
    assert least["makespan"] <= values["makespan"] < least["makespan"] + step_s


@SLOW
@given(problems(max_tasks=5), st.integers(2, 6))
def test_coarse_grid_loses_nothing_where_all_is_in_whole_steps(problem, step_s) -> None:
    fine = _stretched(problem, step_s, step_s)
    _, coarse = make_timetable(replace(fine, coarse_grid_s=step_s), options=QUICK)
    _, best = make_timetable(fine, options=QUICK)
    assert [(g.name, g.value) for g in coarse.goals] == [(g.name, g.value) for g in best.goals]


@SLOW
@given(problems(max_tasks=4))
def test_solver_is_as_good_as_trying_every_order(problem) -> None:
    plain = replace(
        problem,
        lags=tuple(replace(lag, max_s=None) for lag in problem.lags),
        windows=(),
    )
    _, timetable = make_timetable(plain, options=QUICK)
    assert timetable.proven
    assert timetable.goal("makespan").value == _naive_makespan(plain)


def _naive_makespan(problem: Problem) -> int:
    """Return the least makespan over every order and every choice of hands and machines, placed as early as can be.

    Exact without maximum lags: some order of earliest placements is optimal.
    """
    best = 10**9
    ids = [task.id for task in problem.tasks]
    for order in permutations(range(len(ids))):
        hands = [
            [w.id for w in problem.workers if problem.tasks[i].skill in w.skills] if problem.tasks[i].skill else [""]
            for i in order
        ]
        things = [[m.id for m in problem.machines] if problem.tasks[i].needs else [""] for i in order]
        for who in product(*hands):
            for what in product(*things):
                best = min(best, _place(problem, order, who, what))
    return best


def _place(problem: Problem, order, who, what) -> int:
    free = {}
    start = {}
    breaks = {w.id: w.breaks_s for w in problem.workers}
    lengths = {t.id: t.duration_s for t in problem.tasks}
    for i, person, thing in zip(order, who, what, strict=True):
        task = problem.tasks[i]
        at = max(task.not_before_s, free.get(person, 0) if person else 0, free.get(thing, 0) if thing else 0)
        for lag in problem.lags:
            if lag.second == task.id:
                if lag.first not in start:
                    return 10**9
                at = max(at, start[lag.first] + lengths[lag.first] + lag.min_s)
        moved = True
        while moved:
            moved = False
            for since, until in breaks.get(person, ()):
                if at < until and at + task.duration_s > since:
                    at, moved = until, True
        start[task.id] = at
        for name in filter(None, (person, thing)):
            free[name] = at + task.duration_s
    return max(start[name] + lengths[name] for name in start)


@SLOW
@given(problems())
def test_bound_of_a_search_without_time_is_a_bound_and_proven_means_it(problem) -> None:
    _, hurried = make_timetable(problem, options=PlanOptions(limit_s=1e-6))
    _, best = make_timetable(problem, options=QUICK)
    assert best.proven
    assert hurried.bound <= best.objective <= hurried.objective
    assert not hurried.proven or hurried.objective == best.objective


@SLOW
@given(problems(), st.integers(1, 5))
def test_tighter_window_never_makes_less_late(problem, by_s) -> None:
    tighter = replace(
        problem,
        windows=tuple(replace(window, out_s=window.out_s - by_s) for window in problem.windows),
    )
    _, loose = make_timetable(problem, options=QUICK)
    _, tight = make_timetable(tighter, options=QUICK)
    if loose.proven and tight.proven and problem.windows and not loose.oversteps and not tight.oversteps:
        assert tight.goal("late").value >= loose.goal("late").value


@SLOW
@given(problems())
def test_one_more_pair_of_hands_never_hurts(problem) -> None:
    helped = replace(problem, workers=(*problem.workers, Worker("extra", frozenset(SKILLS))))
    _, alone = make_timetable(problem, options=QUICK)
    _, both = make_timetable(helped, options=QUICK)
    assert alone.proven
    assert both.proven
    assert both.objective <= alone.objective or bool(alone.oversteps)


@SLOW
@given(problems())
def test_replan_without_news_changes_nothing(problem) -> None:
    made, timetable = make_timetable(problem, options=QUICK)
    again, new = replan(made, timetable, (), now=NOW, options=QUICK)
    assert check_timetable(again, new) == ()
    if not timetable.oversteps:
        assert new.goal("change").value == 0
        assert new.changes == ()


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(1, 10)), max_size=12))
def test_names_are_dealt_so_that_nobody_does_two_things(spans) -> None:
    tasks = {f"t{i}": (start, start + length) for i, (start, length) in enumerate(spans)}
    moments = [start for start, _ in tasks.values()]
    most = max((sum(a <= m < b for a, b in tasks.values()) for m in moments), default=1)
    dealt = deal_names(Pool(WHO, tuple(f"p{i}" for i in range(most))), tasks)
    assert set(dealt) == set(tasks)
    for one, other in product(tasks, repeat=2):
        if one < other and dealt[one] == dealt[other]:
            assert tasks[one][1] <= tasks[other][0] or tasks[other][1] <= tasks[one][0]
