"""The caliper check: a sheet of readings to movements of marks."""

from dataclasses import dataclass
from typing import Protocol

from seatwright.cast import CaliperAsked, CaliperReading, CaliperResult, check_caliper
from seatwright.workflows.ports import InputFile

__all__ = ["CaliperAnswer", "CaliperSheet", "SheetSource", "judge_readings"]


@dataclass(frozen=True, slots=True)
class CaliperSheet:
    """Readings as they were written down.

    Attributes
    ----------
    readings : tuple of CaliperReading
    n_empty : int
        Lines whose reading is not filled in yet.
    input : InputFile
    """

    readings: tuple[CaliperReading, ...]
    n_empty: int
    input: InputFile


class SheetSource(Protocol):
    """Where readings come from."""

    def load(self) -> CaliperSheet:
        """Read all readings; InputError with every fault found."""
        ...


@dataclass(frozen=True, slots=True)
class CaliperAnswer:
    """A sheet with what it says."""

    sheet: CaliperSheet
    result: CaliperResult


def judge_readings(source: SheetSource, asked: CaliperAsked) -> CaliperAnswer:
    """Read a sheet and judge it."""
    sheet = source.load()
    return CaliperAnswer(sheet, check_caliper(sheet.readings, asked))
