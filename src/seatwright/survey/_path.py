"""One path of insertion: the way a partial moves to its seat, its opposite, and the frame that stands on it."""

from dataclasses import dataclass

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.quantities import FloatArray, Transform

__all__ = ["InsertionPath", "make_path"]


@dataclass(frozen=True, slots=True)
class InsertionPath:
    """A path of insertion in the frame of a surface.

    Attributes
    ----------
    seat_direction : (float, float, float)
        Unit vector along which the partial moves to its seat. Build it with `make_path`.
    """

    seat_direction: tuple[float, float, float]

    @property
    def withdraw_direction(self) -> tuple[float, float, float]:
        """Unit vector along which the partial leaves: a surveyor's rod points along it, upwards."""
        x, y, z = self.seat_direction
        return (0.0 - x, 0.0 - y, 0.0 - z)

    def frame(self) -> Transform:
        """Return T_path_surface, shape (4, 4): a rotation into a frame whose z withdraws.

        x and y are fixed by the path alone.

        Examples
        --------
        >>> import numpy as np
        >>> T = make_path((0.0, 0.0, -1.0)).frame()
        >>> np.round(T[:3, :3] @ [0.0, 0.0, 1.0], 12)
        array([0., 0., 1.])
        """
        up = np.array(self.withdraw_direction)
        helper = np.zeros(3)
        helper[int(np.argmin(np.abs(up)))] = 1.0
        right = np.cross(helper, up)
        right /= np.linalg.norm(right)
        frame = np.eye(4)
        frame[:3, :3] = np.vstack([right, np.cross(up, right), up])
        return frame


def make_path(seat_direction: FloatArray | tuple[float, float, float]) -> InsertionPath:
    """Build a path from a direction of any length.

    Parameters
    ----------
    seat_direction : array of shape (3,)
        The way the partial moves to its seat; any length but zero.

    Raises
    ------
    ValueOutOfRange
        If it has not three finite numbers or its length is zero.

    Examples
    --------
    >>> make_path((0.0, 0.0, -2.0)).withdraw_direction
    (0.0, 0.0, 1.0)
    """
    given = np.asarray(seat_direction, dtype=np.float64)
    if given.shape != (3,) or not np.isfinite(given).all():
        raise ValueOutOfRange("a path needs three finite numbers X,Y,Z", hint="such as 0,0,-1 to seat downwards")
    largest = float(np.abs(given).max())
    if largest == 0.0:
        raise ValueOutOfRange("a path of length zero points nowhere", hint="such as 0,0,-1 to seat downwards")
    scaled = given / largest
    unit = scaled / np.linalg.norm(scaled)
    return InsertionPath((float(unit[0]), float(unit[1]), float(unit[2])))
