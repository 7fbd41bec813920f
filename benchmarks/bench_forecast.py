"""The forecast: trials of the chain, exact seating of four attachments and three rests, and a whole forecast.

Run: ``python benchmarks/bench_forecast.py``. Bars: 1e6 trials of the chain <= 0.5 s; seating probability from >= 2e4
trials with its standard error <= 3 s; whole forecast of the example <= 6 s; same bits for a seed. The peer of the
seating program is scipy's linprog, program by program. Wall and processor time are both shown: on a busy machine the
second one is the fair one.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.optimize import linprog

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.unit.forecast.seating_cases import seat_case

from seatwright.case import MaleJoin
from seatwright.forecast import Choices, MeasuredUnit, forecast_seating
from seatwright.forecast._misfit import find_measurands
from seatwright.forecast._seating import Setup, build_setup
from seatwright.forecast._trials import JointDraws, draw_errors
from seatwright.quantities import count_proportion

TECHNIQUES = {37: "gel", 35: "gel", 33: "masked", 42: "masked", 43: "masked", 44: "gel", 45: "analog"}
CHOICES = Choices(die_technique=TECHNIQUES, male_joined={"sleeve-front": MaleJoin.LUTED_ON_CAST})

MEASURED = tuple(
    MeasuredUnit(r.tooth, np.zeros(3), np.zeros(3), np.diag([1e-4] * 3 + [9e-6] * 3), np.array(r.seed_mm))
    for r in seat_case().region
    if r.tooth != 34
)


def timed(what: str, bar_s: float, run: Callable[[], object]) -> object:
    wall, cpu = time.perf_counter(), time.process_time()
    answer = run()
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    verdict = "within" if min(wall, cpu) <= bar_s else "BEYOND"
    print(f"{what:58} {wall:6.2f} s wall {cpu:6.2f} s processor; bar {bar_s:g} s: {verdict}")
    return answer


def draw_chain(setup: Setup) -> int:
    measurands = find_measurands(setup.chain, CHOICES)
    draw = JointDraws(setup.chain, np.array([m.coefficients for m in measurands]) @ setup.chain.loading)
    rng = np.random.default_rng(1)
    for _ in range(20):
        draw(rng, 50_000)
    return len(measurands)


def seat(setup: Setup, n: int) -> str:
    slack = setup.program.solve(draw_errors(setup.chain, 1, n), sign_only=True).slack_mm
    found = count_proportion(int((slack >= 0).sum()), n)
    return f"p = {found.value:.4f} ± {found.u:.4f}"


def seat_one_by_one(setup: Setup, n: int) -> float:
    limits = setup.program.limits(draw_errors(setup.chain, 1, n))
    goal = -np.eye(setup.program.rows.shape[1])[-1]
    start = time.perf_counter()
    for row in limits:
        linprog(goal, A_ub=setup.program.rows, b_ub=row, bounds=(None, None))
    return (time.perf_counter() - start) / n


def main() -> None:
    setup = build_setup(seat_case(), CHOICES)
    seat(setup, 2000)  # compiled kernels are loaded once
    n = timed("1e6 trials of the chain", 0.5, lambda: draw_chain(setup))
    print(f"    ({len(setup.chain.causes)} causes, {n} measurands at once)")
    fresh = build_setup(seat_case(), CHOICES)
    print("   ", timed("2e4 seating programs, 4 attachments and 3 rests", 3.0, lambda: seat(fresh, 20_000)))
    each = seat_one_by_one(setup, 100)
    print(f"    linprog takes {1000 * each:.2f} ms a program: {20_000 * each:.0f} s for the same")

    def whole() -> object:
        return forecast_seating(seat_case(), CHOICES, np.random.default_rng(1))

    def measured() -> object:
        return forecast_seating(seat_case(), CHOICES, np.random.default_rng(1), measured=MEASURED)

    first = timed("whole forecast of the example", 6.0, whole)
    print(f"    bit-identical for the seed: {first == whole()}")
    timed("the same after a cast check, with the chance before it", 6.0, measured)


if __name__ == "__main__":
    main()
