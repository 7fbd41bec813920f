"""Vertices and triangles from PLY bytes: text, little-endian or big-endian."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import MeshError
from seatwright.files._ply_header import Element, PlyHeader, parse_ply_header
from seatwright.mesh import IndexArray
from seatwright.quantities import FloatArray

__all__ = ["read_ply"]

_CUT_OFF = "the file is cut off or damaged: copy or export the scan again"
_INDEX_NAMES = ("vertex_indices", "vertex_index")


def read_ply(data: bytes) -> tuple[FloatArray, IndexArray]:
    """Read vertices and faces; polygons are cut into triangles from their first corner.

    Raises
    ------
    MeshError
        If the header promises more than the file holds, the body ends early, or there are no vertices or faces.
    """
    header = parse_ply_header(data)
    names = [e.name for e in header.elements]
    if "vertex" not in names or "face" not in names:
        raise MeshError(
            "the file has no faces, only " + (", ".join(names) or "a header"),
            hint="export the scan as a triangle surface, not as points or strips",
        )
    vertices: FloatArray = np.zeros((0, 3))
    faces: IndexArray = np.zeros((0, 3), dtype=np.int32)
    body = _TextBody(data, header) if not header.order else _BinaryBody(data, header)
    for element in header.elements:
        if element.name == "vertex":
            vertices = _pick_coordinates(element, body.rows(element))
        elif element.name == "face":
            faces = body.triangles(element)
            break
        else:
            body.skip(element)
    return vertices, faces


def _pick_coordinates(element: Element, rows: dict[str, NDArray[np.generic]]) -> FloatArray:
    if not {"x", "y", "z"} <= rows.keys():
        raise MeshError("the vertices have no x, y and z", hint="export the scan again")
    return np.column_stack([rows[k].astype(np.float64) for k in "xyz"]).reshape(element.count, 3)


def _index_place(element: Element) -> int:
    for place, prop in enumerate(element.properties):
        if prop.count_code and prop.name in _INDEX_NAMES:
            return place
    raise MeshError("the faces have no vertex indices", hint="export the scan as a triangle surface")


def _fan(polygons: Iterator[list[int]]) -> IndexArray:
    triangles = [(p[0], p[k], p[k + 1]) for p in polygons for k in range(1, len(p) - 1)]
    return _as_indices(np.array(triangles, dtype=np.int64).reshape(-1, 3))


def _as_indices(faces: NDArray[np.integer]) -> IndexArray:
    # an index too large for 32 bits is out of range for any file that could be read
    return np.asarray(np.clip(faces.astype(np.int64), -1, 2**31 - 1), dtype=np.int32)


class _BinaryBody:
    """Walks the body of a binary file."""

    def __init__(self, data: bytes, header: PlyHeader) -> None:
        self._data, self._order, self._at = data, header.order, header.body

    def rows(self, element: Element) -> dict[str, NDArray[np.generic]]:
        if element.has_list:
            raise MeshError("the vertices hold lists", hint="export the scan as a plain triangle surface")
        dtype = np.dtype([(p.name, self._order + p.code) for p in element.properties])
        table = self._take(dtype, element.count)
        return {p.name: table[p.name] for p in element.properties}

    def skip(self, element: Element) -> None:
        if element.has_list:
            for _ in self._walk(element, 0):
                pass
        else:
            self.rows(element)

    def triangles(self, element: Element) -> IndexArray:
        place = _index_place(element)
        fields: list[tuple[str, str] | tuple[str, str, int]] = []
        for number, prop in enumerate(element.properties):
            if prop.count_code:
                fields.append((f"n{number}", self._order + prop.count_code))
                fields.append((f"v{number}", self._order + prop.code, 3 if number == place else 0))
            else:
                fields.append((f"v{number}", self._order + prop.code))
        dtype = np.dtype(fields)
        if self._at + dtype.itemsize * element.count <= len(self._data):
            table = np.frombuffer(self._data, dtype=dtype, count=element.count, offset=self._at)
            lists = [number for number, prop in enumerate(element.properties) if prop.count_code]
            if all((table[f"n{number}"] == (3 if number == place else 0)).all() for number in lists):
                return _as_indices(table[f"v{place}"])
        return _fan(self._walk(element, place))

    def _take(self, dtype: np.dtype[np.void], count: int) -> NDArray[np.void]:
        if self._at + dtype.itemsize * count > len(self._data):
            raise MeshError("the file ends amid its vertices", hint=_CUT_OFF)
        table = np.frombuffer(self._data, dtype=dtype, count=count, offset=self._at)
        self._at += dtype.itemsize * count
        return table

    def _walk(self, element: Element, place: int) -> Iterator[list[int]]:
        for row in range(element.count):
            polygon: list[int] = []
            for number, prop in enumerate(element.properties):
                n = int(self._scalar(prop.count_code, row)) if prop.count_code else 1
                width = int(prop.code[1])
                if n < 0 or self._at + n * width > len(self._data):
                    raise MeshError(f"the file ends amid face {row}", hint=_CUT_OFF)
                if number == place and prop.count_code:
                    values = np.frombuffer(self._data, dtype=self._order + prop.code, count=n, offset=self._at)
                    polygon = [int(v) for v in values]
                self._at += n * width
            yield polygon

    def _scalar(self, code: str, row: int) -> float:
        if self._at + int(code[1]) > len(self._data):
            raise MeshError(f"the file ends amid face {row}", hint=_CUT_OFF)
        value = np.frombuffer(self._data, dtype=self._order + code, count=1, offset=self._at)[0]
        self._at += int(code[1])
        return float(value)


class _TextBody:
    """Walks the words of a text file."""

    def __init__(self, data: bytes, header: PlyHeader) -> None:
        self._words, self._at = data[header.body :].split(), 0

    def rows(self, element: Element) -> dict[str, NDArray[np.generic]]:
        if element.has_list:
            raise MeshError("the vertices hold lists", hint="export the scan as a plain triangle surface")
        width = len(element.properties)
        table = self._numbers(width * element.count).reshape(element.count, width)
        return {p.name: table[:, k] for k, p in enumerate(element.properties)}

    def skip(self, element: Element) -> None:
        for _ in self._walk(element, -1):
            pass

    def triangles(self, element: Element) -> IndexArray:
        return _fan(self._walk(element, _index_place(element)))

    def _numbers(self, n: int) -> FloatArray:
        words = self._words[self._at : self._at + n]
        if len(words) < n:
            raise MeshError("the file ends early", hint=_CUT_OFF)
        self._at += n
        try:
            return np.array(words, dtype="S40").astype(np.float64) if n else np.zeros(0)
        except ValueError as error:
            raise MeshError("a value is not a number", hint="export the scan again") from error

    def _walk(self, element: Element, place: int) -> Iterator[list[int]]:
        for _ in range(element.count):
            polygon: list[int] = []
            for number, prop in enumerate(element.properties):
                n = self._whole() if prop.count_code else 1
                if self._at + n > len(self._words):
                    raise MeshError("the file ends amid its faces", hint=_CUT_OFF)
                if number == place:
                    polygon = [self._whole() for _ in range(n)]
                else:
                    self._at += n
            yield polygon

    def _whole(self) -> int:
        if self._at >= len(self._words):
            raise MeshError("the file ends amid its faces", hint=_CUT_OFF)
        word = self._words[self._at]
        self._at += 1
        try:
            return int(word)
        except ValueError as error:
            raise MeshError(f"'{word[:20].decode('latin-1')}' is not a whole number", hint=_CUT_OFF) from error
