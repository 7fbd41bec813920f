"""Changes of distances adjusted as one free network: movements of marks with covariance, residuals, redundancy."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.cast._network import inner_constraints, rigidity_rows
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities import FloatArray

__all__ = ["ChangeFit", "Changes", "adjust_changes"]

_SINGULAR = 1e-9  # definition: relative eigenvalue below which a direction counts as undetermined
_N_ROUNDS = 3  # definition: the derivative halfway is exact to third order; two rounds settle it


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """Changes of distances between numbered marks.

    Attributes
    ----------
    pairs : ndarray of shape (m, 2), int
    change_mm : ndarray of shape (m,)
        Second epoch minus first.
    u_mm : ndarray of shape (m,)
        Standard uncertainty of each, > 0, independent of each other.
    """

    pairs: NDArray[np.intp]
    change_mm: FloatArray
    u_mm: FloatArray

    def __post_init__(self) -> None:
        if self.pairs.ndim != 2 or not self.pairs.shape[0] == self.change_mm.size == self.u_mm.size:
            raise ValueOutOfRange("need one change and one uncertainty per pair of marks")
        if not (np.isfinite(self.change_mm).all() and (self.u_mm > 0).all()):
            raise ValueOutOfRange("changes must be finite and their uncertainties positive")


@dataclass(frozen=True, slots=True, eq=False)
class ChangeFit:
    """Adjusted changes; see `NetworkFit` for the fields that both have.

    Attributes
    ----------
    moved_mm : ndarray of shape (n d,)
        Movements in the minimum-norm datum.
    covariance : ndarray of shape (n d, n d)
    residual_mm, redundancy : ndarray of shape (m,)
    residual_cofactor : ndarray of shape (m, m)
    n_redundant : int
    square_sum : float
    """

    moved_mm: FloatArray
    covariance: FloatArray
    residual_mm: FloatArray
    redundancy: FloatArray
    residual_cofactor: FloatArray
    n_redundant: int
    square_sum: float

    @property
    def variance_factor(self) -> float | None:
        """Square sum over redundancy; None without redundancy."""
        return self.square_sum / self.n_redundant if self.n_redundant else None


def adjust_changes(points_mm: FloatArray, changes: Changes) -> ChangeFit:
    """Find the movements of marks that change their distances as measured, with inner constraints.

    Parameters
    ----------
    points_mm : ndarray of shape (n, d)
        Places in the first epoch, to a millimeter; only directions between marks are taken from them.
    changes : Changes

    Raises
    ------
    CannotCompute
        If some mark can move although no distance changes.

    Notes
    -----
    Equal to the difference of two separate adjustments of the same distances with the same weights; but a misfit that
    both epochs share drops out. Directions are those halfway of the movement, so that it may be large.

    References
    ----------
    .. [1] Caspary WF. Concepts of Network and Deformation Analysis, 1987, chapter 8 (observation differences).
    """
    constraints = inner_constraints(points_mm)
    u = changes.u_mm
    moved = np.zeros(points_mm.size)
    for _ in range(_N_ROUNDS):
        rows = rigidity_rows(points_mm + moved.reshape(points_mm.shape) / 2, changes.pairs) / u[:, None]
        normal = rows.T @ rows
        size = float(np.trace(normal)) / normal.shape[0]
        matrix = normal + size * constraints @ constraints.T
        values = np.linalg.eigvalsh(matrix)
        if values[0] < _SINGULAR * values[-1]:
            raise CannotCompute(
                "the distances leave some mark free to move",
                hint="measure each mark to at least two others in a plane, three in space",
            )
        inverse = np.linalg.inv(matrix)
        moved = inverse @ rows.T @ (changes.change_mm / u)
    covariance = inverse @ normal @ inverse
    adjusted = rows @ covariance @ rows.T
    residual = u * (rows @ moved) - changes.change_mm
    return ChangeFit(
        moved_mm=moved,
        covariance=covariance,
        residual_mm=residual,
        redundancy=np.clip(1 - np.diag(adjusted), 0.0, 1.0),
        residual_cofactor=np.outer(u, u) * (np.eye(u.size) - adjusted),
        n_redundant=u.size - (moved.size - constraints.shape[1]),
        square_sum=float(((residual / u) ** 2).sum()),
    )
