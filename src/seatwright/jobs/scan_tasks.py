"""Reading a scan that somebody brought, in a process that may die of it: what is wrong, or what it looks like."""

from dataclasses import dataclass
from pathlib import Path

from seatwright.files import LENGTH_UNITS_MM, fitting_units, read_arrival
from seatwright.jobs._surfaces import encode_surface
from seatwright.mesh import join_vertices
from seatwright.progress import Progress
from seatwright.workflows.scan_intake import ScanLook, examine_scan

__all__ = ["ArrivalOrder", "ArrivedScan", "UnitReading", "pack_arrival", "read_scan"]


@dataclass(frozen=True, slots=True)
class ArrivalOrder:
    """A file that came in, what it is called, and what is taken at most."""

    path: Path
    name: str
    max_bytes: int
    max_triangles: int


@dataclass(frozen=True, slots=True)
class UnitReading:
    """The scan's size if the file is in this length unit."""

    unit: str
    extent_mm: tuple[float, float, float]
    is_plausible: bool


@dataclass(frozen=True, slots=True)
class ArrivedScan:
    """What a person is told before the scan is kept."""

    look: ScanLook
    readings: tuple[UnitReading, ...]

    @property
    def plausible(self) -> tuple[str, ...]:
        """Length units in which it is as large as an arch."""
        return tuple(reading.unit for reading in self.readings if reading.is_plausible)


def read_scan(order: ArrivalOrder, progress: Progress) -> ArrivedScan:
    """Read a brought file and look at it."""
    progress.report(0.1, "reading the file")
    surface = read_arrival(order.path, name=order.name, max_bytes=order.max_bytes, max_triangles=order.max_triangles)
    progress.report(0.5, f"joining the corners of {surface.n_faces:,} triangles")
    joined, _ = join_vertices(surface)
    progress.report(0.7, "looking at its bodies and its border")
    look = examine_scan(joined)
    fitting = fitting_units(max(look.extent))
    readings = tuple(_read_unit(unit, look.extent, fitting) for unit in ("mm", "in", "cm", "m", "um"))
    return ArrivedScan(look, readings)


def pack_arrival(order: ArrivalOrder, progress: Progress) -> bytes:
    """Return a brought file's surface as `surface_tasks.pack_surface` does, in its own length unit."""
    progress.report(0.1, "reading the file")
    surface = read_arrival(order.path, name=order.name, max_bytes=order.max_bytes, max_triangles=order.max_triangles)
    return encode_surface(surface)


def _read_unit(unit: str, extent: tuple[float, float, float], fitting: tuple[str, ...]) -> UnitReading:
    x, y, z = (side * LENGTH_UNITS_MM[unit] for side in extent)
    return UnitReading(unit, (x, y, z), unit in fitting)
