"""Correlated error over small cells and through a fit, against closed forms and a general library's dense matrices."""

import numpy as np
import pytest
import trimesh
from scipy.spatial.distance import cdist

from seatwright.cast._correlation import Kernel, Places, carry_error, correlation, mean_correlation, squared_nodes
from seatwright.cast._unit_cells import _stiffness, gather_points, measure_sag_mm
from seatwright.mesh import Surface, index_surface


@pytest.mark.parametrize(("apart", "extent"), [(0.0, 0.3), (0.5, 0.3), (1.0, 0.5), (2.0, 0.5), (0.7, 0.0)])
def test_mean_correlation_of_two_round_clouds_agrees_with_the_closed_form(apart: float, extent: float) -> None:
    """Outside check: for normal clouds in a plane and a Gaussian kernel the mean is a Gaussian integral.

    E exp(-|d + z|²/2l²), z ~ N(0, v I) in two dimensions, is exp(-d²/2(l² + v)) / (1 + v/l²).
    """
    length, v = 0.8, extent / 2
    exact = np.exp(-(apart**2) / (2 * (length**2 + v))) / (1 + v / length**2)
    assert mean_correlation(apart**2, extent, int(Kernel.GAUSSIAN), length) == pytest.approx(exact, rel=1e-12)
    near, far, weight = squared_nodes(apart**2, extent)
    falls = [float(correlation(np.sqrt(d), length, Kernel.GAUSSIAN)) for d in (near, far)]
    # two nodes, as the other kernels use them, come within two hundredths
    assert weight * falls[0] + (1 - weight) * falls[1] == pytest.approx(exact, abs=0.02)


@pytest.mark.parametrize("kernel", list(Kernel))
def test_mean_correlation_over_points_agrees_with_the_kernel(kernel: Kernel) -> None:
    distance = np.array([0.0, 0.3, 2.0])
    told = [mean_correlation(d * d, 0.0, int(kernel), 1.7) for d in distance]
    assert told == pytest.approx(correlation(distance, 1.7, kernel), rel=1e-12)


@pytest.mark.parametrize(("kernel", "length", "least"), [
    (Kernel.GAUSSIAN, 4.0, 0.97), (Kernel.GAUSSIAN, 1.0, 0.95), (Kernel.EXPONENTIAL, 2.0, 0.95), (Kernel.MATERN_3_2, 2.0, 0.96),
])  # fmt: skip
def test_covariance_of_a_fit_agrees_with_dense_matrices(kernel: Kernel, length: float, least: float) -> None:
    """Outside check: H^-1 J' K J H^-1 with the kernel between all points of a dome, cells left out."""
    around, down = np.meshgrid(np.arange(44) * 2 * np.pi / 44, np.arccos(1 - (np.arange(20) + 0.5) / 20))
    normals = np.stack([np.sin(down) * np.cos(around), np.sin(down) * np.sin(around), np.cos(down)], -1).reshape(-1, 3)
    points = normals * [4.0, 4.5, 5.5] * (1 + 0.15 * np.cos(3 * around).reshape(-1, 1) * normals[:, 2:])
    rows = np.hstack([normals, np.cross(points - points.mean(axis=0), normals)])
    cells = gather_points(points, rows, (np.zeros(len(points)), np.ones(len(points))), 200.0, 1.0)
    inverse = np.linalg.inv(rows.T @ rows)
    lever = inverse @ rows.T
    dense = lever @ correlation(cdist(points, points), length, kernel) @ lever.T
    told = carry_error(cells.fine, inverse, [(kernel, length, 1.0)])
    ratio = np.sqrt(np.diag(told) / np.diag(dense))
    assert ratio.min() > least
    assert ratio.max() < 1.02


def test_parts_add_up() -> None:
    rng = np.random.default_rng(3)
    places = Places(rng.uniform(-3, 3, (40, 3)), rng.normal(size=(40, 6)), rng.uniform(0, 0.2, 40))
    one, two = (Kernel.GAUSSIAN, 1.0, 2.0), (Kernel.EXPONENTIAL, 3.0, 0.5)
    inverse = np.eye(6)
    both = carry_error(places, inverse, [one, two])
    assert both == pytest.approx(carry_error(places, inverse, [one]) + carry_error(places, inverse, [two]), rel=1e-9)
    assert carry_error(places, inverse, []) == pytest.approx(np.zeros((6, 6)))


def test_sag_of_a_faceted_ball_agrees_with_its_volume() -> None:
    """Outside check: trimesh's inscribed ball lacks volume; over its area that is the mean sag."""
    ball = trimesh.creation.icosphere(3, 5.0)
    index = index_surface(Surface(np.asarray(ball.vertices), np.asarray(ball.faces)))
    exact = (4 / 3 * np.pi * 5.0**3 - ball.volume) / ball.area
    assert measure_sag_mm(index, np.arange(len(ball.faces))) == pytest.approx(exact, rel=0.02)


def test_noise_of_the_normals_does_not_stiffen_a_round_crown() -> None:
    """Outside check: rows with independent noise from two scans; the truth is the rows without noise, by definition.

    Squares of one scan's rows make the turn of a nearly round crown twice as stiff as it is.
    """
    rng = np.random.default_rng(11)
    around, height = rng.uniform(0, 2 * np.pi, 20000), rng.uniform(-3, 3, 20000)
    lean = 0.05 * np.sin(4 * around)
    normals = np.stack([np.cos(around + lean), np.sin(around + lean), np.zeros(20000)], -1)
    points = np.stack([4 * np.cos(around), 4 * np.sin(around), height], -1)
    shaken = [normals + rng.normal(0, 0.05, normals.shape) for _ in range(2)]
    true, one, two = (np.hstack([n, np.cross(points, n)]) for n in (normals, *shaken))
    told = _stiffness(one, two, np.ones(20000))
    assert told[5, 5] == pytest.approx((true.T @ true)[5, 5], rel=0.05)
    assert (one.T @ one)[5, 5] > 1.5 * told[5, 5]
    assert np.diag(told)[:2] == pytest.approx(np.diag(true.T @ true)[:2], rel=0.02)
