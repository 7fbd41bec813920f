"""The caliper check: a sheet of readings to movements of marks."""

from dataclasses import dataclass
from typing import Protocol

from seatwright.cast import (
    CaliperAsked,
    CaliperReading,
    CaliperResult,
    FoilReading,
    IndexAsked,
    IndexResult,
    check_caliper,
    check_index,
)
from seatwright.workflows.ports import InputFile

__all__ = [
    "CaliperAnswer",
    "CaliperSheet",
    "IndexAnswer",
    "IndexSheet",
    "IndexSource",
    "SheetSource",
    "judge_index",
    "judge_readings",
]


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


@dataclass(frozen=True, slots=True)
class IndexSheet:
    """Foil readings as they were written down.

    Attributes
    ----------
    readings : tuple of FoilReading
    places_mm : dict
        Plan places that the sheet states, by seat.
    n_empty : int
        Lines whose gap is not filled in yet.
    input : InputFile
    """

    readings: tuple[FoilReading, ...]
    places_mm: dict[str, tuple[float, float]]
    n_empty: int
    input: InputFile


class IndexSource(Protocol):
    """Where foil readings come from."""

    def load(self) -> IndexSheet:
        """Read all gaps; InputError with every fault found."""
        ...


@dataclass(frozen=True, slots=True)
class IndexAnswer:
    """An index sheet with what it says."""

    sheet: IndexSheet
    result: IndexResult


def judge_index(source: IndexSource, asked: IndexAsked) -> IndexAnswer:
    """Read an index sheet and judge it."""
    sheet = source.load()
    return IndexAnswer(sheet, check_index(sheet.readings, sheet.places_mm, asked))
