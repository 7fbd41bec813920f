"""Least-squares adjustment of distances between marks, free (minimum norm) or on fixed marks, in 1 to 3 dimensions.

Owns the linear algebra of trilateration: coordinates with covariance, residuals, redundancy. Knows nothing of epochs.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities import FloatArray

__all__ = ["Distances", "NetworkFit", "adjust_network", "datum_defect", "inner_constraints", "rigidity_rows"]

_MOST_ROUNDS = 60  # judgement: from scaled starts five rounds are usual
_STEP_MM = 1e-9  # definition: a picometer; far below any reading
_SINGULAR = 1e-9  # definition: relative eigenvalue below which a direction counts as undetermined


@dataclass(frozen=True, slots=True, eq=False)
class Distances:
    """Measured distances between numbered marks.

    Attributes
    ----------
    pairs : ndarray of shape (m, 2), int
    length_mm : ndarray of shape (m,)
    u_mm : ndarray of shape (m,)
        Standard uncertainty of each, > 0, independent of each other.
    """

    pairs: NDArray[np.intp]
    length_mm: FloatArray
    u_mm: FloatArray

    def __post_init__(self) -> None:
        if self.pairs.ndim != 2 or not self.pairs.shape[0] == self.length_mm.size == self.u_mm.size:
            raise ValueOutOfRange("need one length and one uncertainty per pair of marks")
        if not (np.isfinite(self.length_mm).all() and (self.length_mm > 0).all() and (self.u_mm > 0).all()):
            raise ValueOutOfRange("distances and their uncertainties must be positive and finite")


@dataclass(frozen=True, slots=True, eq=False)
class NetworkFit:
    """An adjusted network.

    Attributes
    ----------
    points_mm : ndarray of shape (n, d)
    covariance : ndarray of shape (n d, n d)
        Of the coordinates in the datum, mm squared, from the stated uncertainties; singular by `defect`.
    residual_mm : ndarray of shape (m,)
        Adjusted minus measured.
    redundancy : ndarray of shape (m,)
        Share of an error in a distance that shows in its own residual (0: not controlled; 1: fully).
    residual_cofactor : ndarray of shape (m, m)
        Covariance of the residuals, mm squared.
    n_redundant : int
        Distances beyond those needed.
    defect : int
        Datum defect removed by the inner constraints: 6 in space, 3 in a plane, 1 on a line; 0 with fixed marks.
    square_sum : float
        Weighted sum of squared residuals; chi-square with `n_redundant` degrees of freedom when all is right.
    n_rounds : int
    converged : bool
    """

    points_mm: FloatArray
    covariance: FloatArray
    residual_mm: FloatArray
    redundancy: FloatArray
    residual_cofactor: FloatArray
    n_redundant: int
    defect: int
    square_sum: float
    n_rounds: int
    converged: bool

    @property
    def variance_factor(self) -> float | None:
        """Square sum over redundancy (a posteriori over a priori variance); None without redundancy."""
        return self.square_sum / self.n_redundant if self.n_redundant else None


def datum_defect(n_axes: int) -> int:
    """Return the number of rigid motions that distances cannot see: 1 on a line, 3 in a plane, 6 in space."""
    return n_axes + n_axes * (n_axes - 1) // 2


def inner_constraints(points_mm: FloatArray, *, with_scale: bool = False) -> FloatArray:
    """Return an orthonormal basis of the rigid motions (and the scale) of marks, shape (n d, k).

    The columns span translations, rotations about the marks' middle, and with `with_scale` their dilation.
    """
    n, d = points_mm.shape
    centered = points_mm - points_mm.mean(axis=0)
    columns = [np.tile(np.eye(d)[axis], n) for axis in range(d)]
    for a in range(d):
        for b in range(a + 1, d):
            turn = np.zeros((n, d))
            turn[:, a], turn[:, b] = -centered[:, b], centered[:, a]
            columns.append(turn.ravel())
    if with_scale:
        columns.append(centered.ravel())
    basis, strengths, _ = np.linalg.svd(np.column_stack(columns), full_matrices=False)
    return np.asarray(basis[:, strengths > _SINGULAR * strengths[0]])


def rigidity_rows(points_mm: FloatArray, pairs: NDArray[np.intp]) -> FloatArray:
    """Return the derivative of each distance with respect to all coordinates, shape (m, n d).

    Raises
    ------
    CannotCompute
        If two marks of a pair fall on each other.
    """
    n, d = points_mm.shape
    away = points_mm[pairs[:, 1]] - points_mm[pairs[:, 0]]
    length = np.linalg.norm(away, axis=1)
    if length.min(initial=1.0) < _STEP_MM:
        raise CannotCompute("two marks of one distance fall on each other", hint="check the readings of these marks")
    unit = away / length[:, None]
    rows = np.zeros((pairs.shape[0], n, d))
    every = np.arange(pairs.shape[0])
    rows[every, pairs[:, 1]] = unit
    rows[every, pairs[:, 0]] = -unit
    return rows.reshape(pairs.shape[0], n * d)


def adjust_network(
    start_mm: FloatArray,
    distances: Distances,
    *,
    fixed: tuple[int, ...] = (),
    datum_mm: FloatArray | None = None,
) -> NetworkFit:
    """Adjust marks to measured distances by least squares.

    Parameters
    ----------
    start_mm : ndarray of shape (n, d)
        Approximate coordinates, d = 1, 2 or 3.
    distances : Distances
    fixed : tuple of int
        Marks whose coordinates are known and kept; then there are no inner constraints.
    datum_mm : ndarray of shape (n, d), optional
        Coordinates whose inner constraints fix the datum; the start by default. Two epochs adjusted with the same
        datum can be subtracted from each other.

    Returns
    -------
    NetworkFit

    Raises
    ------
    CannotCompute
        If some marks can move although all distances stay: the geometry is undetermined to first order.

    References
    ----------
    .. [1] Krumm F. Geodetic Network Adjustment Examples, rev. 3.5, 2020, section 3.1.1 (trilateration).
    .. [2] Koch KR. Parameter Estimation and Hypothesis Testing in Linear Models, 2nd ed. 1999, 3.3 (free networks).

    Examples
    --------
    >>> square = np.array([[0.0, 0], [40, 0], [40, 40], [0, 40]])
    >>> pairs = np.array([[0, 1], [1, 2], [2, 3], [3, 0], [0, 2], [1, 3]])
    >>> length = np.linalg.norm(square[pairs[:, 0]] - square[pairs[:, 1]], axis=1)
    >>> fit = adjust_network(square, Distances(pairs, length, np.ones(6)))
    >>> np.round(fit.redundancy, 3)
    array([0.125, 0.125, 0.125, 0.125, 0.25 , 0.25 ])
    """
    start = np.asarray(start_mm, dtype=float)
    datum = start if datum_mm is None else np.asarray(datum_mm, dtype=float)
    n, d = start.shape
    is_free = np.repeat(~np.isin(np.arange(n), fixed), d)
    constraints = np.zeros((n * d, 0)) if fixed else inner_constraints(datum)
    points, n_rounds, converged = _iterate(start, distances, (constraints, datum, is_free))
    return _report(points, distances, (constraints, is_free), (n_rounds, converged))


def _iterate(
    start: FloatArray, distances: Distances, frame: tuple[FloatArray, FloatArray, NDArray[np.bool_]]
) -> tuple[FloatArray, int, bool]:
    """Gauss-Newton with halved steps; the damping of the first rounds keeps a coarse start from overshooting."""
    constraints, datum, is_free = frame
    points, damping = start.copy(), 1e-3
    best = _square_sum(points, distances)
    for n_rounds in range(1, _MOST_ROUNDS + 1):
        rows = rigidity_rows(points, distances.pairs) / distances.u_mm[:, None]
        misclosure = (distances.length_mm - _lengths(points, distances.pairs)) / distances.u_mm
        normal = rows.T @ rows
        size = float(np.trace(normal)) / normal.shape[0]
        offset = constraints.T @ (datum - points).ravel()
        right = rows.T @ misclosure + size * constraints @ offset
        matrix = normal + size * (constraints @ constraints.T) + damping * size * np.eye(normal.shape[0])
        step = np.zeros(is_free.size)
        step[is_free] = np.linalg.lstsq(matrix[np.ix_(is_free, is_free)], right[is_free], rcond=1e-14)[0]
        ahead = points + step.reshape(points.shape)
        trial = _square_sum(ahead, distances)
        if trial > best * (1 + 1e-9) + 1e-12 and float(np.abs(step).max()) > 1e-6:
            damping = max(10 * damping, 1e-6)
            continue
        points, best = ahead, trial
        if damping == 0.0 and float(np.abs(step).max()) < _STEP_MM:
            return points, n_rounds, True
        damping = 0.0 if damping < 1e-5 or float(np.abs(step).max()) < 1e-2 else damping / 10
    return points, _MOST_ROUNDS, False


def _lengths(points: FloatArray, pairs: NDArray[np.intp]) -> FloatArray:
    return np.asarray(np.linalg.norm(points[pairs[:, 1]] - points[pairs[:, 0]], axis=1))


def _square_sum(points: FloatArray, distances: Distances) -> float:
    off = (distances.length_mm - _lengths(points, distances.pairs)) / distances.u_mm
    return float(off @ off)


def _report(
    points: FloatArray,
    distances: Distances,
    frame: tuple[FloatArray, NDArray[np.bool_]],
    progress: tuple[int, bool],
) -> NetworkFit:
    constraints, is_free = frame
    rows = rigidity_rows(points, distances.pairs) / distances.u_mm[:, None]
    normal = (rows.T @ rows)[np.ix_(is_free, is_free)]
    size = float(np.trace(normal)) / max(normal.shape[0], 1)
    held = constraints[is_free]
    matrix = normal + size * held @ held.T
    values = np.linalg.eigvalsh(matrix)
    if values.size and values[0] < _SINGULAR * values[-1]:
        raise CannotCompute(
            "the distances leave some mark free to move",
            hint="measure each mark to at least two others in a plane, three in space",
        )
    inverse = np.linalg.inv(matrix)
    covariance = np.zeros((is_free.size, is_free.size))
    covariance[np.ix_(is_free, is_free)] = inverse @ normal @ inverse
    adjusted = rows @ covariance @ rows.T
    residual = _lengths(points, distances.pairs) - distances.length_mm
    defect = int(constraints.shape[1])
    spread = np.outer(distances.u_mm, distances.u_mm)
    return NetworkFit(
        points_mm=points,
        covariance=covariance,
        residual_mm=residual,
        redundancy=np.clip(1 - np.diag(adjusted), 0.0, 1.0),
        residual_cofactor=spread * (np.eye(residual.size) - adjusted),
        n_redundant=residual.size - (int(is_free.sum()) - defect),
        defect=defect,
        square_sum=float(((residual / distances.u_mm) ** 2).sum()),
        n_rounds=progress[0],
        converged=progress[1],
    )
