"""A sheet to draw on: SVG elements in millimeters, all text escaped, every text's box remembered.

Owns escaping and number formatting. Knows nothing of teeth.
"""

import math
import re
from collections.abc import Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

from seatwright.figures._ink import FONT_STACK, INK, Ink
from seatwright.figures._text import clean_text, measure_text_mm

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Box", "Point", "Sheet", "format_number", "path_through"]

Point = tuple[float, float]
_EDGE_MM = 1.0  # kept free round every drawing, so that strokes on its edge are whole


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle, mm; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: "Box", *, gap_mm: float = 0.0) -> bool:
        """Whether the two come closer than `gap_mm`."""
        return not (
            self.right + gap_mm <= other.left
            or other.right + gap_mm <= self.left
            or self.bottom + gap_mm <= other.top
            or other.bottom + gap_mm <= self.top
        )


def format_number(value: float, digits: int = 2) -> str:
    """Return a number without a trailing zero or a negative zero.

    Examples
    --------
    >>> format_number(-0.0001), format_number(2.50), format_number(12)
    ('0', '2.5', '12')
    """
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def path_through(points: Sequence[Point], *, closed: bool) -> str:
    """Return path data for straight lines through points."""
    steps = " L".join(f"{format_number(x)} {format_number(y)}" for x, y in points)
    return f"M{steps}{'Z' if closed else ''}"


class Sheet:
    """An SVG drawing whose user unit is one millimeter.

    Parameters
    ----------
    key : str
        Prefix of every id, so that several drawings can stand in one page.
    title, description : str
        What a screen reader says.
    interactive : bool
        True when it holds links: then it is a group to a screen reader, else one picture.
    """

    def __init__(
        self, key: str, width_mm: float, height_mm: float, *, title: str, description: str, interactive: bool = False
    ) -> None:
        self.width_mm = width_mm
        self.height_mm = height_mm
        self.text_boxes: list[tuple[str, Box]] = []
        self._key = re.sub(r"[^a-z0-9]+", "-", key.lower())
        self._title = title
        self._description = description
        self._role = "group" if interactive else "img"
        self._parts: list[str] = []

    def add(self, tag: str, **attributes: object) -> None:
        """Add an empty element; underscores in names become hyphens (``class_`` is ``class``)."""
        self._parts.append(f"<{tag}{_attributes(attributes)}/>")

    def line(self, start: Point, end: Point, ink: Ink = INK, width_mm: float = 0.25, **more: object) -> None:
        """Add a straight line."""
        self.add("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], **_stroke(ink, width_mm, more))

    def path(
        self, data: str, *, stroke: Ink | None = INK, fill: Ink | None = None, width_mm: float = 0.25, **more: object
    ) -> None:
        """Add a path."""
        self.add("path", d=data, **_paint(stroke, fill, width_mm, more))

    def circle(
        self,
        center: Point,
        radius_mm: float,
        *,
        stroke: Ink | None = INK,
        fill: Ink | None = None,
        width_mm: float = 0.25,
        **more: object,
    ) -> None:
        """Add a circle."""
        self.add("circle", cx=center[0], cy=center[1], r=radius_mm, **_paint(stroke, fill, width_mm, more))

    def rectangle(
        self, box: Box, *, stroke: Ink | None = INK, fill: Ink | None = None, width_mm: float = 0.25, **more: object
    ) -> None:
        """Add an upright rectangle."""
        self.add(
            "rect",
            x=box.left,
            y=box.top,
            width=box.right - box.left,
            height=box.bottom - box.top,
            **_paint(stroke, fill, width_mm, more),
        )

    def text(
        self,
        at: Point,
        text: str,
        *,
        size_mm: float = 3.0,
        bold: bool = False,
        italic: bool = False,
        anchor: str = "start",
        ink: Ink = INK,
        over_picture: bool = False,
    ) -> Box:
        """Add one line of text with its baseline at `at`; return its estimated box.

        A text over a picture is left out of the list of boxes that must not overlap.
        """
        shown = clean_text(text)
        width = measure_text_mm(shown, size_mm, bold=bold)
        left = at[0] - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        box = Box(left, at[1] - 0.74 * size_mm, left + width, at[1] + 0.24 * size_mm)
        if shown.strip() and not over_picture:
            self.text_boxes.append((shown, box))
        style: dict[str, object] = {"font_size": size_mm}
        if bold:
            style["font_weight"] = "bold"
        if italic:
            style["font_style"] = "italic"
        if anchor != "start":
            style["text_anchor"] = anchor
        attributes = _attributes({"x": at[0], "y": at[1], "class": f"f-{ink.name}", "fill": ink.value, **style})
        self._parts.append(f"<text{attributes}>{escape(shown)}</text>")
        return box

    @contextmanager
    def group(self, **attributes: object) -> "Iterator[None]":
        """Group what is added inside."""
        self._parts.append(f"<g{_attributes(attributes)}>")
        yield
        self._parts.append("</g>")

    @contextmanager
    def link(self, href: str, label: str) -> "Iterator[None]":
        """Make what is added inside a link within the page, with a spoken label."""
        self._parts.append(f"<a{_attributes({'href': href, 'aria-label': clean_text(label), 'class': 'touch'})}>")
        yield
        self._parts.append("</a>")

    def extent_of_text(self) -> Box:
        """Return the box around all text."""
        boxes = [box for _, box in self.text_boxes]
        return Box(
            min(b.left for b in boxes),
            min(b.top for b in boxes),
            max(b.right for b in boxes),
            max(b.bottom for b in boxes),
        )

    def to_svg(self) -> str:
        """Return the whole file."""
        width, height = format_number(self.width_mm + 2 * _EDGE_MM), format_number(self.height_mm + 2 * _EDGE_MM)
        head = _attributes(
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "class": "sheet",
                "viewBox": f"-{_EDGE_MM:g} -{_EDGE_MM:g} {width} {height}",
                "width": f"{width}mm",
                "height": f"{height}mm",
                "role": self._role,
                "aria-labelledby": f"{self._key}-title {self._key}-desc",
                "font-family": FONT_STACK,
                "stroke-linejoin": "round",
            }
        )
        return (
            f"<svg{head}>\n"
            f'<title id="{self._key}-title">{escape(clean_text(self._title))}</title>\n'
            f'<desc id="{self._key}-desc">{escape(clean_text(self._description))}</desc>\n'
            + "\n".join(self._parts)
            + "\n</svg>\n"
        )


def _stroke(ink: Ink, width_mm: float, more: dict[str, object]) -> dict[str, object]:
    return {"class": f"s-{ink.name}", "stroke": ink.value, "stroke_width": width_mm, **more}


def _paint(stroke: Ink | None, fill: Ink | None, width_mm: float, more: dict[str, object]) -> dict[str, object]:
    names = [f"s-{stroke.name}"] if stroke else []
    names += [f"f-{fill.name}"] if fill else []
    paint: dict[str, object] = {"class": " ".join(names), "fill": fill.value if fill else "none"}
    if stroke:
        paint |= {"stroke": stroke.value, "stroke_width": width_mm}
    return {**paint, **more}


def _attributes(attributes: dict[str, object]) -> str:
    return "".join(
        f" {name.rstrip('_').replace('_', '-')}={quoteattr(_value(value))}" for name, value in attributes.items()
    )


def _value(value: object) -> str:
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError("a drawing holds only finite numbers")
        return format_number(value, 3)
    return str(value)
