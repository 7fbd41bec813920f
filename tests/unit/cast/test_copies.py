"""A mesh given twice is no repeat scan; two tessellations of one surface are two scans."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from seatwright.cast._copies import find_copies
from seatwright.mesh import Surface, move_surface
from seatwright.quantities import FloatArray, invert_transform, make_transform

STILL = np.eye(4)


def ground(n: int, turn: float, seed: int) -> Surface:
    """A hilly sheet of 30 mm, sampled on a grid of its own: turned by `turn`, set down anywhere within a cell."""
    rng = np.random.default_rng(seed)
    step = 30.0 / n
    x, y = np.meshgrid(np.arange(n) * step - 15, np.arange(n) * step - 15, indexing="ij")
    flat = np.stack([x.ravel(), y.ravel()], 1) + rng.uniform(0, step, 2)
    xy = flat @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    z = 2 * np.sin(xy[:, 0] / 3) * np.cos(xy[:, 1] / 4)
    at = np.arange(n * n, dtype=np.int32).reshape(n, n)
    a, b, c, d = (k.ravel() for k in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    return Surface(np.column_stack([xy, z]), np.vstack([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


def changed(surface: Surface, how: str) -> tuple[Surface, FloatArray]:
    """The mesh changed in a way that makes no scan of it, and where it would be found (2 µm off)."""
    rng = np.random.default_rng(3)
    vertices, faces = surface.vertices_mm, surface.faces
    if how == "rounded":
        return Surface(vertices.astype(np.float32).astype(np.float64), faces), STILL
    if how == "reordered":
        order = rng.permutation(len(vertices))
        back = np.empty_like(order)
        back[order] = np.arange(len(order))
        return Surface(vertices[order], back[faces].astype(np.int32)), STILL
    if how == "noisy":
        return Surface(vertices + rng.normal(0, 0.01, vertices.shape), faces), STILL
    if how == "cut":
        kept = faces[vertices[faces[:, 0], 0] < 3]
        return Surface(vertices, kept), STILL
    T = make_transform(Rotation.random(random_state=5).as_rotvec(), np.array([10.0, -40.0, 3.0]))
    off = make_transform(np.zeros(3), np.array([0.002, -0.001, 0.001]))
    return move_surface(surface, T), off @ invert_transform(T)


@pytest.mark.parametrize("how", ["same", "rounded", "reordered", "noisy", "cut", "moved"])
def test_copy_is_known_whatever_was_done_to_it(how: str) -> None:
    first = ground(150, 0.0, 1)
    copy, T = (first, STILL) if how == "same" else changed(first, how)
    [found] = find_copies([first, copy], [STILL, T])
    assert (found.scan, found.of) == (1, 0)


@pytest.mark.parametrize(("n", "turn"), [(150, 0.0), (150, 0.4), (140, 0.0), (75, 0.2)])
def test_other_tessellation_is_a_scan_of_its_own(n: int, turn: float) -> None:
    assert find_copies([ground(150, 0.0, 1), ground(n, turn, 2)], [STILL, STILL]) == ()


def test_copy_of_a_later_scan_is_named_after_that() -> None:
    one, two = ground(150, 0.0, 1), ground(150, 0.4, 2)
    [found] = find_copies([one, two, two], [STILL] * 3)
    assert (found.scan, found.of, found.share) == (2, 1, 1.0)
