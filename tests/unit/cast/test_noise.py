"""Model of the scan error from residuals, against a general library's normal law and dense matrices."""

import numpy as np
import pytest
from scipy import stats
from scipy.linalg import null_space
from scipy.spatial.distance import cdist

from seatwright.cast._correlation import Kernel, Places, correlate_cells, correlation, mean_correlation
from seatwright.cast._likelihood import profile_likelihood
from seatwright.cast._noise import covariance_of_unit, fit_noise
from seatwright.cast._unit_cells import UnitCells, gather_points
from seatwright.quantities import FloatArray


def draw_unit(rng: np.random.Generator, n: int) -> UnitCells:
    places = Places(rng.uniform(-3, 3, (n, 3)), rng.normal(size=(n, 6)), rng.uniform(0, 0.3, n))
    return UnitCells(
        places, rng.normal(0, 0.01, n), rng.uniform(0.5, 2.0, n), rng.uniform(5, 40, n), places, np.eye(6), np.eye(6), 3.0, 0.0
    )  # fmt: skip


def contrasts(unit: UnitCells, shared: FloatArray, ratio: float) -> tuple[FloatArray, FloatArray]:
    """What no pose touches, and its covariance by the definition, in units of a point's independent variance."""
    free = null_space((unit.places.rows / unit.weight[:, None]).T)
    return free.T @ unit.residual_mm, free.T @ (np.diag(1 / unit.n_effective) + ratio * shared) @ free


@pytest.mark.parametrize("kernel", list(Kernel))
def test_likelihood_agrees_with_a_normal_law_of_what_no_pose_touches(kernel: Kernel) -> None:
    """Outside check: scipy's multivariate normal law of the contrasts; equal to rounding of some 50 pivots."""
    rng = np.random.default_rng(8)
    units, ratios = [draw_unit(rng, 30), draw_unit(rng, 23)], np.array([0.0, 0.02, 0.4, 30.0])
    kernels = [(kernel, 0.9), (kernel, 2.0)]
    value, variance = profile_likelihood(units, kernels, ratios)

    def dense(which: int, ratio: float, size: float) -> float:
        parts = [contrasts(u, correlate_cells(u.places, kernels)[which], ratio) for u in units]
        return -2 * float(sum(stats.multivariate_normal.logpdf(y, cov=size * v) for y, v in parts))

    exact = np.array([[dense(k, r, variance[k, j]) for j, r in enumerate(ratios)] for k in range(2)])
    assert value - value[0, 0] == pytest.approx(exact - exact[0, 0], rel=1e-9, abs=1e-8)
    # the variance told is the most likely one
    for off in (0.99, 1.01):
        assert dense(1, ratios[2], off * variance[1, 2]) > exact[1, 2]


@pytest.mark.parametrize("kernel", list(Kernel))
def test_correlation_of_cells_is_that_of_every_pair(kernel: Kernel) -> None:
    places = draw_unit(np.random.default_rng(2), 9).places
    apart, extent = cdist(places.centers_mm, places.centers_mm) ** 2, np.add.outer(*[places.extent2_mm2] * 2)
    pairs = [mean_correlation(*pair, int(kernel), 1.3) for pair in zip(apart.ravel(), extent.ravel(), strict=True)]
    assert correlate_cells(places, [(kernel, 1.3)])[0].ravel() == pytest.approx(np.array(pairs), rel=1e-12)


def test_what_rounding_leaves_without_a_covariance_is_not_a_model() -> None:
    """A smooth kernel over long lengths is singular to rounding: no value may be made up there."""
    unit = draw_unit(np.random.default_rng(9), 60)
    value, _ = profile_likelihood([unit], [(Kernel.GAUSSIAN, 5.0)], np.array([0.0, 1.0, 1e12]))
    assert np.isfinite(value[0, :2]).all()
    assert value[0, 2] == np.inf
    terms = fit_noise((unit,)).terms
    assert sum(t.probability for t in terms) == pytest.approx(1.0)
    assert np.isfinite([t.correlated_mm2 for t in terms]).all()


def test_models_know_how_far_off_they_are() -> None:
    """Outside check: the pose's true covariance by dense matrices of all points, over 24 casts of fourteen domes.

    Told over true variance must scatter as much as the degrees of freedom say: a variance from 24 lies within 0.41 and
    1.90 of the true one in 99 % of draws (chi-square). A grid too coarse for the likelihood scattered 2.2 times as much.
    """
    rng = np.random.default_rng(20)
    around, down = np.meshgrid(np.arange(36) * 2 * np.pi / 36, np.arccos(1 - (np.arange(18) + 0.5) / 18))
    normals = np.stack([np.sin(down) * np.cos(around), np.sin(down) * np.sin(around), np.cos(down)], -1).reshape(-1, 3)
    points = normals * [4.0, 4.5, 5.5] * (1 + 0.15 * np.cos(3 * around).reshape(-1, 1) * normals[:, 2:])
    rows = np.hstack([normals, np.cross(points - points.mean(axis=0), normals)])
    lever = np.linalg.solve(rows.T @ rows, rows.T)
    error = 0.007**2 * np.eye(len(points)) + 0.005**2 * correlation(cdist(points, points), 2.0, Kernel.GAUSSIAN)
    root, true = np.linalg.cholesky(error), lever @ error @ lever.T
    off, told, inside = [], [], []
    for _ in range(24):
        drawn = root @ rng.normal(size=(len(points), 14))
        poses = lever @ drawn
        left = drawn - rows @ poses
        cells = tuple(gather_points(points, rows, (r, np.ones(len(points))), 200.0, 1.0) for r in left.T)
        covariance, freedom = covariance_of_unit(cells[0], fit_noise(cells), 0.0)
        off.append(np.log(np.trace(np.linalg.solve(true, covariance)) / 6))
        told.append(2 / freedom.common)
        inside.append(np.abs(poses) < 1.96 * np.sqrt(np.diag(covariance))[:, None])
    assert 0.41 < np.var(off, ddof=1) / np.mean(told) < 1.90
    assert 0.93 < np.mean(inside) < 0.97
