"""What the page shows of surfaces, as plain arrays: positions and faces, and a value at each vertex."""

from dataclasses import dataclass

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.jobs._surfaces import ScanOrder, encode_surface, take_surface
from seatwright.progress import Progress
from seatwright.survey import Quality, UndercutFlag, make_path, measure_undercut

__all__ = ["ScanOrder", "UndercutOrder", "pack_surface", "read_undercut"]

_SCAN_SLACK_MM = 0.02  # metrology: noise of a scan, so that it is not taken for overhangs


@dataclass(frozen=True, slots=True)
class UndercutOrder:
    """A scan and the way the partial moves to seat, in the scan's frame."""

    scan: ScanOrder
    seat_direction: tuple[float, float, float]


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
    if not np.linalg.norm(order.seat_direction) > 0:
        raise ValueOutOfRange("the path has no direction", hint="give a vector that is not zero")
    found = measure_undercut(
        take_surface(order.scan), make_path(order.seat_direction), quality=Quality.DISPLAY, slack_mm=_SCAN_SLACK_MM
    )
    shown = np.where(found.flags == UndercutFlag.BEYOND, -1.0, found.undercut_mm)
    return shown.astype("<f4").tobytes()
