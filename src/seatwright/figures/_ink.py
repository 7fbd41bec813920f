"""Paper, ink, one accent: the few colors and sizes that every drawing uses, and how grave a thing looks.

Each color is written as a plain value (so that a file stands alone) next to a class name (so that a page may turn the
lights down). Meaning never rests on color: whatever is drawn in the accent is also bold, boxed or filled.
"""

from dataclasses import dataclass

from seatwright.findings import Severity

__all__ = [
    "ACCENT",
    "FAINT",
    "FONT_STACK",
    "INK",
    "PAPER",
    "QUIET",
    "SHADE",
    "Ink",
    "is_grave",
    "severity_word",
]


@dataclass(frozen=True, slots=True)
class Ink:
    """One color: a name used as a class, and its value on white paper."""

    name: str
    value: str


PAPER = Ink("paper", "#ffffff")
INK = Ink("ink", "#1c1a17")
QUIET = Ink("quiet", "#5c574f")  # contrast 7:1 on paper: small captions
FAINT = Ink("faint", "#a39d92")  # lines that only support; never text
SHADE = Ink("shade", "#ece8e0")  # fills behind ink
ACCENT = Ink("accent", "#a02c16")  # contrast 7:1 on paper; prints as a dark gray

FONT_STACK = "'Libertinus Serif','Palatino Linotype',Palatino,'Times New Roman',serif"

_WORDS = {
    Severity.NOTE: "note",
    Severity.CAUTION: "take care",
    Severity.WARNING: "warning",
    Severity.STOP: "stop",
}


def severity_word(severity: Severity) -> str:
    """Return the severity as a person reads it."""
    return _WORDS[severity]


def is_grave(severity: Severity | None) -> bool:
    """Whether it asks for a change before going on: drawn bold and in the accent."""
    return severity in (Severity.WARNING, Severity.STOP)
