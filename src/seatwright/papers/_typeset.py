"""The typesetter: templates and data in, archival tagged PDF or pixels out. Data never enters a template's source."""

import json
from collections.abc import Mapping
from datetime import datetime
from importlib import resources
from typing import Any

import typst

from seatwright.papers._printable import printable

__all__ = ["rasterize_svg", "typeset_pdf"]

_STANDARDS = ["a-3a", "ua-1"]  # ISO 19005-3:2012 level A, and ISO 14289-1:2014
_EPOCH = 0
_compile: Any = typst.compile  # its stubs do not know that sources may be a mapping of names to bytes


def typeset_pdf(template: str, data: Mapping[str, object], *, now: datetime, files: Mapping[str, bytes]) -> bytes:
    """Typeset a packaged template with data as a PDF/A-3a that is also PDF/UA-1.

    Parameters
    ----------
    template : str
        Name of a file in this room's templates.
    data : mapping
        JSON types; read by the template from a virtual file, so that no text of it is ever taken for markup.
    now : datetime
        Date of the document; the same value gives the same bytes.
    files : mapping of str to bytes
        Drawings that the template shows, by name.
    """
    text = json.dumps({**data, "date": _date_parts(now)}, ensure_ascii=False, allow_nan=False)
    sources: dict[str, bytes] = {
        "main.typ": _template(template),
        "style.typ": _template("style.typ"),
        "data.json": _printable_json(text),
        **{name: _printable_svg(name, content) for name, content in files.items()},
    }
    pdf = _compile(sources, format="pdf", pdf_standards=_STANDARDS, ignore_system_fonts=True, timestamp=_EPOCH)
    return bytes(pdf)


def rasterize_svg(svg: str, *, px_per_inch: float = 192.0) -> bytes:
    """Return a drawing as PNG bytes on white."""
    sources = {
        "main.typ": b'#set page(width: auto, height: auto, margin: 2mm, fill: white)\n#image("drawing.svg")\n',
        "drawing.svg": printable(svg).encode(),
    }
    return bytes(_compile(sources, format="png", ppi=px_per_inch, ignore_system_fonts=True, timestamp=_EPOCH))


def _template(name: str) -> bytes:
    return (resources.files("seatwright.papers") / "templates" / name).read_bytes()


def _printable_json(text: str) -> bytes:
    return printable(text).encode()


def _printable_svg(name: str, content: bytes) -> bytes:
    return printable(content.decode()).encode() if name.endswith(".svg") else content


def _date_parts(now: datetime) -> dict[str, int]:
    return {
        "year": now.year,
        "month": now.month,
        "day": now.day,
        "hour": now.hour,
        "minute": now.minute,
        "second": now.second,
    }
