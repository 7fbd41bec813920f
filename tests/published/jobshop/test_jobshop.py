"""The bench's own model builder proves the published optima of two job shops."""

import json
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from seatwright.pour.timetable import (
    Lag,
    Machine,
    PlanOptions,
    Problem,
    Task,
    check_timetable,
    make_timetable,
)

HERE = Path(__file__).parent
INSTANCES = json.loads((HERE / "instances.json").read_text(encoding="utf-8"))


def job_shop(name: str) -> Problem:
    tasks, lags = [], []
    jobs = INSTANCES[name]["jobs"]
    for j, job in enumerate(jobs):
        for k, (machine, length) in enumerate(job):
            tasks.append(Task(f"{j}.{k}", f"job {j} step {k}", length, needs=(f"machine {machine}",)))
            if k:
                lags.append(Lag("order", f"{j}.{k - 1}", f"{j}.{k}"))
    machines = tuple(Machine(f"m{i}", f"machine {i}") for i in range(len(jobs[0])))
    return Problem(datetime(2026, 1, 1, tzinfo=UTC), tuple(tasks), tuple(lags), machines=machines)


@pytest.mark.parametrize(("name", "optimum", "bar_s"), [("FT06", 55, 1.0), ("FT10", 930, 30.0)])
def test_published_job_shop_is_proven_optimal_within_its_time(name, optimum, bar_s) -> None:
    problem = job_shop(name)
    before = time.process_time()  # one worker: its processor time is the wall time of an idle machine
    _, timetable = make_timetable(problem, options=PlanOptions(limit_s=20 * bar_s))
    assert time.process_time() - before <= bar_s
    assert timetable.goal("makespan").value == optimum == INSTANCES[name]["optimum"]
    assert timetable.objective == timetable.bound == optimum
    assert timetable.proven
    assert check_timetable(problem, timetable) == ()


@pytest.mark.parametrize("limit_s", [1e-6, 0.2, 0.8])
def test_search_cut_short_brackets_the_published_optimum_and_does_not_call_it_proven(limit_s) -> None:
    optimum = INSTANCES["FT10"]["optimum"]
    _, timetable = make_timetable(job_shop("FT10"), options=PlanOptions(limit_s=limit_s))
    assert timetable.bound <= optimum <= timetable.objective
    assert timetable.proven == (timetable.bound == timetable.objective)
