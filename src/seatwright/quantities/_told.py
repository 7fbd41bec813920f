"""How numbers are told: intervals rounded outwards at the second digit of u, signed numbers without a negative zero."""

import math

from seatwright.errors import ValueOutOfRange

__all__ = ["tell_interval", "tell_limit", "tell_plus_minus", "tell_signed", "tell_value"]

_DIGITS = 2  # JCGM 100:2008, 7.2.6: at most two significant digits of an uncertainty
_SLACK = 1e-9  # definition: what floating point adds to a number that needs no rounding


def tell_signed(value: float, n_places: int) -> str:
    """Return a number with its sign and `n_places` decimals; without a sign where it rounds to zero.

    Examples
    --------
    >>> tell_signed(0.128, 2), tell_signed(-0.128, 2), tell_signed(-0.004, 2)
    ('+0.13', '-0.13', '0.00')
    """
    told = f"{value:+.{n_places}f}"
    return told[1:] if float(told) == 0 else told


def tell_plus_minus(low: float, high: float) -> tuple[str, str]:
    """Return the middle and the half width of a 95 % interval, no narrower than it is.

    The standard uncertainty is the half width over 1.96.

    References
    ----------
    .. [1] JCGM 100:2008, 7.2.6 (two significant digits of u; uncertainties rounded up).

    Examples
    --------
    >>> tell_plus_minus(177.43, 197.05), tell_plus_minus(155.2, 204.8)
    (('187.2', '9.9'), ('180', '25'))
    """
    if not low < high:
        raise ValueOutOfRange(f"an interval needs two ends in ascending order, got {low} and {high}")
    places = _places((high - low) / (2 * 1.96))
    middle = round((low + high) / 2, places)
    return _fixed(middle, places), _fixed(_outwards(max(high - middle, middle - low), places), places)


def tell_interval(low: float, high: float, u: float) -> tuple[str, str]:
    """Return the ends of an interval, rounded outwards at the second significant digit of its standard uncertainty.

    Examples
    --------
    >>> tell_interval(11.23, 20.71, 2.4), tell_interval(-3.2, 131.0, 34.0)
    (('11.2', '20.8'), ('-4', '131'))
    """
    if not low <= high:
        raise ValueOutOfRange(f"an interval needs two ends in ascending order, got {low} and {high}")
    places = _places(u)
    return _fixed(-_outwards(-low, places), places), _fixed(_outwards(high, places), places)


def tell_value(value: float, u: float) -> str:
    """Return a value, rounded at the second significant digit of its standard uncertainty.

    Examples
    --------
    >>> tell_value(4.273, 0.61), tell_value(-0.04, 57.0)
    ('4.27', '0')
    """
    places = _places(u)
    return _fixed(value, places)


def tell_limit(limit: float, u: float) -> str:
    """Return an upper limit, rounded up at the second significant digit of its standard uncertainty.

    Examples
    --------
    >>> tell_limit(20.71, 9.3), tell_limit(131.2, 57.0)
    ('20.8', '132')
    """
    places = _places(u)
    return _fixed(_outwards(limit, places), places)


def _places(u: float) -> int:
    """Decimals that keep two significant digits of u; negative left of the point."""
    if not 0 < u < math.inf:
        raise ValueOutOfRange(f"need a standard uncertainty above 0, got {u}")
    return _DIGITS - 1 - math.floor(math.log10(u))


def _outwards(value: float, places: int) -> float:
    step = 10.0**-places
    return math.ceil(value / step - _SLACK) * step


def _fixed(value: float, places: int) -> str:
    return f"{round(value, places) + 0.0:.{max(places, 0)}f}"
