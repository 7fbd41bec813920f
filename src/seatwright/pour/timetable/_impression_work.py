"""What one impression brings into the timetable, as a value."""

from dataclasses import dataclass
from datetime import datetime

from seatwright.case import StepCard
from seatwright.pour.timetable._problem import AgeBand

__all__ = ["ImpressionWork"]


@dataclass(frozen=True, slots=True)
class ImpressionWork:
    """What one impression brings into the timetable.

    Attributes
    ----------
    case, impression : str
    weight : int
        How much losing it matters against the others.
    is_wet : bool
        Hydrocolloid.
    out_at : datetime or None
        None while it is still to be taken; a moment to come when it is announced.
    pour_from_min : float
        Age before which the material must not be poured.
    bands : tuple of AgeBand
    separate_min : tuple of (float, float)
        From and by, minutes from the pour.
    working_time_min : float or None
        The maker's, from the start of the mix; the rule's own where None.
    own_cards : tuple of StepCard
        The pour's own, in the order of work, done or not.
    die_cards : tuple of StepCard
    """

    case: str
    impression: str
    weight: int
    is_wet: bool
    out_at: datetime | None
    pour_from_min: float
    bands: tuple[AgeBand, ...]
    separate_min: tuple[float, float]
    working_time_min: float | None
    own_cards: tuple[StepCard, ...]
    die_cards: tuple[StepCard, ...]
