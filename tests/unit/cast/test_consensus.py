import numpy as np
import pytest
from scipy import stats
from scipy.spatial.transform import Rotation

from seatwright.cast._consensus import SCALE_PRIOR, find_stable_set
from seatwright.cast._lattice import Pose, fit_lattice, relate
from seatwright.cast._misfit import Freedom, chance_of_misfit, gate_misfit

CENTERS = np.array([[x, 20 - x * x / 30, 0.3 * k] for k, x in enumerate(np.linspace(-25, 25, 10))])


def poses(
    rng: np.random.Generator, moved: dict[int, float], *, scale: float = 0.0, u_mm: float = 0.003
) -> tuple[Pose, ...]:
    covariance = np.diag([u_mm**2] * 3 + [(u_mm / 2) ** 2] * 3)
    common_shift, common_turn = np.array([0.02, -0.01, 0.03]), np.array([1e-3, -2e-3, 5e-4])
    made = []
    for k, center in enumerate(CENTERS):
        arm = center - CENTERS.mean(axis=0)
        motion = np.concatenate([common_shift + np.cross(common_turn, arm) + scale * arm, common_turn])
        motion[2] += moved.get(k, 0.0)
        made.append(Pose(center, motion + rng.multivariate_normal(np.zeros(6), covariance), covariance, center))
    return tuple(made)


def test_gates_are_those_of_the_chi_square_law() -> None:
    """Chi-square quantile, six degrees of freedom, at .95^(1/n); scipy prints 18.49 for ten and 19.32 for fourteen."""
    assert gate_misfit(1) == pytest.approx(stats.chi2.ppf(0.95, 6))
    assert round(gate_misfit(10), 2) == 18.49
    assert round(gate_misfit(14), 2) == 19.32


def test_distance_under_an_estimated_covariance_follows_hotelling_s_law() -> None:
    """Hotelling (1931): with one variance of nu degrees of freedom for all six directions the distance over six is F."""
    rng = np.random.default_rng(4)
    nu, n = 12.0, 200_000
    size = rng.chisquare(nu, n) / nu
    inflated = nu / (nu - 2)  # the covariance that is told is that of the t law
    distance = rng.chisquare(6, n) / (size * inflated)
    gate = gate_misfit(14, Freedom(nu, nu))
    # 14 tests at 5 % together: each at 0.366 %; a binomial of 200000 stays within 0.05 % of it in 99.9 % of runs
    assert (distance > gate).mean() == pytest.approx(1 - 0.95 ** (1 / 14), abs=0.0005)
    assert chance_of_misfit(gate, Freedom(nu, nu)) == pytest.approx(1 - 0.95 ** (1 / 14))


def test_freedom_of_the_worst_direction_bounds_what_an_average_over_six_lets_through() -> None:
    rng = np.random.default_rng(5)
    least, n = 12.0, 200_000
    level = 1 - 0.95 ** (1 / 14)
    size = rng.chisquare(least, n) / least
    every = rng.chisquare(6, n) / size
    one = rng.normal(size=n) ** 2 / size * (least - 2) / least + rng.chisquare(5, n)
    assert (every > gate_misfit(14, Freedom(60.0, 60.0))).mean() > 2 * level
    stretched = least / (least - 2)  # the covariance that is told in that direction is that of the t law
    assert (every / stretched > gate_misfit(14, Freedom(60.0, least))).mean() == pytest.approx(level, abs=0.0005)
    assert (one > gate_misfit(14, Freedom(60.0, least))).mean() < level


def test_unmoved_casts_raise_a_false_alarm_in_about_five_percent() -> None:
    rng = np.random.default_rng(12)
    n = 300
    alarms = sum(len(find_stable_set(poses(rng, {})).members) < 10 for _ in range(n))
    # a binomial of 300 at .05 stays below 29 in 99.9 % of runs; leaving a unit out of its own frame adds nothing
    assert alarms <= 29


def test_four_of_ten_moved_units_are_found() -> None:
    stable = find_stable_set(poses(np.random.default_rng(1), {0: 0.1, 4: -0.2, 5: 0.3, 9: 0.05}))
    assert stable.members == (1, 2, 3, 6, 7, 8)


def test_group_that_moved_together_is_the_rival() -> None:
    stable = find_stable_set(poses(np.random.default_rng(2), {1: 0.2, 2: 0.2, 3: 0.2}))
    assert stable.members == (0, 4, 5, 6, 7, 8, 9)
    assert stable.rival == (1, 2, 3)


def test_scale_does_not_break_the_set_and_is_found() -> None:
    units = poses(np.random.default_rng(3), {6: 0.2}, scale=0.001)
    stable = find_stable_set(units)
    assert stable.members == (0, 1, 2, 3, 4, 5, 7, 8, 9)
    lattice = fit_lattice([units[k] for k in stable.members], CENTERS.mean(axis=0), SCALE_PRIOR)
    assert lattice.scale.value == pytest.approx(0.001, abs=4 * lattice.scale.u)
    assert lattice.scale.u < 1e-4


def test_frame_of_shifts_alone_agrees_with_the_closed_form() -> None:
    """Outside check: with turns unknown and equal weights the frame is scipy's Rotation.align_vectors."""
    rng = np.random.default_rng(5)
    covariance = np.diag([1e-6] * 3 + [1e6] * 3)
    turn, shift = np.array([2e-4, -1e-4, 3e-4]), np.array([0.01, 0.02, -0.03])
    middle = CENTERS.mean(axis=0)
    moved = Rotation.from_rotvec(turn).apply(CENTERS - middle) + middle + shift + rng.normal(0, 0.001, CENTERS.shape)
    units = [Pose(c, np.concatenate([m - c, np.zeros(3)]), covariance, c) for c, m in zip(CENTERS, moved, strict=True)]
    frame = fit_lattice(units, middle, SCALE_PRIOR)
    closed, _ = Rotation.align_vectors(moved - moved.mean(axis=0), CENTERS - middle)
    assert frame.motion[3:6] == pytest.approx(closed.as_rotvec(), abs=2e-7)
    assert frame.motion[:3] == pytest.approx(moved.mean(axis=0) - middle, abs=1e-9)


def test_relative_covariance_grows_with_the_distance_from_the_frame() -> None:
    units = poses(np.random.default_rng(6), {})
    frame = fit_lattice(units[:4], CENTERS[:4].mean(axis=0), SCALE_PRIOR)
    sizes = [np.trace(relate(u, frame).raw_covariance[:3, :3]) for u in units]
    assert sizes[9] > sizes[6] > sizes[4]
    assert min(sizes) > np.trace(units[0].covariance[:3, :3])
