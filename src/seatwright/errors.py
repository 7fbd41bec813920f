"""Every error that Seatwright raises on purpose.

::

    SeatwrightError            code        exit
    ├── InputError             input       2     the caller or a file is wrong: mend it and try again
    │   ├── CaseError          case        2     the case document, its log or the bench is wrong
    │   │   └── UnknownCase    unknown     2     the record has no case of this code
    │   ├── MeshError          mesh        2     a surface file is damaged or not what it says
    │   └── ValueOutOfRange    range       2     a number lies outside what the method allows
    ├── AccessError            access      2     who asks may not, or has not signed in
    ├── CannotCompute          undefined   3     inputs are legal, but the answer does not exist
    ├── RecordError            record      4     storage is broken, locked or from a newer version
    ├── ConflictError          conflict    5     somebody else changed it, or it is there already
    └── Cancelled              cancelled   130   the person asked to stop

An expected negative (window missed, tolerance failed, no die possible) is a result, never an error.
Anything else that escapes is a bug of ours (exit 70).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

__all__ = [
    "AccessError",
    "Cancelled",
    "CannotCompute",
    "CaseError",
    "ConflictError",
    "Fault",
    "InputError",
    "MeshError",
    "RecordError",
    "SeatwrightError",
    "UnknownCase",
    "ValueOutOfRange",
]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with an input: where it stands, what is wrong, what mends it."""

    where: str
    """File and field, such as ``case.toml: unit[3].margin.facial``."""
    what: str
    hint: str = ""


class SeatwrightError(Exception):
    """Base of all deliberate errors.

    Attributes
    ----------
    message : str
        What is wrong, in one sentence.
    hint : str
        What the person can do about it.
    details : mapping
        Machine-readable particulars; values are JSON types.
    faults : tuple of Fault
        Every fault found, when several were collected before raising.
    """

    code: ClassVar[str] = "error"
    exit_code: ClassVar[int] = 70

    def __init__(
        self,
        message: str,
        *,
        hint: str = "",
        details: Mapping[str, object] | None = None,
        faults: Sequence[Fault] = (),
    ) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.details: dict[str, object] = dict(details or {})
        self.faults = tuple(faults)


class InputError(SeatwrightError):
    """The caller or a file is wrong."""

    code = "input"
    exit_code = 2


class CaseError(InputError):
    """The case document, its log or the bench file is wrong; `faults` lists all that was found."""

    code = "case"


class UnknownCase(CaseError):
    """The record has no case of this code."""

    code = "unknown"


class MeshError(InputError):
    """A surface file is damaged, mislabelled or not what the case says it is."""

    code = "mesh"


class ValueOutOfRange(InputError):
    """A number lies outside what the method allows."""

    code = "range"


class AccessError(SeatwrightError):
    """Who asks may not do this, or has not signed in; nothing was done."""

    code = "access"
    exit_code = 2


class CannotCompute(SeatwrightError):
    """Inputs are legal, but the answer is undefined (degenerate fit, too little overlap)."""

    code = "undefined"
    exit_code = 3


class RecordError(SeatwrightError):
    """Storage is broken, locked or written by a newer version."""

    code = "record"
    exit_code = 4


class ConflictError(SeatwrightError):
    """What should be written was changed by somebody else or exists already."""

    code = "conflict"
    exit_code = 5


class Cancelled(SeatwrightError):
    """The person asked to stop; nothing was written."""

    code = "cancelled"
    exit_code = 130
