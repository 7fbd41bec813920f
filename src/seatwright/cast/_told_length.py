"""How long a shift is, told one way everywhere: its 95 % interval, in words, in tables and in pictures."""

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from seatwright.cast._length_law import LengthLaw, length_law
from seatwright.quantities import FloatArray, tell_limit, tell_plus_minus

__all__ = ["ToldLength", "tell_length"]

_LEVEL = 0.95  # JCGM 106:2012, 8.3: what is not seen with this confidence is shown as 'up to'
_LEAST_MM2 = 1e-18  # definition: a picometer; below it a variance is rounding error


@dataclass(frozen=True, slots=True)
class ToldLength:
    """True length of a shift, a prior that is flat in the length taken in.

    Attributes
    ----------
    low_um, high_um : float
        95 % interval: the central one, its lower end set to 0 where no shift is seen. Whatever the true length, it is
        in it in 94.7 to 98 % of cases (equal uncertainties, by simulation).
    u_worst_um : float
        Standard uncertainty of the shift along the direction in which it is least known.
    is_seen : bool
        Whether 'no shift' is rejected at 5 %.
    """

    low_um: float
    high_um: float
    u_worst_um: float
    is_seen: bool

    @property
    def middle_um(self) -> float:
        """Middle of the interval: the length told, less biased by noise than the one seen."""
        return (self.low_um + self.high_um) / 2

    def shown(self) -> str:
        """Return the interval as a person reads it, rounded outwards at the second digit of its uncertainty.

        Examples
        --------
        >>> ToldLength(170.6, 189.8, 4.9, True).shown(), ToldLength(0.0, 20.71, 9.3, False).shown()
        ('180.2 ± 9.6 µm', '0 to 20.8 µm')
        """
        if not self.is_seen:
            return f"0 to {tell_limit(self.high_um, self.u_worst_um)} µm"
        middle, half = tell_plus_minus(self.low_um, self.high_um)
        return f"{middle} ± {half} µm"


def tell_length(
    shift_mm: FloatArray, covariance_mm2: FloatArray, *, dof: float = math.inf
) -> tuple[ToldLength, LengthLaw]:
    """Return the true length of a shift as it is told, and its law (µm).

    Parameters
    ----------
    shift_mm : ndarray of shape (3,)
    covariance_mm2 : ndarray of shape (3, 3)
        That of the t law where `dof` is finite.
    dof : float
        Degrees of freedom behind the size of the covariance, above 2.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.9.4 (variance of a t law: nu / (nu - 2) times its squared scale).
    """
    values, axes = np.linalg.eigh(covariance_mm2)
    u = 1e3 * np.sqrt(np.clip(values, _LEAST_MM2, None))
    scale = u if math.isinf(dof) else u * math.sqrt((dof - 2) / dof)
    seen = 1e3 * (axes.T @ shift_mm)
    law = length_law(seen, scale, dof)
    distance = float(((seen / scale) ** 2).sum())
    is_seen = distance > (stats.chi2.ppf(_LEVEL, 3) if math.isinf(dof) else 3 * stats.f.ppf(_LEVEL, 3, dof))
    tail = (1 - _LEVEL) / 2
    low = law.quantile(tail) if is_seen else 0.0
    return ToldLength(low, law.quantile(1 - tail), float(u[-1]), bool(is_seen)), law
