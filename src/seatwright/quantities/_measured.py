"""A value that was measured or computed, with its standard uncertainty and unit."""

import math
from dataclasses import dataclass
from statistics import NormalDist

import scipy

from seatwright.errors import ValueOutOfRange

__all__ = ["Measured", "round_to_uncertainty"]


@dataclass(frozen=True, slots=True)
class Measured:
    """A quantity value and its standard uncertainty.

    Parameters
    ----------
    value : float
        Best estimate, in `unit`.
    u : float
        Standard uncertainty (one sigma), same unit, >= 0.
    unit : str
        Unit symbol as shown: ``mm``, ``µm``, ``deg``, ``min``, ``%``, ``g``.
    dof : float
        Effective degrees of freedom of `u`; infinity when u is taken as known.

    Raises
    ------
    ValueOutOfRange
        If the value is not finite, u is negative or not finite, or dof is not positive.

    References
    ----------
    .. [1] JCGM 100:2008, 2.3.1 (standard uncertainty), G.2.3 (t factor for a given dof).

    Examples
    --------
    >>> Measured(120.0, 4.5, "µm").shown()
    '120 ± 9 µm'
    """

    value: float
    u: float
    unit: str
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not math.isfinite(self.value) or not math.isfinite(self.u):
            raise ValueOutOfRange(f"a measured value must be finite, got {self.value} ± {self.u} {self.unit}")
        if self.u < 0:
            raise ValueOutOfRange(f"a standard uncertainty cannot be negative, got {self.u} {self.unit}")
        if not self.dof > 0:
            raise ValueOutOfRange(f"degrees of freedom must be positive, got {self.dof}")

    def coverage_factor(self, level: float = 0.95) -> float:
        """Return k for a two-sided interval of the given level (1.96 for 95 % and infinite dof)."""
        tail = 0.5 + level / 2
        return NormalDist().inv_cdf(tail) if math.isinf(self.dof) else float(scipy.stats.t.ppf(tail, self.dof))

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Return the symmetric coverage interval at `level`, in `unit`."""
        half = self.coverage_factor(level) * self.u
        return self.value - half, self.value + half

    def shown(self, level: float = 0.95) -> str:
        """Return 'value ± U unit' at `level`, both rounded to U's leading digits."""
        half = self.coverage_factor(level) * self.u
        if half == 0:
            return f"{self.value + 0.0:g} {self.unit}"
        value, rounded = round_to_uncertainty(self.value, half)
        return f"{value} ± {rounded} {self.unit}"


def round_to_uncertainty(value: float, uncertainty: float) -> tuple[str, str]:
    """Round both to the uncertainty's first digit, or its first two when that digit is 1.

    References
    ----------
    .. [1] JCGM 100:2008, 7.2.6: one or two significant digits of the uncertainty suffice.

    Examples
    --------
    >>> round_to_uncertainty(17.8342, 0.1234)
    ('17.83', '0.12')
    >>> round_to_uncertainty(1234.5, 38.0)
    ('1230', '40')
    >>> round_to_uncertainty(-0.4, 20.0)
    ('0', '20')
    """
    exponent = math.floor(math.log10(uncertainty))
    leading = uncertainty / 10.0**exponent
    digits = -exponent + (1 if leading < 2 else 0)
    places = max(digits, 0)
    return f"{round(value, digits) + 0.0:.{places}f}", f"{round(uncertainty, digits):.{places}f}"
