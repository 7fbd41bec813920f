"""What the workflows need from outside, as small protocols; `files`, `papers` and tests implement them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Protocol

from seatwright.case import Bench, Case, CaseState, Event, Scan

if TYPE_CHECKING:
    from seatwright.cast import CaliperReading, FoilReading
    from seatwright.mesh import Surface

__all__ = [
    "CaliperSheet",
    "CaseBundle",
    "CaseFiles",
    "CaseSource",
    "Clock",
    "EventLog",
    "FolderStore",
    "IndexSheet",
    "InputFile",
    "Remembered",
    "ScanVolume",
]


@dataclass(frozen=True, slots=True)
class InputFile:
    """One file that a result rests on."""

    name: str
    """Path inside the case, or the option it was given by."""
    sha256: str
    n_bytes: int


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

    readings: "tuple[CaliperReading, ...]"
    n_empty: int
    input: InputFile


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

    readings: "tuple[FoilReading, ...]"
    places_mm: dict[str, tuple[float, float]]
    n_empty: int
    input: InputFile


@dataclass(frozen=True, slots=True)
class CaseBundle:
    """A case with its log and bench, validated together."""

    case: Case
    events: tuple[Event, ...]
    bench: Bench
    inputs: tuple[InputFile, ...]
    state: CaseState
    """The fold of the log at `now`."""
    now: datetime
    """The moment at which the case is looked at."""


@dataclass(frozen=True, slots=True)
class ScanVolume:
    """Volume that a scan stands for, whatever base its cast will have.

    Attributes
    ----------
    enclosed_mm3 : float or None
        Of a model with a base; None for an open scan, which encloses nothing.
    under_mm3, plan_mm2 : float
        Under an open scan, down to its lowest point along the direction that it looks in, and the area that it covers
        there; 0 for a model with a base.
    """

    enclosed_mm3: float | None
    under_mm3: float = 0.0
    plan_mm2: float = 0.0

    def on_base_mm3(self, base_height_mm: float) -> float:
        """Return the volume down to the underside of a base of this height."""
        return self.under_mm3 + self.plan_mm2 * base_height_mm if self.enclosed_mm3 is None else self.enclosed_mm3


class Remembered(Protocol):
    """What was measured on scans, kept by their content: measuring again gives the same, and losing it costs time."""

    def recall(self, key: str) -> Mapping[str, float | None] | None:
        """Return the numbers kept under a key; None when there are none that can be read."""
        ...

    def keep(self, key: str, numbers: Mapping[str, float | None]) -> None:
        """Keep numbers under a key, if it can be."""
        ...


class CaseFiles(Protocol):
    """The raw files of one case, in a folder or in the practice record; names are paths inside the case."""

    @property
    def title(self) -> str:
        """How errors name the case."""
        ...

    def require(self) -> None:
        """Raise `CaseError` when there is no case here."""
        ...

    def has(self, name: str) -> bool:
        """Return whether something stands under this name, sound or not."""
        ...

    def check(self, name: str) -> tuple[str, str] | None:
        """Return what is wrong with a file that the case names, and what mends it; None when it can be read."""
        ...

    def sha256_of(self, name: str) -> str | None:
        """Return the SHA-256 of a file's content where it is known without reading it."""
        ...

    def read(self, name: str, *, max_bytes: int) -> bytes:
        """Return a file's bytes.

        Raises
        ------
        InputError
            It is not there, cannot be read, or is larger than `max_bytes`.
        """
        ...


class CaseSource(Protocol):
    """Where a case comes from: a folder or the practice record."""

    def load(self, *, now: datetime | None, clock: "Clock") -> CaseBundle:
        """Read and validate everything but the scans, at `now`: as given, else the case's `as_of`, else the clock.

        Raises
        ------
        CaseError
            With every fault found.
        """
        ...

    def surface(self, scan: Scan) -> "tuple[Surface, InputFile]":
        """Read one scan of the case in mm, checked against what the case says it is."""
        ...

    def scan_volume(self, scan: Scan) -> ScanVolume:
        """Return the volume that a scan of the case stands for; MeshError as for `surface`."""
        ...

    def region_surface(self, name: str, scan: Scan) -> "tuple[Surface, InputFile]":
        """Read a unit's own surface file named by a region, in the length unit of `scan`."""
        ...

    def caliper_sheet(self, name: str) -> CaliperSheet:
        """Read caliper readings of the case; InputError with every fault found."""
        ...

    def index_sheet(self, name: str) -> IndexSheet:
        """Read an index test's gaps of the case; InputError with every fault found."""
        ...


class EventLog(Protocol):
    """Where happenings of one case are written down: lines are added, never changed."""

    def append(self, *events: Event) -> None:
        """Add events as whole lines, all of them or none, safe against a power cut.

        Raises
        ------
        ConflictError
            The log was changed by somebody else since it was last read or written here.
        RecordError
            It cannot be written.
        """
        ...


class Clock(Protocol):
    """Tells the time; injected so that results can be repeated."""

    def now(self) -> datetime:
        """Return the present moment, timezone-aware UTC."""
        ...


class FolderStore(Protocol):
    """Writes a folder of files whole or not at all."""

    def require_free(self, name: str) -> None:
        """Raise `ConflictError` when the folder `name` holds what this tool did not write, before any work is done."""
        ...

    def write_whole(self, name: str, files: Mapping[str, bytes]) -> str:
        """Write all files under the folder `name`, replacing what this tool wrote there before; return its path."""
        ...
