"""Text on a drawing: what may stand in it, how wide it runs, where it breaks. Draws nothing."""

import re
from collections.abc import Iterable

__all__ = ["clean_text", "measure_text_mm", "wrap_text"]

_NUMBER_UNIT = re.compile(r"(?<=[0-9]) (?=(min|mm|µm|h|%|g|ml|deg|°)(?!\w))|(?<=[0-9±]) (?=±)|(?<=±) ")
_NARROW = frozenset("!'(),-./:;I[]`fijlrt|{} \u00a0·’°")
_WIDE = frozenset("MWmw@%—→")
_SAFETY = 1.06  # fallback fonts run wider than the first of the stack


def clean_text(text: str) -> str:
    """Drop characters that XML forbids or that reorder their surroundings (controls, direction marks).

    Examples
    --------
    >>> clean_text("a" + chr(0x202E) + "b" + chr(7) + "c")
    'abc'
    """
    return "".join(
        c
        for c in text
        if c == "\t" or (c >= " " and not "\x7f" <= c <= "\x9f" and c not in _REORDERING and not _is_noncharacter(c))
    )


_REORDERING = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u061c\u2028\u2029\ufeff")


def _is_noncharacter(char: str) -> bool:
    code = ord(char)
    return 0xD800 <= code <= 0xDFFF or (code & 0xFFFE) == 0xFFFE


def measure_text_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Estimate how wide a text runs, mm, on the generous side, for the serif faces of the font stack."""
    em = 0.0
    for char in text:
        if char in _NARROW:
            em += 0.32
        elif char in _WIDE:
            em += 0.90
        elif char.isupper():
            em += 0.68
        elif ord(char) > 0x2FFF:
            em += 1.0
        else:
            em += 0.51
    return em * size_mm * _SAFETY * (1.08 if bold else 1.0)


def wrap_text(text: str, width_mm: float, size_mm: float, *, bold: bool = False, max_lines: int = 99) -> list[str]:
    """Break a text into lines that fit; what does not fit the last line ends in an ellipsis.

    Examples
    --------
    >>> wrap_text("pour by half past ten", 24.0, 4.0)
    ['pour by half', 'past ten']
    """
    lines: list[str] = []
    line = ""
    for word in _keep_units(clean_text(text)).split(" "):
        for piece in _pieces(word, width_mm, size_mm, bold=bold):
            longer = f"{line} {piece}" if line else piece
            if line and measure_text_mm(longer, size_mm, bold=bold) > width_mm:
                lines.append(line)
                line = piece
            else:
                line = longer
    if line:
        lines.append(line)
    if len(lines) > max_lines:
        last = lines[max_lines - 1]
        while last and measure_text_mm(last + "…", size_mm, bold=bold) > width_mm:
            last = last[:-1]
        lines = [*lines[: max_lines - 1], last.rstrip() + "…"]
    return lines


def _keep_units(text: str) -> str:
    """Tie each number to its unit by a no-break space, and drop doubled spaces."""
    return _NUMBER_UNIT.sub("\u00a0", " ".join(text.split()))


def _pieces(word: str, width_mm: float, size_mm: float, *, bold: bool) -> Iterable[str]:
    while measure_text_mm(word, size_mm, bold=bold) > width_mm and len(word) > 1:
        n = len(word) - 1
        while n > 1 and measure_text_mm(word[:n], size_mm, bold=bold) > width_mm:
            n -= 1
        yield word[:n]
        word = word[n:]
    yield word
