"""A path's lean from the occlusal plane, in the trade's words, and how it is set on a tilting table.

Owns the two ways to read a tilt. Refuses to know what limits a path.
"""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.errors import ValueOutOfRange
from seatwright.quantities import FloatArray

__all__ = ["Tilt", "direction_at", "direction_on_table", "measure_tilt"]


@dataclass(frozen=True, slots=True)
class Tilt:
    """How a withdraw direction leans from the occlusal normal.

    Attributes
    ----------
    posterior_deg, left_deg : float
        Projected angles: the lean seen from the side (positive to the back) and seen from the front (positive to the
        patient's left).
    table_first_deg, table_second_deg : float
        The same lean on a tilting table whose first axis tips the cast front or back and carries the second, which tips
        it sideways. The second reads less than the projected angle.
    total_deg : float
        Angle to the occlusal normal.
    words : str
        What to do with the cast on the table.
    """

    posterior_deg: float
    left_deg: float
    table_first_deg: float
    table_second_deg: float
    total_deg: float
    words: str


def measure_tilt(withdraw_direction: FloatArray, frame: OcclusalFrame) -> Tilt:
    """Return the lean of a withdraw direction from the occlusal plane.

    Parameters
    ----------
    withdraw_direction : ndarray of shape (3,)
        The way the partial leaves; the frame's frame.
    frame : OcclusalFrame

    Raises
    ------
    ValueOutOfRange
        If the direction leans 90 degrees or more, so that it has no projected angles.

    Notes
    -----
    With the direction's parts p to the back, l to the left and o occlusal: posterior = atan(p/o), left = atan(l/o);
    on the table first = atan(p/o), second = atan(l / hypot(p, o)). The vertical spindle leans to the back of the cast
    when the cast's front is tipped down (anterior tilt), to its left when its right is tipped down: textbook words.

    Examples
    --------
    >>> x, y, z = np.eye(3)
    >>> frame = OcclusalFrame(z, y, x)
    >>> tilt = measure_tilt(direction_at(15.0, 15.0, frame), frame)
    >>> round(tilt.left_deg, 2), round(tilt.table_second_deg, 2)
    (15.0, 14.51)
    """
    size = float(np.linalg.norm(withdraw_direction))
    up, back, left = (float(np.dot(withdraw_direction, a)) for a in (frame.occlusal, frame.posterior, frame.left))
    if not (size > 0 and up > 1e-9 * size):
        raise ValueOutOfRange(
            "this path leans 90 degrees or more from the occlusal plane's normal",
            hint="the withdraw direction points away from the jaw; the seat direction is its opposite",
        )
    posterior, lateral = math.degrees(math.atan2(back, up)), math.degrees(math.atan2(left, up))
    second = math.degrees(math.atan2(left, math.hypot(back, up)))
    total = math.degrees(math.atan2(math.hypot(back, left), up))
    return Tilt(posterior, lateral, posterior, second, total, _words(posterior, lateral, frame.u_deg))


def direction_at(posterior_deg: float, left_deg: float, frame: OcclusalFrame) -> FloatArray:
    """Withdraw direction with these projected angles, shape (3,), unit length.

    Parameters
    ----------
    posterior_deg, left_deg : float
        Lean seen from the side (positive to the back) and from the front (positive to the patient's left).
    frame : OcclusalFrame

    Raises
    ------
    ValueOutOfRange
        If an angle is not within -90 to 90, both excluded.
    """
    if not (abs(posterior_deg) < 90 and abs(left_deg) < 90):
        raise ValueOutOfRange(f"a tilt lies between -90 and 90 degrees, got {posterior_deg:g} and {left_deg:g}")
    direction = (
        frame.occlusal
        + math.tan(math.radians(posterior_deg)) * frame.posterior
        + math.tan(math.radians(left_deg)) * frame.left
    )
    return np.asarray(direction / np.linalg.norm(direction))


def direction_on_table(first_deg: float, second_deg: float, frame: OcclusalFrame) -> FloatArray:
    """Withdraw direction set on a tilting table: first axis front or back, second sideways and carried by it.

    Parameters
    ----------
    first_deg, second_deg : float
        As read on the table; positive to the back, to the patient's left.
    frame : OcclusalFrame

    Raises
    ------
    ValueOutOfRange
        If an angle is not within -90 to 90, both excluded.
    """
    if not (abs(first_deg) < 90 and abs(second_deg) < 90):
        raise ValueOutOfRange(f"a tilt lies between -90 and 90 degrees, got {first_deg:g} and {second_deg:g}")
    first, second = math.radians(first_deg), math.radians(second_deg)
    direction = (
        math.cos(second) * math.cos(first) * frame.occlusal
        + math.cos(second) * math.sin(first) * frame.posterior
        + math.sin(second) * frame.left
    )
    return np.asarray(direction)


def _words(posterior_deg: float, left_deg: float, u_deg: float) -> str:
    if math.hypot(posterior_deg, left_deg) < u_deg:
        return f"level, to within the {u_deg:.1f} degrees that the occlusal plane is known to"
    parts = []
    if abs(posterior_deg) >= 0.05:
        name, end = ("anterior", "front") if posterior_deg > 0 else ("posterior", "back")
        parts.append(f"{name} tilt {abs(posterior_deg):.1f} degrees ({end} of the cast down)")
    if abs(left_deg) >= 0.05:
        name = "right" if left_deg > 0 else "left"
        parts.append(f"lateral tilt {abs(left_deg):.1f} degrees (patient's {name} side down)")
    return " and ".join(parts) if parts else "level: occlusal plane at right angles to the path"
