"""Tooth numbers: three notations both ways, and who stands beside whom. Knows nothing of a case.

Inside, a tooth is its ISO 3950 number as an int. The three notations are rows of one table.
"""

from enum import StrEnum
from types import MappingProxyType
from typing import Final

from seatwright.case._terms import Arch
from seatwright.errors import ValueOutOfRange

__all__ = [
    "PERMANENT_TEETH",
    "ToothNotation",
    "arch_of",
    "are_adjacent",
    "distal_neighbor",
    "format_tooth",
    "mesial_neighbor",
    "mirror_tooth",
    "parse_tooth",
    "sort_along_arch",
    "teeth_of_arch",
    "tooth_position",
]


class ToothNotation(StrEnum):
    """How a tooth number is written."""

    ISO = "iso"
    """ISO 3950, two digits: quadrant and position (36)."""
    UNIVERSAL = "universal"
    """Universal, 1 to 32 from the upper right third molar round; A to T for deciduous teeth."""
    QUADRANT = "quadrant"
    """Quadrant symbol in letters, and position (LL6); A to E for deciduous teeth."""


# (ISO quadrant, quadrant symbol, Universal names of positions 1, 2, 3, ...)
_PERMANENT = (
    (1, "UR", tuple(str(n) for n in range(8, 0, -1))),
    (2, "UL", tuple(str(n) for n in range(9, 17))),
    (3, "LL", tuple(str(n) for n in range(24, 16, -1))),
    (4, "LR", tuple(str(n) for n in range(25, 33))),
)
_DECIDUOUS = (
    (5, "UR", tuple("EDCBA")),
    (6, "UL", tuple("FGHIJ")),
    (7, "LL", tuple("ONMLK")),
    (8, "LR", tuple("PQRST")),
)
_LETTERS = "ABCDE"

_NAMES: Final = {
    10 * quadrant + position: {
        ToothNotation.ISO: f"{quadrant}{position}",
        ToothNotation.UNIVERSAL: universal,
        ToothNotation.QUADRANT: symbol + (_LETTERS[position - 1] if rows is _DECIDUOUS else str(position)),
    }
    for rows in (_PERMANENT, _DECIDUOUS)
    for quadrant, symbol, names in rows
    for position, universal in enumerate(names, start=1)
}
_TEETH_BY_NAME = {notation: {names[notation]: tooth for tooth, names in _NAMES.items()} for notation in ToothNotation}

PERMANENT_TEETH: Final = frozenset(tooth for tooth in _NAMES if tooth < 50)
"""All thirty-two, ISO 3950."""

_ORDER = MappingProxyType(
    {
        Arch.MAXILLA: (*range(18, 10, -1), *range(21, 29)),
        Arch.MANDIBLE: (*range(48, 40, -1), *range(31, 39)),
    }
)
_PLACE = {tooth: (arch, place) for arch, teeth in _ORDER.items() for place, tooth in enumerate(teeth)}
_MIRRORED = {1: 2, 2: 1, 3: 4, 4: 3}
_LOOKS = {
    ToothNotation.ISO: "two digits, such as 36",
    ToothNotation.UNIVERSAL: "1 to 32, such as 19",
    ToothNotation.QUADRANT: "quadrant and position, such as LL6",
}


def parse_tooth(text: str, notation: ToothNotation = ToothNotation.ISO, *, deciduous: bool = False) -> int:
    """Return the ISO 3950 number of a tooth written in one of the three notations.

    Parameters
    ----------
    text : str
        The number as written; case of letters and surrounding spaces do not matter.
    notation : ToothNotation
        Which notation it is; never guessed, since 11 to 28 mean different teeth in two of them.
    deciduous : bool
        Whether deciduous teeth are accepted too. A case holds permanent teeth only.

    Raises
    ------
    ValueOutOfRange
        If there is no such tooth in this notation, or it is deciduous and that is not allowed.

    References
    ----------
    .. [1] ISO 3950:2016, Dentistry, Designation system for teeth and areas of the oral cavity.

    Examples
    --------
    >>> parse_tooth("LL6", ToothNotation.QUADRANT), parse_tooth("19", ToothNotation.UNIVERSAL)
    (36, 36)
    """
    tooth = _TEETH_BY_NAME[notation].get(text.strip(" \t").upper()) if text.isascii() else None
    if tooth is None:
        raise ValueOutOfRange(
            f"there is no tooth {text[:12]!r} in {notation} notation",
            hint=f"write {_LOOKS[notation]}",
            details={"text": text[:12], "notation": str(notation)},
        )
    if tooth not in PERMANENT_TEETH and not deciduous:
        raise ValueOutOfRange(
            f"{text.strip()} is a deciduous tooth",
            hint=f"a case holds permanent teeth only: write {_LOOKS[notation]}",
            details={"text": text[:12], "notation": str(notation)},
        )
    return tooth


