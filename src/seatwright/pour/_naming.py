"""What an impression and a time are called in a finding that is read alone.

Owns names and spoken times. Knows no verdict.
"""

import math
from collections.abc import Iterable

from seatwright.case import Case, Impression, ImpressionMaterial, ImpressionRole

__all__ = ["lower_first", "name_impression", "show_minutes", "spoken", "spoken_teeth", "whole_minutes"]

_ROLES = {ImpressionRole.PICK_UP: "Pick-up", ImpressionRole.OPPOSING: "Opposing", ImpressionRole.RELINE: "Reline"}
_MATERIALS = {ImpressionMaterial.EXTENDED_ALGINATE: "extended-pour alginate"}


def _plain_name(impression: Impression) -> str:
    material = _MATERIALS.get(impression.material, impression.material.value.replace("_", " "))
    return f"{_ROLES[impression.role]} {material}"


def name_impression(case: Case, impression: Impression) -> str:
    """Return the name of an impression as people say it; with its id where two would be called the same."""
    name = _plain_name(impression)
    is_shared = any(other.id != impression.id and _plain_name(other) == name for other in case.impression)
    return f"{name} ({impression.id})" if is_shared else name


def lower_first(name: str) -> str:
    """Return a name for the middle of a sentence.

    Examples
    --------
    >>> lower_first("Pick-up polyether")
    'pick-up polyether'
    """
    return name[:1].lower() + name[1:]


def spoken(minutes: float) -> str:
    """Return a time as a person says it: minutes to three hours, then hours to three days, then days.

    Minutes are rounded up to a tenth, so that what is past a limit never reads as the limit.

    Examples
    --------
    >>> spoken(10.02), spoken(14.0), spoken(1415.0), spoken(10080.0)
    ('10.1 min', '14 min', '23.6 h', '7 d')
    """
    hours = minutes / 60
    if hours <= 3:
        tenths = math.ceil(round(10 * minutes, 6))
        return f"{tenths / 10:.1f}".removesuffix(".0") + " min"
    if hours < 72:
        return f"{hours:.1f}".removesuffix(".0") + " h"
    return f"{hours / 24:.1f}".removesuffix(".0") + " d"


def spoken_teeth(teeth: Iterable[int]) -> str:
    """Return tooth numbers in order, comma between."""
    return ", ".join(str(tooth) for tooth in sorted(teeth))


def show_minutes(minutes: float) -> str:
    """Return a stretch of time as a person says it.

    Examples
    --------
    >>> show_minutes(58.2), show_minutes(1426)
    ('58 min', '23 h 46 min')
    """
    whole = round(minutes)
    if whole < 120:
        return f"{whole} min"
    hours, rest = divmod(whole, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def whole_minutes(minutes: float) -> int:
    """Whole minutes left, rounded down: a clock that is read in a hurry never promises more than there is.

    Examples
    --------
    >>> whole_minutes(2.9), whole_minutes(-1.0)
    (2, 0)
    """
    return max(int(minutes), 0)
