"""How one device shows the page: notation of teeth, decimal sign, light, alarm. Kept in a cookie, never in a file."""

from dataclasses import dataclass
from typing import Literal, cast, get_args

from seatwright.case import ToothNotation, format_tooth

__all__ = ["COOKIE", "Light", "Preferences", "name_tooth", "read_preferences", "short_name"]

Light = Literal["auto", "bright", "dim"]
COOKIE = "seatwright-page"
_UNIVERSAL_MARK = "#"  # sets Universal 12 apart from ISO 12, which is another tooth


@dataclass(frozen=True, slots=True)
class Preferences:
    """What somebody chose on this device.

    Attributes
    ----------
    teeth : ToothNotation
    comma : bool
        Whether decimals are written with a comma.
    light : str
        ``auto`` follows the device.
    sound, flash : bool
        Whether the alarm of a clock is heard, and seen as a flash. Its words and its frame come in any case.
    """

    teeth: ToothNotation = ToothNotation.ISO
    comma: bool = False
    light: Light = "auto"
    sound: bool = True
    flash: bool = True

    def to_cookie(self) -> str:
        """Return the value of the cookie.

        Examples
        --------
        >>> Preferences(comma=True, sound=False).to_cookie()
        'iso.comma.auto.silent.flash'
        """
        words = (
            self.teeth.value,
            "comma" if self.comma else "point",
            self.light,
            "sound" if self.sound else "silent",
            "flash" if self.flash else "still",
        )
        return ".".join(words)


def read_preferences(cookie: str | None) -> Preferences:
    """Return what a cookie says; a word that is absent or unknown leaves the default.

    Examples
    --------
    >>> read_preferences("universal.comma.dim.silent.flash").teeth.value
    'universal'
    >>> read_preferences("nonsense") == Preferences()
    True
    """
    words = set((cookie or "").split("."))
    teeth = next((notation for notation in ToothNotation if notation.value in words), ToothNotation.ISO)
    light = next((one for one in get_args(Light) if one in words), "auto")
    return Preferences(
        teeth=teeth,
        comma="comma" in words,
        light=cast("Light", light),
        sound="silent" not in words,
        flash="still" not in words,
    )


def name_tooth(tooth: int, notation: ToothNotation) -> str:
    """Return what a tooth is called where it is named on a page: in another notation, its ISO number stands beside it.

    Sentences, papers and the record say ISO 3950 alone; so no number on a page is ever in doubt.

    Examples
    --------
    >>> name_tooth(36, ToothNotation.UNIVERSAL), name_tooth(36, ToothNotation.QUADRANT)
    ('#19 (36)', 'LL6 (36)')
    """
    if notation is ToothNotation.ISO:
        return str(tooth)
    return f"{short_name(tooth, notation)} ({tooth})"


def short_name(tooth: int, notation: ToothNotation) -> str:
    """Return the name in the chosen notation alone, marked so that it is none of ISO 3950."""
    name = format_tooth(tooth, notation)
    return f"{_UNIVERSAL_MARK}{name}" if notation is ToothNotation.UNIVERSAL else name
