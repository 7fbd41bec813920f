"""First coordinates of marks from distances alone: classical scaling, majorization, and mirrored positions tried.

Owns finding the right figure; `_network` refines it. Also says which marks hang together rigidly.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from seatwright.cast._network import Distances, NetworkFit, adjust_network, inner_constraints, rigidity_rows
from seatwright.errors import CannotCompute
from seatwright.quantities import FloatArray

__all__ = [
    "SettledNetwork",
    "complete_distances",
    "find_rigid_marks",
    "place_marks",
    "scale_classically",
    "settle_network",
]

_N_MAJORIZE = 400  # judgement: brings missing distances near enough for the adjustment
_STRETCHES = (1.0, 0.85, 0.7)  # judgement: the shortest path overstates a missing distance by up to a third
_FLAT = 1e-3  # definition: share of the size by which equal or flat starts are moved off each other
_SLACK = 1e-6  # definition: relative rate below which a distance counts as fixed
_LIKELY = 3.84  # definition: 95 % quantile of chi-square, 1 degree of freedom: a mirrored figure within it fits as well


def scale_classically(distance_mm: FloatArray, n_axes: int) -> FloatArray:
    """Return coordinates (n, n_axes) whose distances fit a complete matrix (n, n) best in the sense of strain.

    References
    ----------
    .. [1] Torgerson WS. Multidimensional scaling: I. Theory and method. Psychometrika 1952;17:401-419.

    Examples
    --------
    >>> line = np.abs(np.subtract.outer([0.0, 3.0, 10.0], [0.0, 3.0, 10.0]))
    >>> np.round(np.abs(np.diff(scale_classically(line, 1)[:, 0])), 9)
    array([3., 7.])
    """
    n = distance_mm.shape[0]
    center = np.eye(n) - 1.0 / n
    values, vectors = np.linalg.eigh(-0.5 * center @ distance_mm**2 @ center)
    kept = np.argsort(values)[::-1][:n_axes]
    points = np.zeros((n, n_axes))
    points[:, : kept.size] = vectors[:, kept] * np.sqrt(np.clip(values[kept], 0.0, None))
    return points


def complete_distances(n: int, distances: Distances) -> FloatArray:
    """Return the matrix (n, n) with missing distances replaced by the shortest path; infinite where there is none."""
    matrix = np.full((n, n), np.inf)
    np.fill_diagonal(matrix, 0.0)
    for (i, j), length in zip(distances.pairs, distances.length_mm, strict=True):
        matrix[i, j] = matrix[j, i] = length
    for k in range(n):
        matrix = np.minimum(matrix, matrix[:, k : k + 1] + matrix[k : k + 1, :])
    return matrix


def place_marks(n: int, distances: Distances, n_axes: int) -> FloatArray:
    """Find approximate coordinates of n marks, shape (n, n_axes).

    Raises
    ------
    CannotCompute
        If some mark has no chain of distances to the others.
    """
    matrix = complete_distances(n, distances)
    if not np.isfinite(matrix).all():
        raise CannotCompute("some marks have no chain of distances to the others", hint="measure across")
    i, j = distances.pairs.T
    is_measured = np.zeros((n, n), dtype=bool)
    is_measured[i, j] = is_measured[j, i] = True
    np.fill_diagonal(is_measured, val=True)
    best, best_stress = np.zeros((n, n_axes)), np.inf
    for stretch in _STRETCHES:
        guess = np.where(is_measured, matrix, stretch * matrix)
        points = _part(scale_classically(guess, n_axes))
        if not is_measured.all():
            points = _majorize(points, matrix, is_measured)
        off = np.linalg.norm(points[i] - points[j], axis=1) - distances.length_mm
        stress = float(off @ off)
        if stress < best_stress:
            best, best_stress = points, stress
    return best


def _part(points: FloatArray) -> FloatArray:
    """Move marks apart a little by a fixed pattern, so that flat figures may leave their plane."""
    n, d = points.shape
    size = float(np.abs(points).max(initial=1.0))
    pattern = np.sin(np.arange(1, n * d + 1) * 2.3999632).reshape(n, d)  # the golden angle: no two alike
    return np.asarray(points + _FLAT * size * pattern)


def _majorize(points: FloatArray, target: FloatArray, is_measured: NDArray[np.bool_]) -> FloatArray:
    """Lower the stress over the measured distances by the Guttman transform with weights 0 and 1."""
    weight = is_measured.astype(float)
    np.fill_diagonal(weight, 0.0)
    laplacian = np.diag(weight.sum(axis=1)) - weight
    inverse = np.linalg.pinv(laplacian, hermitian=True)
    for _ in range(_N_MAJORIZE):
        apart = np.linalg.norm(points[:, None] - points[None], axis=2)
        ratio = np.where(apart > 0, weight * target / np.where(apart > 0, apart, 1.0), 0.0)
        points = inverse @ ((np.diag(ratio.sum(axis=1)) - ratio) @ points)
    return points


@dataclass(frozen=True, slots=True, eq=False)
class SettledNetwork:
    """An adjusted network and the marks whose mirrored position fits as well.

    Attributes
    ----------
    fit : NetworkFit
    mirrored : tuple of int
        Marks that may as well lie on the other side of the marks they were measured to.
    """

    fit: NetworkFit
    mirrored: tuple[int, ...]


def settle_network(n: int, distances: Distances, n_axes: int) -> SettledNetwork:
    """Place and adjust a free network; where a mark's mirrored position fits better it is taken.

    Raises
    ------
    CannotCompute
        As `place_marks` and `adjust_network`.
    """
    fit = adjust_network(place_marks(n, distances, n_axes), distances)
    for _ in range(2 * n):
        better = [
            f for j in range(n) if (f := _try_mirrored(fit, distances, j)) and f.square_sum < fit.square_sum - 1e-6
        ]
        if not better:
            break
        fit = min(better, key=lambda f: f.square_sum)
    mirrored = tuple(j for j in range(n) if _fits_as_well(fit, _try_mirrored(fit, distances, j), j))
    return SettledNetwork(fit, mirrored)


def _try_mirrored(fit: NetworkFit, distances: Distances, mark: int) -> NetworkFit | None:
    """Adjust again from the mark's reflection in the line or plane of its neighbors."""
    i, j = distances.pairs.T
    neighbors = np.concatenate([j[i == mark], i[j == mark]])
    points = fit.points_mm.copy()
    near = points[neighbors]
    middle = near.mean(axis=0)
    _, _, axes = np.linalg.svd(near - middle, full_matrices=True)
    normal = axes[-1]
    off = float((points[mark] - middle) @ normal)
    if abs(off) < _FLAT * float(distances.length_mm.max()):
        return None
    points[mark] = points[mark] - 2 * off * normal
    try:
        found = adjust_network(points, distances)
    except CannotCompute:
        return None
    return found if found.converged else None


