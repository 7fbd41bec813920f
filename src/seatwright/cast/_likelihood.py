"""Restricted likelihood of the scan error's parameters; what a unit and a kernel need is done once for all ratios."""

from collections.abc import Sequence

import numpy as np
from scipy.linalg import lapack

from seatwright.cast._correlation import Kernel, correlate_cells
from seatwright.cast._unit_cells import UnitCells
from seatwright.quantities import FloatArray

__all__ = ["profile_likelihood"]


def profile_likelihood(
    units: Sequence[UnitCells], kernels: Sequence[tuple[Kernel, float]], ratios: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Restricted -2 log likelihood and independent variance for each kernel with its length and each variance ratio.

    Parameters
    ----------
    units : sequence of UnitCells
        Their errors are independent of each other; within a unit all cells count together.
    kernels : sequence of (Kernel, length in mm)
    ratios : ndarray of shape (n_ratios,)
        Correlated over independent variance of one point.

    Returns
    -------
    value, variance : ndarray of shape (n_kernels, n_ratios)
        Up to a constant, infinite where rounding of the cells' mean correlations leaves no covariance; the variance is
        that of one point, mm², profiled out.

    Notes
    -----
    In units of the cells' independent standard deviations the residuals r left by a pose have the covariance
    M (1 + ratio K) M, M the residual maker. An orthogonal change of the cells turns M K M into a matrix T of three
    diagonals and r into its length along the first cell: then r' (1 + ratio T)^-1 r and the determinant both come from
    the pivots of 1 + ratio T, taken from the last cell to the first, which are all at least one.

    References
    ----------
    .. [1] Patterson, Thompson, Recovery of inter-block information when block sizes are unequal, Biometrika 58(3),
       545-554 (1971).
    .. [2] Golub, Van Loan, Matrix Computations, 4th ed. (2013), section 8.3.1 (three diagonals), 4.3.6 (their pivots).
    """
    log_det, squares = np.zeros((2, len(kernels), len(ratios)))
    spare = 0
    for unit in units:
        diagonals, beside, length2 = _three_diagonals(unit, kernels)
        pivot = np.ones_like(log_det)
        for along, across in zip(diagonals.T[::-1, :, None], beside.T[::-1, :, None], strict=True):
            pivot = 1 + along * ratios - (across * ratios) ** 2 / pivot
            pivot[pivot <= 0] = np.nan
            log_det += np.log(pivot)
        squares += length2 / pivot
        spare += len(unit.weight) - 6
    variance = squares / spare
    value = spare * np.log(np.maximum(variance, 1e-300)) + log_det
    return np.where(np.isnan(value), np.inf, value), variance


def _three_diagonals(unit: UnitCells, kernels: Sequence[tuple[Kernel, float]]) -> tuple[FloatArray, FloatArray, float]:
    """Diagonal of T and what stands beside it (last one 0), each (n_kernels, c); squared length of the residuals."""
    root = np.sqrt(unit.n_effective)
    fit, _ = np.linalg.qr(unit.places.rows * (root / unit.weight)[:, None])
    residual = root * unit.residual_mm
    residual -= fit @ (fit.T @ residual)
    n = len(root)
    diagonals, beside = np.zeros((2, len(kernels), n))
    # the residuals as a border: clearing the first column turns them to the first cell
    bordered = np.zeros((n + 1, n + 1), order="F")
    bordered[1:, 0] = residual
    for k, shared in enumerate(correlate_cells(unit.places, kernels)):
        whitened = shared * root * root[:, None]
        half = whitened @ fit
        half -= fit @ (fit.T @ half) / 2
        bordered[1:, 1:] = whitened - half @ fit.T - fit @ half.T
        _, along, off, _, _ = lapack.dsytrd(bordered, lower=1)
        diagonals[k], beside[k, :-1] = along[1:], off[1:]
    return diagonals, beside, float(residual @ residual)
