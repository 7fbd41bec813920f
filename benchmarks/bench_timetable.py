"""Timetables of bench days: the bars, and what a day costs from 2 to 40 impressions.

Run: ``python benchmarks/bench_timetable.py [bars|seconds|table]``.

Bars: 6 impressions with 20 units, 2 people, one mixer: proven <= 2 s; a new timetable after a slip <= 1 s; the published job shops
FT06 (55) <= 1 s and FT10 (930) <= 30 s, proven. Data: invented days in ``tests/bench_days.py``; job shops in
``tests/published/jobshop``. One search worker. Wall and processor seconds are both given: on a busy machine only the
second says something about the program. Every timetable is re-checked by the independent checker.
"""

import sys
import time
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))  # the days and job shops stand among the tests

from tests.bench_days import bench_day, facts_as_planned
from tests.published.jobshop.test_jobshop import job_shop

from seatwright.pour.timetable import PlanOptions, Problem, Timetable, check_timetable, make_timetable, replan

MINUTE = timedelta(minutes=1)
SIZES = (2, 4, 6, 8, 12, 20, 30, 40)
TABLE_LIMIT_S = 10.0


def solve(problem: Problem, limit_s: float) -> tuple[Problem, Timetable, float, float]:
    wall, cpu = time.perf_counter(), time.process_time()
    made, timetable = make_timetable(problem, options=PlanOptions(limit_s=limit_s))
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    violations = check_timetable(made, timetable)
    if violations:
        raise SystemExit(f"unsound: {violations[:3]}")
    return made, timetable, wall, cpu


def show(name: str, timetable: Timetable, wall: float, cpu: float, note: str = "") -> None:
    span = timetable.goal("makespan")
    proven = "proven" if timetable.proven else f"bound {span.bound}"
    late = f"{len(timetable.late)} late" if timetable.late else "none late"
    print(f"{name:34s} {len(timetable.tasks):4d} tasks  makespan {span.value:6d} {proven:13s} {late:9s} "
          f"{wall:6.2f} s wall {cpu:6.2f} s cpu  {note}", flush=True)  # fmt: skip


def bars() -> None:
    for name, limit_s in (("FT06", 1.0), ("FT10", 30.0)):
        _, timetable, wall, cpu = solve(job_shop(name), limit_s)
        show(name, timetable, wall, cpu, f"bar {limit_s:g} s")
    for gap_min in (0, 2, 4, 8, 15, 25):
        made, timetable, wall, cpu = solve(bench_day((7, 7, 6), gap_min=gap_min), 10.0)
        show(f"6 impressions, visits {gap_min} min apart", timetable, wall, cpu, "bar 2 s")
        for minute in (15, 35, 60):
            now = timetable.now + minute * MINUTE
            facts = facts_as_planned(timetable, now=now, late_min=3)
            start, cpu = time.perf_counter(), time.process_time()
            again, new = replan(made, timetable, facts, now=now)
            wall, cpu = time.perf_counter() - start, time.process_time() - cpu
            if check_timetable(again, new):
                raise SystemExit("unsound")
            change = next((g for g in new.goals if g.name == "change"), new.goals[0])
            late = next((g for g in new.goals if g.name == "late"), new.goals[0])
            windows = "windows proven" if late.is_proven else f"windows {late.value}, bound {late.bound}"
            note = f"bar 1 s; {windows}; change {change.value} s, bound {change.bound}"
            show(f"  slip at minute {minute}", new, wall, cpu, note)


def seconds() -> None:
    """Visits logged to the second, so that nothing falls on full minutes."""
    for gap_min in (0, 2, 4, 8, 15, 25):
        for seed in range(8):
            _, timetable, wall, cpu = solve(bench_day((7, 7, 6), gap_min=gap_min, seed=seed), 10.0)
            show(f"visits {gap_min} min apart, seed {seed}", timetable, wall, cpu, "bar 2 s")


def table() -> None:
    print(f"two people; visits 15 min apart; search limit {TABLE_LIMIT_S:g} s")
    for n_impressions in SIZES:
        n_cases = n_impressions // 2
        units = tuple(7 - i % 2 for i in range(n_cases))
        _, timetable, wall, cpu = solve(bench_day(units, gap_min=15), TABLE_LIMIT_S)
        show(f"{n_impressions} impressions, {sum(units)} units", timetable, wall, cpu)


if __name__ == "__main__":
    asked = sys.argv[1:] or ["bars", "seconds", "table"]
    if "bars" in asked:
        bars()
    if "seconds" in asked:
        seconds()
    if "table" in asked:
        table()