def _fits_as_well(fit: NetworkFit, other: NetworkFit | None, mark: int) -> bool:
    """Whether another figure fits as well that differs in this mark's place alone."""
    if other is None or other.square_sum > fit.square_sum + _LIKELY:
        return False
    i, j = np.triu_indices(fit.points_mm.shape[0], 1)
    here = np.linalg.norm(fit.points_mm[i] - fit.points_mm[j], axis=1)
    there = np.linalg.norm(other.points_mm[i] - other.points_mm[j], axis=1)
    differs = np.abs(here - there) > _FLAT * here.max()
    is_own = (i == mark) | (j == mark)
    return bool(differs[is_own].any() and not differs[~is_own].any())  # no difference: the whole figure is mirrored


def find_rigid_marks(points_mm: FloatArray, pairs: NDArray[np.intp]) -> tuple[int, ...]:
    """Return the largest set of marks that the distances hold rigidly together, at these places.

    A mark is left out when it can move, to first order, while every measured distance stays.
    """
    n = points_mm.shape[0]
    rows = rigidity_rows(points_mm, pairs)
    held = np.vstack([rows, inner_constraints(points_mm).T])
    _, strengths, axes = np.linalg.svd(held, full_matrices=True)
    rank = int((strengths > _SLACK * strengths[0]).sum())
    free = axes[rank:].T
    if free.shape[1] == 0:
        return tuple(range(n))
    every = np.array(list(combinations(range(n), 2)))
    rates = np.linalg.norm(rigidity_rows(points_mm, every) @ free, axis=1)
    together = np.zeros((n, n), dtype=bool)
    together[every[:, 0], every[:, 1]] = rates < _SLACK
    together |= together.T
    return _largest_clique(together)


def _largest_clique(together: NDArray[np.bool_]) -> tuple[int, ...]:
    best: tuple[int, ...] = ()

    def grow(chosen: tuple[int, ...], candidates: list[int]) -> None:
        nonlocal best
        if len(chosen) > len(best):
            best = chosen
        for place, mark in enumerate(candidates):
            if len(chosen) + len(candidates) - place <= len(best):
                return
            grow((*chosen, mark), [k for k in candidates[place + 1 :] if together[mark, k]])

    grow((), list(range(together.shape[0])))
    return best
