"""What the page shows of surfaces, as plain arrays: positions and faces, and a value at each vertex."""

import json
import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from seatwright import wiring
from seatwright.errors import ValueOutOfRange
from seatwright.files import encode_ply, join_surfaces, parse_surface
from seatwright.jobs._surfaces import ScanOrder, encode_surface, take_bodies, take_surface
from seatwright.mesh import Surface, find_bodies
from seatwright.progress import Progress
from seatwright.survey import Quality, UndercutFlag, UndercutMap, block_out, make_path, measure_undercut

__all__ = ["BlockOutOrder", "ScanOrder", "UndercutOrder", "fill_undercuts", "pack_surface", "read_undercut", "wake"]

_OF_THE_GAUGE = "undercut-beyond-reach"  # how far a gauge's head reaches does not bear on what is filled
_SCAN_SLACK_MM = 0.02  # metrology: noise of a scan, so that it is not taken for overhangs


@dataclass(frozen=True, slots=True)
class UndercutOrder:
    """A scan and the way the partial moves to seat, in the scan's frame."""

    scan: ScanOrder
    seat_direction: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class BlockOutOrder:
    """Whose undercuts are filled along which path, with walls at which angle to it."""

    undercut: UndercutOrder
    taper_deg: float


def fill_undercuts(order: BlockOutOrder, progress: Progress) -> bytes:
    """Return the block-out of a scan: length of the words, the words (JSON), then the solids as one surface, if any.

    Raises
    ------
    ValueOutOfRange
        The direction is no direction, or the taper none.
    """
    progress.report(0.1, "finding the undercuts")
    field = _measure(order.undercut)
    progress.report(0.3, "filling them")
    fill = block_out(field, taper_deg=order.taper_deg)
    words = {
        "volume_mm3": fill.volume_mm3,
        "undercut_volume_mm3": fill.undercut_volume_mm3,
        "taper_deg": fill.taper_deg,
        "n_solids": len(fill.solids),
        "findings": [f.what for f in (*field.findings, *fill.findings) if f.id != _OF_THE_GAUGE],
    }
    said = json.dumps(words).encode()
    said += b" " * (-len(said) % 4)
    solid = encode_surface(join_surfaces(fill.solids)) if fill.solids else b""
    return struct.pack("<I", len(said)) + said + solid


def pack_surface(order: ScanOrder, progress: Progress) -> bytes:
    """Return a scan as bytes; see `encode_surface`."""
    progress.report(0.1, "reading the scan")
    return encode_surface(take_surface(order))


def read_undercut(order: UndercutOrder, progress: Progress) -> bytes:
    """Return the undercut at each vertex of a scan, mm as float32; negative where no gauge can read it.

    Raises
    ------
    ValueOutOfRange
        The direction is no direction.
    """
    progress.report(0.1, "reading undercuts")
    found = _measure(order)
    shown = np.where(found.flags == UndercutFlag.BEYOND, -1.0, found.undercut_mm)
    return shown.astype("<f4").tobytes()


def wake(record: Path, progress: Progress) -> None:
    """Read the libraries and load the kernels that a first scan needs, on a body of four faces."""
    progress.report(0.1, "waking up")
    wiring.open_record(record).close()
    corners = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0], [0.0, 0.0, 10.0]])
    body = Surface(corners, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]))
    read = parse_surface(encode_ply(body), name="body.ply", length_unit="mm")
    encode_surface(read)
    measure_undercut(read, make_path((0.0, 0.0, -1.0)), quality=Quality.DISPLAY, bodies=find_bodies(read))


def _measure(order: UndercutOrder) -> UndercutMap:
    if not np.linalg.norm(order.seat_direction) > 0:
        raise ValueOutOfRange("the path has no direction", hint="give a vector that is not zero")
    surface, bodies = take_bodies(order.scan)
    path = make_path(order.seat_direction)
    return measure_undercut(surface, path, quality=Quality.DISPLAY, slack_mm=_SCAN_SLACK_MM, bodies=bodies)
