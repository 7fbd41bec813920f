"""Surfaces that a worker keeps at hand between tasks: read from the record once, named by their content."""

from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path

from seatwright import wiring
from seatwright.mesh import Surface

__all__ = ["ScanOrder", "take_surface"]

_KEPT = 3  # judgement: reference, poured cast and one more; some 50 MB each
_at_hand: OrderedDict[tuple[str, str, str, str], Surface] = OrderedDict()


@dataclass(frozen=True, slots=True)
class ScanOrder:
    """One scan of one case; `sha256` is its file's, so that a new file under the old name is read anew."""

    record: Path
    code: str
    scan: str
    sha256: str


def take_surface(order: ScanOrder) -> Surface:
    """Return the scan's surface in mm, read now or kept since a task before."""
    key = (str(order.record), order.code, order.scan, order.sha256)
    if key not in _at_hand:
        record = wiring.open_record(order.record)
        try:
            source = wiring.case_of_record(record, order.code)
            case = source.load(now=None, clock=wiring.SystemClock()).case
            scan = next(scan for scan in case.scan if scan.id == order.scan)
            _at_hand[key] = source.surface(scan)[0]
        finally:
            record.close()
    _at_hand.move_to_end(key)
    while len(_at_hand) > _KEPT:
        _at_hand.popitem(last=False)
    return _at_hand[key]
