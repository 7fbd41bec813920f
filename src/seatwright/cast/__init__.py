"""The cast check: has any unit moved between the reference and the poured cast, by how much, and are we sure."""

from seatwright.cast._check import check_cast
from seatwright.cast._deviation import Deviation, measure_deviation
from seatwright.cast._result import CastResult, Overlap, UnitMovement

__all__ = ["CastResult", "Deviation", "Overlap", "UnitMovement", "check_cast", "measure_deviation"]
