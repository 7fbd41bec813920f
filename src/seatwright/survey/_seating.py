"""A framework brought straight to its seat: does it enter, where does it touch first, how far from seat."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from seatwright.mesh import Block, Surface, Withdrawal, find_block, map_blocks, offset_surface, prepare_withdrawal
from seatwright.quantities import FloatArray
from seatwright.survey._path import InsertionPath

__all__ = ["PartSeating", "Touch", "seat_part"]

_TOGETHER_MM = 0.02  # judgement: touches within the next 20 µm of travel come at once on a bench
_APART_MM = 2.0  # judgement: two touches closer than this are one place
_MOST_RELIEF_MM = 0.5  # judgement: a framework that needs more is not relieved but made again
_RELIEF_STEPS = 8  # judgement: halvings of half a millimetre: 2 µm
_SHOWN = 6  # judgement: places that a person can mark in one round


@dataclass(frozen=True, slots=True)
class Touch:
    """One place that meets the cast.

    Attributes
    ----------
    at_mm : (float, float, float)
        On the cast.
    from_seat_mm : float
        Travel still missing to the seat when it touches.
    cast_face, part_face : int
    """

    at_mm: tuple[float, float, float]
    from_seat_mm: float
    cast_face: int
    part_face: int


@dataclass(frozen=True, slots=True)
class PartSeating:
    """How a rigid part seats along a straight path.

    Attributes
    ----------
    enters : bool
    stops_short_mm : float
        Travel missing when it touches first; 0 when it enters. Exact for the two meshes.
    first : tuple of Touch
        Places that touch first, most 6, at least 2 mm apart.
    relief_um : float or None
        Inward offset of the whole part that lets it enter, to 2 µm; None above 500 µm or when not asked.
    """

    enters: bool
    stops_short_mm: float
    first: tuple[Touch, ...]
    relief_um: float | None


def seat_part(
    pair: Withdrawal, path: InsertionPath, *, remade: Callable[[float], Withdrawal] | None = None
) -> PartSeating:
    """Bring a part straight down to its seat.

    Parameters
    ----------
    pair : Withdrawal
        Cast and part at seat.
    path : InsertionPath
    remade : callable, optional
        Gives the pair with the part offset by a distance in mm (negative inwards): asked for the relief.

    Notes
    -----
    The part comes from far off: it meets the cast first where the cast stands highest above it in one column, and stops
    that far from its seat. No stepping is needed.
    """
    withdraw = np.array(path.withdraw_direction)
    blocks = map_blocks(pair, withdraw)
    if not blocks:
        return PartSeating(True, 0.0, (), 0.0)
    ordered = sorted(blocks, key=lambda b: -b.height_mm)
    relief = None if remade is None else _relief_um(remade, withdraw)
    return PartSeating(False, ordered[0].height_mm, _places(ordered), relief)


def offsets_of(cast: Surface, part: Surface) -> Callable[[float], Withdrawal]:
    """Return what `seat_part` asks for the relief: the pair with the part offset."""
    return lambda distance_mm: prepare_withdrawal(cast, offset_surface(part, distance_mm))


def _places(ordered: list[Block]) -> tuple[Touch, ...]:
    first: list[Touch] = []
    for block in ordered:
        if block.height_mm < ordered[0].height_mm - _TOGETHER_MM or len(first) >= _SHOWN:
            break
        if all(_distance(t.at_mm, block.at_mm) >= _APART_MM for t in first):
            first.append(Touch(block.at_mm, block.height_mm, block.fixed_face, block.moving_face))
    return tuple(first)


def _distance(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    return float(np.linalg.norm(np.subtract(one, other)))


def _relief_um(remade: Callable[[float], Withdrawal], withdraw: FloatArray) -> float | None:
    if find_block(remade(-_MOST_RELIEF_MM), withdraw) is not None:
        return None
    low, high = 0.0, _MOST_RELIEF_MM
    for _ in range(_RELIEF_STEPS):
        middle = 0.5 * (low + high)
        if find_block(remade(-middle), withdraw) is None:
            high = middle
        else:
            low = middle
    return high * 1000.0
