"""What the typesetter's own fonts can show: anything else becomes a visible box, so that a PDF is never refused.

The archival standard forbids a character without a glyph; system fonts are not used, so that every machine prints the
same bytes.
"""

import re
import unicodedata

__all__ = ["MISSING", "printable"]

MISSING = "□"

# Code points that the embedded serif face shows in regular, bold and italic: found by typesetting each, once.
_SHOWN = (
    *((0x20, 0x7E), (0xA0, 0xAC), (0xAE, 0x24F), (0x2B0, 0x2FF), (0x370, 0x377), (0x37A, 0x37F), (0x384, 0x38A)),
    *((0x38C, 0x38C), (0x38E, 0x3A1), (0x3A3, 0x4FF), (0x510, 0x513), (0x51A, 0x51D), (0x1E00, 0x1F15)),
    *((0x2010, 0x2027), (0x202F, 0x2040), (0x2044, 0x2052), (0x2070, 0x2071), (0x2074, 0x208E), (0x2090, 0x209C)),
    *((0x20A0, 0x20BF), (0x2100, 0x211E), (0x2126, 0x214F), (0x2190, 0x22FF), (0x25A0, 0x25FF)),
)
_HIDDEN = re.compile("[^\n\t" + "".join(f"{re.escape(chr(a))}-{re.escape(chr(b))}" for a, b in _SHOWN) + "]")


def printable(text: str) -> str:
    """Return the text with every character that has no glyph replaced by a box; line breaks stay.

    Examples
    --------
    >>> printable("43 ± 9 µm " + chr(0x6B6F))
    '43 ± 9 µm □'
    """
    return _HIDDEN.sub(MISSING, unicodedata.normalize("NFC", text))
