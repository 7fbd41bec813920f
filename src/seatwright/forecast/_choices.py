"""What is still open in a case and was decided for this forecast; every field has a stated default."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from seatwright.case import MaleJoin
from seatwright.errors import ValueOutOfRange
from seatwright.forecast._own import OwnFigures
from seatwright.quantities import Measured

__all__ = ["Choices", "FrameworkRoute", "PourBand", "Stage"]


class FrameworkRoute(StrEnum):
    """How the framework is made."""

    CAST = "cast"
    """Wax or printed pattern, invested and cast."""
    ADDITIVE = "additive"
    """Built in metal, layer by layer."""


class Stage(StrEnum):
    """How far the work has come: decides which changes are still open."""

    PLANNED = "planned"
    IMPRESSION_OUT = "impression_out"
    POURED = "poured"


@dataclass(frozen=True, slots=True)
class PourBand:
    """What the impression does to the cast when it is poured within a stretch of its clock.

    Attributes
    ----------
    when : str
        Such as 'within 12 min'.
    change : Measured or None
        Change of scale in percent (positive: larger cast); None where no source supports a number.
    includes_stone : bool
        Casts were measured: the stone's expansion is in it and is not counted again.
    is_range : bool
        Free specimens or impressions were measured, no casts: the change is a range over which the chance is told.
    evidence : tuple of str
        Ids of the records behind it.
    """

    when: str
    change: Measured | None
    includes_stone: bool = False
    is_range: bool = False
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Choices:
    """Decisions that the case document does not hold.

    Attributes
    ----------
    framework : FrameworkRoute
    die_technique : mapping of int to str
        Technique per tooth as the dies step names it; a tooth without one counts as stone.
    male_joined : mapping of str to MaleJoin
        Replaces the case's own word, per attachment id.
    pour : PourBand, optional
        The stretch of the pick-up impression's clock in which it is poured, where parts are counted one by one.
    other_pours : tuple of PourBand
        The other stretches that are still open.
    index_in_mouth : bool
        Units are corrected on the cast to a rigid index made in the mouth before the framework is made.
    days_away : float
        Days between the pick-up and the day the partial is tried; > 0.
    rest_gap_um : float, optional
        Largest gap under a rest that still counts as seated, for every rest; else the case's own, else a published one.
    stage : Stage
    open_dies : mapping of int to tuple of str
        Other techniques that the die rules allow, per tooth.
    own : OwnFigures
        Figures that replace the published ones.
    levels : mapping of str to float
        Where in its range a poorly known record is taken: +1 the end that favors seating, -1 the end that hinders it,
        0 the typical value; by evidence id, with ``"*"`` for all that are not named.
    """

    framework: FrameworkRoute = FrameworkRoute.CAST
    die_technique: Mapping[int, str] = field(default_factory=dict)
    male_joined: Mapping[str, MaleJoin] = field(default_factory=dict)
    pour: PourBand | None = None
    other_pours: tuple[PourBand, ...] = ()
    index_in_mouth: bool = False
    days_away: float = 21.0
    rest_gap_um: float | None = None
    stage: Stage = Stage.PLANNED
    open_dies: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    own: OwnFigures = field(default_factory=OwnFigures)
    levels: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.days_away < 0:
            raise ValueOutOfRange(f"crowns cannot be away for {self.days_away:g} days")
        if any(not -1 <= position <= 1 for position in self.levels.values()):
            raise ValueOutOfRange("a level lies between -1 (hinders seating) and +1 (favors it)")
        if self.rest_gap_um is not None and not self.rest_gap_um > 0:
            raise ValueOutOfRange(f"the gap allowed under a rest must be positive, got {self.rest_gap_um:g} µm")