def format_tooth(tooth: int, notation: ToothNotation = ToothNotation.ISO) -> str:
    """Return a tooth's name in a notation.

    Raises
    ------
    ValueOutOfRange
        If `tooth` is no ISO 3950 number, permanent or deciduous.

    Examples
    --------
    >>> format_tooth(36, ToothNotation.QUADRANT), format_tooth(36, ToothNotation.UNIVERSAL)
    ('LL6', '19')
    """
    names = _NAMES.get(tooth)
    if names is None:
        raise ValueOutOfRange(f"there is no tooth {tooth}", hint=f"write {_LOOKS[ToothNotation.ISO]}")
    return names[notation]


def teeth_of_arch(arch: Arch) -> tuple[int, ...]:
    """Return the sixteen teeth of an arch from the patient's right to the left.

    Examples
    --------
    >>> teeth_of_arch(Arch.MANDIBLE)[6:10]
    (42, 41, 31, 32)
    """
    return _ORDER[arch]


def arch_of(tooth: int) -> Arch:
    """Return the arch that a permanent tooth stands in.

    Examples
    --------
    >>> arch_of(43)
    <Arch.MANDIBLE: 'mandible'>
    """
    return _place(tooth)[0]


def tooth_position(tooth: int) -> int:
    """Return the position from the midline, 1 (central incisor) to 8 (third molar).

    Examples
    --------
    >>> tooth_position(48)
    8
    """
    _place(tooth)
    return tooth % 10


def mirror_tooth(tooth: int) -> int:
    """Return the same tooth on the other side of the same arch: whose die is mistaken for it.

    Examples
    --------
    >>> mirror_tooth(43), mirror_tooth(33)
    (33, 43)
    """
    _place(tooth)
    return 10 * _MIRRORED[tooth // 10] + tooth % 10


def mesial_neighbor(tooth: int) -> int:
    """Return the next position towards the midline; a central incisor's is the other central incisor.

    Examples
    --------
    >>> mesial_neighbor(36), mesial_neighbor(41)
    (35, 31)
    """
    return tooth - 1 if tooth_position(tooth) > 1 else mirror_tooth(tooth)


def distal_neighbor(tooth: int) -> int | None:
    """Return the next position away from the midline; None behind a third molar.

    Examples
    --------
    >>> distal_neighbor(36), distal_neighbor(38)
    (37, None)
    """
    return tooth + 1 if tooth_position(tooth) < 8 else None


def are_adjacent(one: int, other: int) -> bool:
    """Whether two positions of one arch stand side by side.

    Examples
    --------
    >>> are_adjacent(31, 41), are_adjacent(31, 21), are_adjacent(34, 36)
    (True, False, False)
    """
    (arch_one, place_one), (arch_other, place_other) = _place(one), _place(other)
    return arch_one is arch_other and abs(place_one - place_other) == 1


def sort_along_arch(teeth: tuple[int, ...]) -> tuple[int, ...]:
    """Return teeth from the patient's right to the left, the maxilla first.

    Examples
    --------
    >>> sort_along_arch((33, 41, 45, 36))
    (45, 41, 33, 36)
    """
    return tuple(sorted(teeth, key=lambda tooth: (_place(tooth)[0] is Arch.MANDIBLE, _place(tooth)[1])))


def _place(tooth: int) -> tuple[Arch, int]:
    if tooth not in _PLACE:
        raise ValueOutOfRange(f"there is no permanent tooth {tooth}", hint=f"write {_LOOKS[ToothNotation.ISO]}")
    return _PLACE[tooth]
