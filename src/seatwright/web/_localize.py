"""The one place where a page takes the reader's notation of teeth and decimal sign: on its way out, after all else.

What is computed, kept and sent as data stays ISO 3950 with a decimal point; a page drawn once serves every device.
"""

import re

from seatwright.case import ToothNotation
from seatwright.web._preferences import Preferences, name_tooth, short_name

__all__ = ["localize", "show_decimal"]

_TAG = re.compile(r"(<[^>]*>)")
_DECIMAL = re.compile(r"(?<![\w./:-])(\d+)\.(\d+)(?![\w/]|\.\d)")
_GROUPED = re.compile(r"(?<![\w.,])(\d{1,3}(?:,\d{3})+)(?![\w,]|\.\d)")
_CITED = re.compile(
    r"(?:clause|section|sect\.|table|figure|fig\.|equation|eq\.|chapter|annex|part|no\.|vol\.|§)\s*$", re.I
)
_SPOKEN = re.compile(r'(?<= aria-label=")[^"]*(?=")')
_KEPT_AS_IS = ("<script", "<style", "<code", "<pre", "<textarea")
_DRAWN = re.compile(
    r'(<g(?= )[^>]*? data-number="([1-4][1-8])"[^>]*>\s*<text(?= )[^>]*? x="([-\d.]+)"[^>]*>)\d\d(</text>)'
)
_WRITTEN = re.compile(r'(<(?:span|th)(?= )[^>]*? data-tooth="([1-4][1-8])"[^>]*>)\d\d(</)')
_PLACE = re.compile(r'(<g(?= )[^>]*? data-tooth="([1-4][1-8])"[^>]*? aria-label=")\d\d(?=, )')
_LINKED = re.compile(r'(<a(?= )[^>]*? href="#unit-([1-4][1-8])" aria-label=")\d\d')
_KEY = re.compile(r'<i class="key" data-tooth="([1-4][1-8])"></i>(<span class="what">)(?:\1: )?')


def localize(html: str, preferences: Preferences) -> str:
    """Return a page, or a part of one, as its reader wants it.

    Teeth are renamed only where the page marks them as teeth (``data-tooth``): a number in a sentence is never taken
    for one. Decimals are rewritten in text and spoken names, not in code, sources' clauses, or what is sent back.

    Examples
    --------
    >>> localize('<p>0.2 mm, <code>1.5</code></p>', Preferences(comma=True))
    '<p>0,2 mm, <code>1.5</code></p>'
    >>> localize('<span data-tooth="36">36</span>', Preferences(teeth=ToothNotation.QUADRANT))
    '<span data-tooth="36">LL6 (36)</span>'
    """
    if preferences.teeth is not ToothNotation.ISO:
        html = _rename_teeth(html, preferences.teeth)
    return _write_commas(html) if preferences.comma else html


def show_decimal(number: float | str, *, comma: bool) -> str:
    """Return a number for a field that a person types into; both signs are read back.

    Examples
    --------
    >>> show_decimal(5.5, comma=True), show_decimal("", comma=True)
    ('5,5', '')
    """
    text = f"{number:g}" if isinstance(number, float) else str(number)
    return text.replace(".", ",") if comma else text


def _rename_teeth(html: str, notation: ToothNotation) -> str:
    def drawn(found: re.Match[str]) -> str:
        start, tooth, x, end = found.groups()
        name = short_name(int(tooth), notation)
        iso = f'<tspan x="{x}" dy="1.15em" font-size="62%">({tooth})</tspan>'
        return f'{start}<tspan dy="-0.3em" font-size="80%">{name}</tspan> {iso}{end}'

    def written(found: re.Match[str]) -> str:
        return f"{found[1]}{name_tooth(int(found[2]), notation)}{found[3]}"

    def key(found: re.Match[str]) -> str:
        return f"{found[2]}{name_tooth(int(found[1]), notation)}: "

    html = _DRAWN.sub(drawn, html)
    html = _WRITTEN.sub(written, html)
    for named in (_PLACE, _LINKED):
        html = named.sub(lambda found: f"{found[1]}{name_tooth(int(found[2]), notation)}", html)
    return _KEY.sub(key, html)


def _write_commas(html: str) -> str:
    parts = _TAG.split(html)
    as_is = ""
    for index, part in enumerate(parts):
        if index % 2 == 0:
            parts[index] = part if as_is else _with_commas(part)
        elif as_is:
            as_is = "" if part.startswith(f"</{as_is}") else as_is
        else:
            as_is = next((name[1:] for name in _KEPT_AS_IS if re.match(rf"{name}\b", part)), "")
            parts[index] = _SPOKEN.sub(lambda found: _with_commas(found[0]), part)
    return "".join(parts)


def _with_commas(text: str) -> str:
    def decimal(found: re.Match[str]) -> str:
        is_cited = _CITED.search(text, 0, found.start()) is not None
        return found[0] if is_cited else f"{found[1]},{found[2]}"

    text = _GROUPED.sub(lambda found: found[1].replace(",", "\u202f"), text)
    return _DECIMAL.sub(decimal, text)
