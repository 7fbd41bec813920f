"""The rotation that lays the average arch's places on those seen in a scan: one owner for axes and occlusal plane."""

import numpy as np

from seatwright.quantities import FloatArray

__all__ = ["fit_rotation"]


def fit_rotation(nominal_mm: FloatArray, seen_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fit the rotation from nominal to seen places, both about their own middle, by least squares.

    Parameters
    ----------
    nominal_mm, seen_mm : ndarray of shape (n, 3)
        The same places in the average arch's frame and in the scan's, mm; each with its mean at zero.

    Returns
    -------
    rotation : ndarray of shape (3, 3)
        Columns are the average arch's axes in the scan's frame; right-handed.
    strengths : ndarray of shape (3,)
        Singular values of the covariance, falling: the second is small where the places stand in one line.

    References
    ----------
    .. [1] Kabsch W. A solution for the best rotation to relate two sets of vectors. Acta Cryst A 32, 922 (1976).

    Examples
    --------
    >>> import numpy as np
    >>> places = np.array([[1.0, 0, 0], [-1, 0, 0], [0, 2, 0], [0, -2, 0]])
    >>> turned = places @ np.array([[0.0, 1, 0], [-1, 0, 0], [0, 0, 1]])
    >>> rotation, _ = fit_rotation(places, turned)
    >>> np.abs(places @ rotation.T - turned).max() < 1e-12
    np.True_
    """
    left, strengths, right = np.linalg.svd(nominal_mm.T @ seen_mm)
    turned = left @ np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))]) @ right
    return np.asarray(turned.T), strengths
