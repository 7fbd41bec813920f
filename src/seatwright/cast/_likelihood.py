"""Restricted likelihood of the scan error's parameters, compiled and without a matrix library.

A matrix library's threads and a parallel loop's threads wait for each other on a busy machine; small systems solved
here need neither. Compiled functions carry no types: the compiler infers them, and a checker cannot see through it.
"""

import numpy as np
from numba import njit, prange

from seatwright.cast._correlation import Kernel, mean_correlation
from seatwright.mesh import KERNEL_LOCK
from seatwright.quantities import FloatArray

__all__ = ["profile_likelihood"]


def profile_likelihood(
    data: tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray],
    kernels: tuple[tuple[Kernel, float], ...],
    ratios: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Restricted -2 log likelihood and independent variance for each kernel with its length and each variance ratio.

    Parameters
    ----------
    data : (centers, designs, residuals, sizes, extents)
        Of k units, padded to c cells: (k, c, 3) mm; (k, c, 6); (k, c) mm; (k, c) effective points in each cell, 0 in
        padding; (k, c) mean squared distance of a cell's points from its center, mm².
    kernels : tuple of (Kernel, length in mm)
    ratios : ndarray of shape (n_ratios,)
        Correlated over independent variance.

    Returns
    -------
    value, variance : ndarray of shape (n_kernels, n_ratios)
        Up to a constant; the variance is that of one point, mm², profiled out.

    References
    ----------
    .. [1] Patterson, Thompson, Recovery of inter-block information when block sizes are unequal, Biometrika 58(3),
       545-554 (1971).
    """
    centers, designs, residuals, sizes, extents = (np.ascontiguousarray(a) for a in data)
    families = np.array([int(kernel) for kernel, _ in kernels], dtype=np.int64)
    lengths = np.array([length for _, length in kernels], dtype=np.float64)
    with KERNEL_LOCK:
        parts = _all_parts((centers, extents), designs, residuals, sizes, (families, lengths), np.asarray(ratios))
    log_det, squares = parts[..., 0].sum(axis=0), parts[..., 1].sum(axis=0)
    spare = float((sizes > 0).sum() - 6 * len(sizes))
    variance = squares / spare
    return spare * np.log(np.maximum(variance, 1e-300)) + log_det, variance


@njit(cache=True, parallel=True)
def _all_parts(places, designs, residuals, sizes, kernels, ratios):  # type: ignore[no-untyped-def]  # noqa: PLR0917
    families, lengths = kernels
    centers, extents = places
    n_units, n_lengths = centers.shape[0], lengths.shape[0]
    parts = np.empty((n_units, n_lengths, ratios.shape[0], 2))
    for job in prange(n_units * n_lengths):
        unit, which = job // n_lengths, job % n_lengths
        n = 0
        while n < sizes.shape[1] and sizes[unit, n] > 0:
            n += 1
        correlation = _whitened_correlation(
            centers[unit], extents[unit], sizes[unit], n, (families[which], lengths[which])
        )
        right = np.empty((n, 7))
        for i in range(n):
            root = np.sqrt(sizes[unit, i])
            for a in range(6):
                right[i, a] = designs[unit, i, a] * root
            right[i, 6] = residuals[unit, i] * root
        for r in range(ratios.shape[0]):
            log_det, squares = _one_part(correlation, right, ratios[r])
            parts[unit, which, r, 0], parts[unit, which, r, 1] = log_det, squares
    return parts


@njit(cache=True)
def _whitened_correlation(centers, extents, sizes, n, kernel):  # type: ignore[no-untyped-def]
    """Return the correlation of the cells' means, in units of their independent standard deviations."""
    family, length = kernel
    matrix = np.empty((n, n))
    for i in range(n):
        for j in range(i + 1):
            squared = 0.0
            for k in range(3):
                squared += (centers[i, k] - centers[j, k]) ** 2
            falls = mean_correlation(squared, extents[i] + extents[j], family, length)
            matrix[i, j] = falls * np.sqrt(sizes[i] * sizes[j])
            matrix[j, i] = matrix[i, j]
    return matrix


@njit(cache=True)
def _one_part(correlation, right, ratio):  # type: ignore[no-untyped-def]
    """Log determinants of the covariance and of the fit, and the weighted squares that the fit leaves over."""
    lower = ratio * correlation
    for i in range(lower.shape[0]):
        lower[i, i] += 1.0
    log_det = _factor(lower)
    if np.isinf(log_det):
        return np.inf, 1.0
    solved = right.copy()
    for i in range(lower.shape[0]):
        for a in range(7):
            total = solved[i, a]
            for k in range(i):
                total -= lower[i, k] * solved[k, a]
            solved[i, a] = total / lower[i, i]
    normal = np.zeros((7, 7))
    for a in range(7):
        for b in range(7):
            for i in range(solved.shape[0]):
                normal[a, b] += solved[i, a] * solved[i, b]
    # the last pivot of the bordered normal matrix is what the fit leaves over
    log_fit = _factor(normal)
    left_over = normal[6, 6] ** 2
    return log_det + log_fit - np.log(left_over), left_over


@njit(cache=True)
def _factor(matrix):  # type: ignore[no-untyped-def]
    """Cholesky factor in place (lower triangle); return the log determinant, infinite when there is no factor."""
    log_det = 0.0
    for i in range(matrix.shape[0]):
        for j in range(i + 1):
            total = matrix[i, j]
            for k in range(j):
                total -= matrix[i, k] * matrix[j, k]
            if i == j:
                if total <= 0.0:
                    return np.inf
                log_det += np.log(total)
                matrix[i, i] = np.sqrt(total)
            else:
                matrix[i, j] = total / matrix[j, j]
    return log_det
