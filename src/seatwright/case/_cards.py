"""Step cards: one piece of bench work, as a person reads it and as a timetable counts it."""

from dataclasses import dataclass

from seatwright.case._terms import Skill
from seatwright.errors import ValueOutOfRange
from seatwright.findings import COMMON_PRACTICE, Source

__all__ = ["Duration", "StepCard"]


@dataclass(frozen=True, slots=True)
class Duration:
    """Minutes a step takes: shortest, typical, longest."""

    low_min: float
    typical_min: float
    high_min: float

    def __post_init__(self) -> None:
        if not 0 <= self.low_min <= self.typical_min <= self.high_min:
            raise ValueOutOfRange(f"a duration needs 0 <= low <= typical <= high, got {self}")

    def scaled(self, factor: float) -> "Duration":
        """Return the duration times a factor >= 0."""
        return Duration(self.low_min * factor, self.typical_min * factor, self.high_min * factor)

    def plus(self, other: "Duration") -> "Duration":
        """Return the sum, low with low, high with high."""
        return Duration(
            self.low_min + other.low_min, self.typical_min + other.typical_min, self.high_min + other.high_min
        )


@dataclass(frozen=True, slots=True)
class StepCard:
    """One step on one unit, or on the whole impression when `tooth` is 0.

    Attributes
    ----------
    id : str
        Kebab-case step name as logged (``gel-fill``); with impression and tooth it is unique.
    title, do : str
        A few words for the head of the card; one or two sentences of instruction.
    skill : Skill
        What the person must be able to do.
    duration : Duration
    attended : bool
        False while the step needs no hands (hardening, contact time).
    equipment, resources, cautions : tuple of str
        Kinds of equipment (as in the bench file); materials with amounts; cautions at this step.
    batch : str
        Steps of the same non-empty batch cost less when done together.
    source : Source
        Where duration and instruction come from.
    """

    id: str
    title: str
    do: str
    impression: str
    tooth: int
    skill: Skill
    duration: Duration
    attended: bool = True
    equipment: tuple[str, ...] = ()
    resources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    batch: str = ""
    source: Source = COMMON_PRACTICE
