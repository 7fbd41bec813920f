"""What a PLY header promises, held against the size of the file before anything is read."""

from dataclasses import dataclass

from seatwright.errors import MeshError

__all__ = ["Element", "PlyHeader", "Property", "parse_ply_header"]

_TYPES = {
    "char": "i1", "int8": "i1", "uchar": "u1", "uint8": "u1", "short": "i2", "int16": "i2", "ushort": "u2",
    "uint16": "u2", "int": "i4", "int32": "i4", "uint": "u4", "uint32": "u4", "float": "f4", "float32": "f4",
    "double": "f8", "float64": "f8",
}  # fmt: skip
_LONGEST_HEADER = 65536
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_AGAIN = "export the scan again"


@dataclass(frozen=True, slots=True)
class Property:
    """One property; `count_code` is empty unless it is a list."""

    name: str
    code: str
    count_code: str = ""


@dataclass(frozen=True, slots=True)
class Element:
    """One element with its count."""

    name: str
    count: int
    properties: tuple[Property, ...]

    @property
    def has_list(self) -> bool:
        """Whether rows differ in length."""
        return any(p.count_code for p in self.properties)

    def least_row(self, order: str) -> int:
        """Return the fewest bytes that one row can take."""
        if not order:
            return 2 * len(self.properties)
        return sum(int((p.count_code or p.code)[1]) for p in self.properties)


@dataclass(frozen=True, slots=True)
class PlyHeader:
    """Byte order (empty for text), elements in file order, and where the body starts."""

    order: str
    elements: tuple[Element, ...]
    body: int


def parse_ply_header(data: bytes) -> PlyHeader:
    """Read the header and refuse counts that the file is too small for.

    Raises
    ------
    MeshError
    """
    end = data.find(b"end_header", 0, _LONGEST_HEADER)
    line_end = data.find(b"\n", end)
    if end < 0 or line_end < 0:
        raise MeshError("the PLY header has no end", hint=_AGAIN)
    order: str | None = None
    elements: list[Element] = []
    for line in data[:end].decode("latin-1").splitlines()[1:]:
        words = line.split()
        if words[:1] == ["format"] and len(words) >= 2:
            order = _ORDERS.get(words[1])
        elif words[:1] == ["element"]:
            elements.append(_element(words))
        elif words[:1] == ["property"]:
            _add_property(elements, words)
    if order is None:
        raise MeshError("the PLY header states no known format", hint=_AGAIN)
    header = PlyHeader(order, tuple(elements), line_end + 1)
    _check_size(header, len(data))
    return header


def _element(words: list[str]) -> Element:
    if len(words) != 3 or not words[2].isdecimal():
        raise MeshError(f"the PLY header states no valid count: '{' '.join(words)[:60]}'", hint=_AGAIN)
    return Element(words[1], int(words[2]), ())


def _add_property(elements: list[Element], words: list[str]) -> None:
    is_list = words[1:2] == ["list"]
    named = words[2:4] if is_list else words[1:2]
    if not elements or len(words) != (5 if is_list else 3) or any(w not in _TYPES for w in named):
        raise MeshError(f"the PLY header has a property that cannot be read: '{' '.join(words)[:60]}'", hint=_AGAIN)
    codes = [_TYPES[w] for w in named]
    new = Property(words[-1], codes[-1], codes[0] if is_list else "")
    last = elements[-1]
    elements[-1] = Element(last.name, last.count, (*last.properties, new))


def _check_size(header: PlyHeader, size: int) -> None:
    left = size - header.body
    needed = sum(e.count * e.least_row(header.order) for e in header.elements)
    # the last line of a text file may lack its line end
    if needed > left + (1 if not header.order else 0):
        counts = ", ".join(f"{e.count} {e.name}" for e in header.elements)
        raise MeshError(
            f"the header states {counts}, which need at least {needed} bytes, but the file has {left} after its header",
            hint="the file is cut off or damaged: copy or export the scan again",
            details={"needed_bytes": needed, "bytes": left},
        )
