"""The caliper check: a sheet of readings to movements of marks."""

from dataclasses import dataclass
from typing import Protocol

from seatwright.case import Case
from seatwright.cast import (
    CaliperAsked,
    CaliperResult,
    IndexAsked,
    IndexResult,
    check_caliper,
    check_index,
)
from seatwright.findings import Finding
from seatwright.workflows.ports import CaliperSheet, CaseSource, IndexSheet, InputFile

__all__ = [
    "ByHand",
    "CaliperAnswer",
    "CaliperSheet",
    "IndexAnswer",
    "IndexSheet",
    "IndexSource",
    "SheetSource",
    "check_by_hand",
    "judge_index",
    "judge_readings",
]


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


@dataclass(frozen=True, slots=True)
class ByHand:
    """What a case's readings by caliper and foil say; None where there are none."""

    caliper: CaliperAnswer | None
    index: IndexAnswer | None

    @property
    def inputs(self) -> tuple[InputFile, ...]:
        """What was read."""
        return tuple(answer.sheet.input for answer in (self.caliper, self.index) if answer is not None)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Of both."""
        return tuple(f for answer in (self.caliper, self.index) if answer is not None for f in answer.result.findings)


def check_by_hand(source: CaseSource, case: Case) -> ByHand | None:
    """Judge the readings that the case names, against its own tolerance; None when it names none."""
    said = case.by_hand
    if said is None:
        return None
    caliper = index = None
    if said.distances is not None:
        asked = CaliperAsked(
            tolerance_um=case.tolerance.unit_shift_um,
            u_distance_um=said.u_distance_um,
            reseat_um=said.reseat_um,
            stable=said.stable,
        )
        sheet = source.caliper_sheet(said.distances)
        caliper = CaliperAnswer(sheet, check_caliper(sheet.readings, asked))
    if said.gaps is not None:
        gaps = source.index_sheet(said.gaps)
        question = IndexAsked(tolerance_um=case.tolerance.unit_shift_um, u_foil_um=said.u_foil_um)
        index = IndexAnswer(gaps, check_index(gaps.readings, gaps.places_mm, question))
    return ByHand(caliper, index)
