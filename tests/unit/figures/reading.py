"""Reads drawings back: elements, texts and their estimated boxes."""

from itertools import combinations
from xml.etree import ElementTree

from seatwright.figures._svg import Box
from seatwright.figures._text import measure_text_mm

SVG = "{http://www.w3.org/2000/svg}"


def parse(svg: str) -> ElementTree.Element:
    """Return the root; a drawing that is not well-formed XML fails here."""
    return ElementTree.fromstring(svg)


def text_boxes(root: ElementTree.Element) -> list[tuple[str, Box]]:
    """Return every text with its estimated box, mm."""
    boxes = []
    for element in root.iter(f"{SVG}text"):
        size, x, y = (float(element.get(name, "0")) for name in ("font-size", "x", "y"))
        width = measure_text_mm(element.text or "", size, bold=element.get("font-weight") == "bold")
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[element.get("text-anchor", "start")]
        boxes.append((element.text or "", Box(left, y - 0.70 * size, left + width, y + 0.20 * size)))
    return boxes


def overlapping_texts(svg: str) -> list[tuple[str, str]]:
    """Return pairs of texts whose boxes overlap."""
    pairs = combinations(text_boxes(parse(svg)), 2)
    return [(a, b) for (a, box_a), (b, box_b) in pairs if box_a.overlaps(box_b)]


def texts_outside(svg: str) -> list[str]:
    """Return texts that run out of the drawing."""
    root = parse(svg)
    left, top, width, height = (float(v) for v in root.get("viewBox", "").split())
    return [
        text
        for text, box in text_boxes(root)
        if box.left < left or box.top < top or box.right > left + width or box.bottom > top + height
    ]
