"""Law of the true length of a shift that was seen with noise, for a prior that is flat in the length.

Owns the quadrature over length and direction. Knows no tolerance and no verdict.
"""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.quantities import FloatArray

__all__ = ["LengthLaw", "length_law"]

_N_SPREADS = 10.0  # judgement: a t law of 8 degrees of freedom holds one part in 100 000 beyond so many of its scales
_N_DIRECTIONS = 2000  # judgement: with axes 4 to 1 a probability is then right to 0.001; 500 leave 0.004
_N_LENGTHS = 401  # judgement: steps of a twentieth of a standard uncertainty or less


@dataclass(frozen=True, slots=True, eq=False)
class LengthLaw:
    """Density of the true length on a grid.

    Attributes
    ----------
    lengths, density : ndarray of shape (n,)
        The likelihood of each length, averaged over all directions, up to a constant. A prior flat in the length leaves
        it as it is; one flat in space multiplies it by length^(d - 1).
    """

    lengths: FloatArray
    density: FloatArray

    def chance_within(self, limit: float) -> float:
        """Return the probability of a length up to `limit`."""
        return float(np.interp(limit, self.lengths, self._cumulated()))

    def quantile(self, level: float) -> float:
        """Return the length that is not exceeded with probability `level`."""
        return float(np.interp(level, self._cumulated(), self.lengths))

    def _cumulated(self) -> FloatArray:
        summed = np.concatenate([[0.0], np.cumsum((self.density[1:] + self.density[:-1]) / 2)])
        return np.asarray(summed / summed[-1])


def length_law(seen: FloatArray, u: FloatArray, dof: float = math.inf) -> LengthLaw:
    """Return the law of the true length behind a shift that was seen.

    Parameters
    ----------
    seen : ndarray of shape (d,)
        Components along independent directions, one to three of them.
    u : ndarray of shape (d,)
        Their standard uncertainties; with finite `dof` the scales of a t law.
    dof : float
        Degrees of freedom of the size that all directions share: the estimate of the noise is that much in doubt. The
        shift then follows a multivariate t law about the true one, a normal law averaged over that size.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.9 (t law for an estimated standard deviation).
    .. [2] Kotz, Nadarajah, Multivariate t Distributions and Their Applications (2004), section 1.1 (scale mixture).

    Examples
    --------
    >>> law = length_law(np.array([30.0, 0.0, 0.0]), np.array([5.0, 5.0, 5.0]))
    >>> round(law.quantile(0.5), 1), round(law.quantile(0.975), 1)
    (29.1, 39.1)
    """
    seen, u = np.asarray(seen, dtype=float), np.asarray(u, dtype=float)
    length, reach = float(np.linalg.norm(seen)), _N_SPREADS * float(u.max())
    lengths = np.linspace(max(0.0, length - reach), length + reach, _N_LENGTHS)
    directions = _directions(seen, reach)
    square, cross = (directions**2) @ u**-2, directions @ (seen / u**2)
    squares = lengths[:, None] ** 2 * square - 2 * lengths[:, None] * cross + float(((seen / u) ** 2).sum())
    logs = -0.5 * squares if math.isinf(dof) else -0.5 * (dof + seen.size) * np.log1p(squares / dof)
    return LengthLaw(lengths, np.exp(logs - logs.max()).mean(axis=1))


def _directions(seen: FloatArray, reach: float) -> FloatArray:
    """Return unit vectors spread evenly over the directions that matter: a cap round the shift."""
    length = float(np.linalg.norm(seen))
    half = math.pi if length <= reach / 2 else min(math.pi, 2 * math.asin(min(1.0, reach / (2 * length))))
    if seen.size == 1:
        return np.array([[1.0], [-1.0]])
    if seen.size == 2:
        angle = math.atan2(seen[1], seen[0]) + half * np.linspace(-1.0, 1.0, 121)[:-1]
        return np.column_stack([np.cos(angle), np.sin(angle)])
    k = np.arange(_N_DIRECTIONS) + 0.5
    across, around = 1 - (1 - math.cos(half)) * k / _N_DIRECTIONS, math.pi * (1 + math.sqrt(5)) * k
    side = np.sqrt(1 - across**2)
    cap = np.column_stack([np.cos(around) * side, np.sin(around) * side, across])
    return np.asarray(cap @ _frame_along(seen).T)


def _frame_along(seen: FloatArray) -> FloatArray:
    """Return a rotation whose third column points along a vector of three components."""
    axis = seen / max(float(np.linalg.norm(seen)), 1e-300) if np.any(seen) else np.array([0.0, 0.0, 1.0])
    basis, _ = np.linalg.qr(np.column_stack([axis, np.eye(3)[np.argsort(np.abs(axis))[:2]].T]))
    return np.column_stack([basis[:, 1], basis[:, 2], axis])
