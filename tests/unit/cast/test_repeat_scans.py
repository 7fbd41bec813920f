"""Repeat scans: what was put in as scatter comes out, whatever pose each scan has."""

import numpy as np
import pytest
from scipy import stats

from seatwright.cast import (
    RepeatPoses,
    assess_distances,
    cochran_limit,
    estimate_repeatability,
    pool_repeats,
    spread_interval,
)
from seatwright.errors import CannotCompute, ValueOutOfRange

PLACES = np.array([[-25, 20, 0], [-22, 5, 1], [-10, -8, 0], [8, -9, 2], [21, 4, 0], [24, 21, 1]], dtype=float)


def repeats(rng, n_scans=4, s_shift=0.008, s_turn=0.001, frame=0.0):
    means = rng.normal(0, 0.05, (6, 6))
    middle = PLACES.mean(axis=0)
    motions = np.empty((6, n_scans, 6))
    for j in range(n_scans):
        common = np.concatenate([rng.normal(0, frame, 3), rng.normal(0, frame / 30, 3)])
        for i in range(6):
            carried = common.copy()
            carried[:3] += np.cross(common[3:], PLACES[i] - middle)
            scatter = np.concatenate([rng.normal(0, s_shift, 3), rng.normal(0, s_turn, 3)])
            motions[i, j] = means[i] + carried + scatter
    return tuple(RepeatPoses(str(i), PLACES[i], tuple(range(n_scans)), motions[i]) for i in range(6))


def test_scatter_is_found_within_its_own_interval() -> None:
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(200):
        found = estimate_repeatability(repeats(rng))
        low, high = found.shift_interval_um
        inside += low <= 8.0 <= high
    assert 180 <= inside <= 198  # 95 % of 200, at the 99.9 % level of the binomial law


def test_pose_of_each_scan_changes_nothing() -> None:
    still = estimate_repeatability(repeats(np.random.default_rng(5)))
    rng = np.random.default_rng(5)
    calm = repeats(rng)
    moved = []
    frames = np.random.default_rng(9).normal(0, 0.3, (4, 6)) * np.array([1, 1, 1, 0.01, 0.01, 0.01])
    middle = PLACES.mean(axis=0)
    for unit in calm:
        arm = unit.about_mm - middle
        shifts = frames[:, :3] + np.cross(frames[:, 3:], arm)
        moved.append(
            RepeatPoses(unit.tooth, unit.about_mm, unit.scans, unit.motions + np.hstack([shifts, frames[:, 3:]]))
        )
    found = estimate_repeatability(moved)
    assert found.s_shift_um == pytest.approx(still.s_shift_um, rel=1e-6)
    assert found.s_turn_deg == pytest.approx(still.s_turn_deg, rel=1e-6)


def test_degrees_of_freedom_are_counted_after_means_and_poses() -> None:
    found = estimate_repeatability(repeats(np.random.default_rng(1), n_scans=4))
    assert found.dof_shift.sum() + found.dof_turn.sum() == pytest.approx(6 * (6 - 1) * (4 - 1))
    assert found.shift_um.dof == pytest.approx(found.dof_shift.sum())


def test_unit_missing_on_a_scan_is_no_obstacle() -> None:
    units = list(repeats(np.random.default_rng(2)))
    units[2] = RepeatPoses("2", units[2].about_mm, (0, 3), units[2].motions[[0, 3]])
    found = estimate_repeatability(units)
    assert 4 < found.shift_um.value < 14


@pytest.mark.parametrize("n_scans", [1, 2])
def test_too_little_repeated_is_refused(n_scans) -> None:
    units = repeats(np.random.default_rng(2), n_scans=n_scans)[: 1 if n_scans == 2 else 6]
    with pytest.raises(CannotCompute):
        estimate_repeatability(units)


def test_scan_named_twice_is_refused() -> None:
    units = list(repeats(np.random.default_rng(2)))
    units[0] = RepeatPoses("0", PLACES[0], (0, 0, 1, 2), units[0].motions)
    with pytest.raises(ValueOutOfRange, match="twice"):
        estimate_repeatability(units)


def test_trueness_and_precision_are_told_apart() -> None:
    rng = np.random.default_rng(4)
    reference = np.array([20.0, 35.0, 50.0])
    measured = reference * 1.001 + rng.normal(0, 0.005, (400, 3))
    found = assess_distances(measured, reference, u_reference_mm=0.001)
    assert found.trueness_um == pytest.approx([20, 35, 50], abs=1.5)
    assert found.pooled_precision_um.value == pytest.approx(5.0, rel=0.1)
    assert found.u_trueness_um.min() > 1.0
    assert found.worst_trueness_um == pytest.approx(50, abs=1.5)


def test_pooled_spread_matches_the_one_way_analysis_of_a_general_purpose_library() -> None:
    rng = np.random.default_rng(8)
    cells = [rng.normal(m, 0.3, 5) for m in (1.0, 1.2, 0.7, 1.1)]
    pooled = pool_repeats(cells)
    f = stats.f_oneway(*cells).statistic
    between = 5 * pooled.s_between**2 + pooled.s**2
    assert between / pooled.s**2 == pytest.approx(f, rel=1e-12)
    assert pooled.dof == 16


@pytest.mark.parametrize(
    ("n_cells", "n_repeats", "printed"), [(2, 3, 0.975), (5, 2, 0.841), (10, 3, 0.445), (6, 4, 0.532)]
)
def test_cochran_limit_matches_the_printed_table(n_cells, n_repeats, printed) -> None:
    """ISO 5725-2, table 4, 5 % columns (from memory)."""
    assert abs(cochran_limit(n_cells, n_repeats) - printed) <= 0.0005


def test_outlying_cell_is_named() -> None:
    rng = np.random.default_rng(8)
    cells = [rng.normal(10, 0.02, 4) for _ in range(6)]
    cells[3] = cells[3] + np.array([0.0, 0.3, 0.0, 0.0])
    assert pool_repeats(cells).outlying_cell == 3


def test_nothing_repeated_is_refused() -> None:
    with pytest.raises(CannotCompute, match="read twice"):
        pool_repeats([[1.0], [2.0]])


def test_spread_interval_covers_at_its_level() -> None:
    rng = np.random.default_rng(6)
    s = rng.normal(0, 1, (4000, 6)).std(axis=1, ddof=1)
    inside = np.mean([low <= 1 <= high for low, high in (spread_interval(float(v), 5) for v in s)])
    assert abs(inside - 0.95) < 0.012
