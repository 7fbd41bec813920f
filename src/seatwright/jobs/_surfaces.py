"""Surfaces that a worker keeps at hand between tasks: read from the record once, named by their content.

And how one is packed for the browser.
"""

import struct
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from seatwright import wiring
from seatwright.errors import CannotCompute
from seatwright.files import parse_surface
from seatwright.mesh import Bodies, Surface, find_bodies, find_open_direction

__all__ = ["ScanOrder", "encode_surface", "take_bodies", "take_surface"]

_KEPT = 3  # judgement: reference, poured cast and one more; some 50 MB each
_at_hand: OrderedDict[tuple[str, str], tuple[Surface, Bodies]] = OrderedDict()


@dataclass(frozen=True, slots=True)
class ScanOrder:
    """One scan in the record, by its content; `name` (with its ending) says what it should be."""

    record: Path
    sha256: str
    name: str
    length_unit: str


def take_surface(order: ScanOrder) -> Surface:
    """Return the scan's surface in mm, read now or kept since a task before."""
    return take_bodies(order)[0]


def take_bodies(order: ScanOrder) -> tuple[Surface, Bodies]:
    """Return the scan's surface in mm and its bodies, which no path changes."""
    key = (order.sha256, order.length_unit)
    if key not in _at_hand:
        record = wiring.open_record(order.record)
        try:
            data = record.store.read(order.sha256)
        finally:
            record.close()
        surface = parse_surface(data, name=order.name, length_unit=order.length_unit)
        _at_hand[key] = surface, find_bodies(surface)
    _at_hand.move_to_end(key)
    while len(_at_hand) > _KEPT:
        _at_hand.popitem(last=False)
    return _at_hand[key]


def encode_surface(surface: Surface) -> bytes:
    """Return a surface as bytes: counts of vertices and faces, the way it opens, positions, corners.

    All in four bytes each: uint32, and float32 for the unit vector that it looks along (z for a closed one) and mm.
    """
    try:
        up = find_open_direction(surface)
    except CannotCompute:
        up = np.array([0.0, 0.0, 1.0])
    head = struct.pack("<II3f", surface.n_vertices, surface.n_faces, *up)
    return head + surface.vertices_mm.astype("<f4").tobytes() + surface.faces.astype("<u4").tobytes()
