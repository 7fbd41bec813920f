"""Study of the caliper check: false alarms, coverage, location, against what a simulation knows. `python benchmarks/study_caliper.py [n]`

Casts of six marks on an arch, every distance read three times (s 15 µm, steps of 10 µm), tolerance 50 µm. Seeds from
50000 on; none was looked at while the method was made.
"""

import sys
import time
from itertools import combinations

import numpy as np

from seatwright.cast import CaliperAsked, CaliperReading, Epoch, check_caliper
from seatwright.findings import Verdict
from seatwright.quantities import count_proportion

ARCH = np.array([[25, 20, 0], [22, 5, 0], [10, -8, 0], [-8, -9, 0], [-21, 4, 0], [-24, 21, 0]], dtype=float)
HEIGHTS = np.array([0.0, 8.0, 0.0, 7.0, 1.0, 9.0])
NAMES = ("37", "35", "33", "43", "45", "47")
FIRST_SEED = 50_000


def read(places, rng, moved, *, s=0.015, n=3, scale=0.0):
    readings = []
    for epoch in (Epoch.MOUTH, Epoch.CAST):
        at = places + moved if epoch is Epoch.CAST else places
        at = at * (1 + scale if epoch is Epoch.CAST else 1)
        for i, j in combinations(range(len(at)), 2):
            true = float(np.linalg.norm(at[i] - at[j]))
            readings += [CaliperReading(epoch, NAMES[i], NAMES[j], round(true + rng.normal(0, s), 2)) for _ in range(n)]
    return readings


def share(hits, n):
    p = count_proportion(hits, n)
    return f"{100 * p.value:5.1f} % ({100 * p.low:.1f} to {100 * p.high:.1f})"


def in_sketch(result, vector):
    at = np.array([m.place_mm for m in result.marks])
    true = ARCH[[NAMES.index(m.mark) for m in result.marks], : at.shape[1]]
    left, _, right = np.linalg.svd((at - at.mean(0)).T @ (true - true.mean(0)))
    return left @ right @ vector[: at.shape[1]]


def study_unmoved(n, places, n_marks):
    alarms = wrong = 0
    for seed in range(FIRST_SEED, FIRST_SEED + n):
        rng = np.random.default_rng(seed)
        result = check_caliper(read(places[:n_marks], rng, np.zeros((n_marks, 3))))
        alarms += not result.stable.overall.passes
        wrong += result.verdict is Verdict.DOES_NOT_CONFORM
    print(f"unmoved, {n_marks} marks: alarm {share(alarms, n)}; wrongly 'does not conform' {share(wrong, n)}")


def study_moved(n, size_um):
    named = covered = others = n_placed = 0
    for seed in range(FIRST_SEED, FIRST_SEED + n):
        rng = np.random.default_rng([seed, size_um])
        k, angle = int(rng.integers(6)), rng.uniform(0, 2 * np.pi)
        moved = np.zeros((6, 3))
        moved[k, :2] = np.array([np.cos(angle), np.sin(angle)]) * size_um * 1e-3
        result = check_caliper(read(ARCH, rng, moved))
        found = {m.mark for m in result.marks if m.is_moved}
        named += found == {NAMES[k]}
        others += bool(found - {NAMES[k]})
        if found == {NAMES[k]}:
            mark = next(m for m in result.marks if m.mark == NAMES[k])
            off = mark.moved_um - in_sketch(result, 1e3 * moved[k])
            covered += float(off @ np.linalg.solve(mark.covariance_um2, off)) <= 2 * 3.15  # F(2, 60), 95 %
            n_placed += 1
    print(
        f"one mark moved {size_um} µm: named alone {share(named, n)}; another blamed {share(others, n)}; "
        f"truth in its 95 % ellipse {share(covered, max(n_placed, 1))}"
    )


def study_declared(n):
    covered = 0
    for seed in range(FIRST_SEED, FIRST_SEED + n):
        rng = np.random.default_rng([seed, 7])
        moved = np.zeros((6, 3))
        moved[4, :2] = [0.1, 0.05]
        result = check_caliper(read(ARCH, rng, moved), CaliperAsked(stable=tuple(m for m in NAMES if m != "45")))
        mark = next(m for m in result.marks if m.mark == "45")
        off = mark.moved_um - in_sketch(result, 1e3 * moved[4])
        covered += float(off @ np.linalg.solve(mark.covariance_um2, off)) <= 2 * 3.15
    print(f"stable marks declared: truth in its 95 % ellipse {share(covered, n)}")


def study_scale(n):
    told = blamed = 0
    for seed in range(FIRST_SEED, FIRST_SEED + n):
        rng = np.random.default_rng([seed, 9])
        result = check_caliper(read(ARCH, rng, np.zeros((6, 3)), scale=0.003))
        told += result.stable.with_scale
        blamed += any(m.is_moved for m in result.marks)
    print(f"cast 0.3 % large: told as scale {share(told, n)}; a single mark blamed {share(blamed, n)}")


def main() -> None:
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    start = time.process_time()
    study_unmoved(n, ARCH, 4)
    study_unmoved(n, ARCH, 6)
    study_unmoved(n // 4, ARCH + np.column_stack([np.zeros((6, 2)), HEIGHTS]), 6)
    for size_um in (50, 100, 200):
        study_moved(n, size_um)
    study_declared(n)
    study_scale(n)
    print(f"{time.process_time() - start:.0f} s of processor time")


if __name__ == "__main__":
    main()
