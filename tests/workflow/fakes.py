"""Honest stand-ins for the ports: values in memory, a clock that stands still."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from seatwright.case import Bench, Case, Event, Scan, fold_events
from seatwright.cast import CaliperReading, FoilReading
from seatwright.errors import ConflictError, InputError, MeshError
from seatwright.mesh import Surface
from seatwright.workflows.ports import CaliperSheet, CaseBundle, Clock, IndexSheet, InputFile, ScanVolume
from seatwright.workflows.scan_volume import measure_scan_volume


@dataclass(frozen=True, slots=True)
class StoppedClock:
    at: datetime

    def now(self) -> datetime:
        return self.at


@dataclass(slots=True)
class MemorySource:
    case: Case
    bench: Bench
    events: tuple[Event, ...] = ()
    surfaces: Mapping[str, Surface] = field(default_factory=dict)
    readings: Mapping[str, tuple[CaliperReading, ...]] = field(default_factory=dict)
    gaps: Mapping[str, tuple[FoilReading, ...]] = field(default_factory=dict)

    def load(self, *, now: datetime | None, clock: Clock) -> CaseBundle:
        moment = now or self.case.as_of or clock.now()
        state = fold_events(self.events, self.case, now=moment)
        return CaseBundle(self.case, self.events, self.bench, (InputFile("case.toml", "0" * 64, 1),), state, moment)

    def surface(self, scan: Scan) -> tuple[Surface, InputFile]:
        return self.region_surface(scan.file, scan)

    def scan_volume(self, scan: Scan) -> ScanVolume:
        return measure_scan_volume(self.surface(scan)[0])

    def region_surface(self, name: str, scan: Scan) -> tuple[Surface, InputFile]:
        if name not in self.surfaces:
            raise MeshError(f"{name}: is not there")
        return self.surfaces[name], InputFile(name, "1" * 64, 1)

    def caliper_sheet(self, name: str) -> CaliperSheet:
        if name not in self.readings:
            raise InputError(f"{name}: is not there")
        return CaliperSheet(self.readings[name], 0, InputFile(name, "2" * 64, 1))

    def index_sheet(self, name: str) -> IndexSheet:
        if name not in self.gaps:
            raise InputError(f"{name}: is not there")
        return IndexSheet(self.gaps[name], {}, 0, InputFile(name, "3" * 64, 1))


@dataclass(slots=True)
class MemoryStore:
    written: dict[str, dict[str, bytes]] = field(default_factory=dict)
    taken: frozenset[str] = frozenset()

    def require_free(self, name: str) -> None:
        if name in self.taken:
            raise ConflictError(f"{name} is taken")

    def write_whole(self, name: str, files: Mapping[str, bytes]) -> str:
        self.written[name] = dict(files)
        return name
