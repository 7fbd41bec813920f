"""What the caliper check takes: readings between marks, and what is asked beside them."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["CaliperAsked", "CaliperReading", "Epoch"]


class Epoch(StrEnum):
    """Where distances were read."""

    MOUTH = "mouth"
    INDEX = "index"
    """On the verification index that was made in the mouth."""
    CAST = "cast"


@dataclass(frozen=True, slots=True)
class CaliperReading:
    """One reading of one distance.

    Attributes
    ----------
    epoch : Epoch
    first, second : str
        Names of the marks, in no particular order.
    length_mm : float
    operator : str
        Empty when not stated.
    line : int
        Line of the file, 0 when there is none.
    """

    epoch: Epoch
    first: str
    second: str
    length_mm: float
    operator: str = ""
    line: int = 0

    @property
    def pair(self) -> tuple[str, str]:
        """Both marks in alphabetical order."""
        return (self.first, self.second) if self.first <= self.second else (self.second, self.first)


@dataclass(frozen=True, slots=True)
class CaliperAsked:
    """What the check is asked beside the readings.

    Attributes
    ----------
    tolerance_um : float
        Largest allowed movement of a mark.
    u_distance_um : float
        Declared standard uncertainty of one distance that repeats do not show (jaw seat on the mark, caliper); it is
        added to what repeats show, or stands alone when nothing was repeated.
    reseat_um : float
        Standard uncertainty of a mark's place, per axis, because its crown was lifted and seated again between the
        epochs; 0 when no crown was lifted.
    stable : tuple of str
        Marks that the person declares unmoved; empty: found.
    n_axes : int or None
        2 in a plane, 3 in space, 1 along a line; None: chosen.
    """

    tolerance_um: float = 50.0
    u_distance_um: float = 0.0
    reseat_um: float = 0.0
    stable: tuple[str, ...] = ()
    n_axes: int | None = None
