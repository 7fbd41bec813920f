"""Probability models of a single quantity: what is known of it, its moments, and draws from it.

Owns the assignments of JCGM 101, 6.4. Refuses to know what the quantity is.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.quantities._rigid import FloatArray

__all__ = ["Arcsine", "CurvilinearTrapezoid", "Law", "Normal", "Rectangular", "StudentT", "law_fields"]


class Law(Protocol):
    """A probability model with finite mean and standard deviation."""

    @property
    def mean(self) -> float:
        """Expectation, in the quantity's unit."""
        ...

    @property
    def u(self) -> float:
        """Standard deviation, same unit, >= 0."""
        ...

    @property
    def dof(self) -> float:
        """Degrees of freedom of `u`; infinite unless the law says otherwise."""
        ...

    def draw(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Return n independent draws, shape (n,)."""
        ...


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal law from a best estimate and a standard uncertainty (JCGM 101:2008, 6.4.7)."""

    mean: float
    u: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        _require_finite(self.mean, self.u)
        if self.u < 0:
            raise ValueOutOfRange(f"a spread cannot be negative, got {self.u}")

    def draw(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Return n independent draws, shape (n,)."""
        return self.mean + self.u * rng.standard_normal(n)


@dataclass(frozen=True, slots=True)
class Rectangular:
    """Rectangular law between two limits (JCGM 101:2008, 6.4.2)."""

    low: float
    high: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        _require_limits(self.low, self.high)

    @property
    def mean(self) -> float:
        """Midpoint of the limits."""
        return (self.low + self.high) / 2

    @property
    def u(self) -> float:
        """Half-width over root three."""
        return (self.high - self.low) / math.sqrt(12.0)

    def draw(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Return n independent draws, shape (n,)."""
        return self.low + (self.high - self.low) * rng.random(n)


@dataclass(frozen=True, slots=True)
class CurvilinearTrapezoid:
    """Rectangular law whose limits are themselves inexact by ± `inexact` (JCGM 101:2008, 6.4.3)."""

    low: float
    high: float
    inexact: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        _require_limits(self.low, self.high)
        if not 0 <= self.inexact < (self.high - self.low) / 2:
            raise ValueOutOfRange(f"limits can be inexact by less than half their distance, got {self.inexact}")

    @property
    def mean(self) -> float:
        """Midpoint of the limits."""
        return (self.low + self.high) / 2

    @property
    def u(self) -> float:
        """Root of (b - a)^2 / 12 + d^2 / 9 (JCGM 101:2008, 6.4.3.3)."""
        return math.sqrt((self.high - self.low) ** 2 / 12 + self.inexact**2 / 9)

    def draw(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Return n independent draws, shape (n,) (JCGM 101:2008, 6.4.3.4)."""
        low = self.low - self.inexact + 2 * self.inexact * rng.random(n)
        high = self.low + self.high - low
        drawn: FloatArray = low + (high - low) * rng.random(n)
        return drawn


@dataclass(frozen=True, slots=True)
class Arcsine:
    """U-shaped law of a sinusoidal cycle between two limits (JCGM 101:2008, 6.4.6)."""

    low: float
    high: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        _require_limits(self.low, self.high)

    @property
    def mean(self) -> float:
        """Midpoint of the limits."""
        return (self.low + self.high) / 2

    @property
    def u(self) -> float:
        """Half-width over root two."""
        return (self.high - self.low) / math.sqrt(8.0)

    def draw(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Return n independent draws, shape (n,)."""
        drawn: FloatArray = self.mean + (self.high - self.low) / 2 * np.sin(2 * math.pi * rng.random(n))
        return drawn


@dataclass(frozen=True, slots=True)
class StudentT:
    """Scaled and shifted t law from a few repeated readings (JCGM 101:2008, 6.4.9).

    Raises
    ------
    ValueOutOfRange
        For two degrees of freedom or fewer: the law then has no finite standard deviation.
    """

    mean: float
    scale: float
    dof: float

    def __post_init__(self) -> None:
        _require_finite(self.mean, self.scale)
        if self.scale < 0:
            raise ValueOutOfRange(f"a spread cannot be negative, got {self.scale}")
        if not self.dof > 2:
            raise ValueOutOfRange(
                f"a t law with {self.dof:g} degrees of freedom has no finite spread",
                hint="take at least four readings, or state a limit instead",
            )

    @property
    def u(self) -> float:
        """Standard deviation: scale times root of dof / (dof - 2)."""
        return self.scale * math.sqrt(self.dof / (self.dof - 2))

    def draw(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Return n independent draws, shape (n,)."""
        return self.mean + self.scale * rng.standard_t(self.dof, n)


def law_fields(law: Law) -> dict[str, float | str]:
    """Return a law's name and parameters, so that anyone can draw from it again.

    Examples
    --------
    >>> law_fields(Rectangular(-1.0, 1.0))
    {'law': 'rectangular', 'low': -1.0, 'high': 1.0}
    """
    names = {
        Normal: ("normal", ("mean", "u")),
        Rectangular: ("rectangular", ("low", "high")),
        CurvilinearTrapezoid: ("curvilinear_trapezoid", ("low", "high", "inexact")),
        Arcsine: ("arcsine", ("low", "high")),
        StudentT: ("student_t", ("mean", "scale", "dof")),
    }
    name, fields = names[type(law)]
    return {"law": name, **{field: float(getattr(law, field)) for field in fields}}


def _require_finite(*numbers: float) -> None:
    if not all(math.isfinite(number) for number in numbers):
        raise ValueOutOfRange(f"a probability law needs finite parameters, got {numbers}")


def _require_limits(low: float, high: float) -> None:
    _require_finite(low, high)
    if not low <= high:
        raise ValueOutOfRange(f"the lower limit must not exceed the upper one, got {low} and {high}")
