"""Triangles from STL bytes, binary or text. The count is held against the size before anything is read."""

import re

import numpy as np

from seatwright.errors import MeshError
from seatwright.mesh import IndexArray
from seatwright.quantities import FloatArray

__all__ = ["is_binary_stl", "is_text_stl", "read_stl"]

_HEADER = 84
_RECORD = 50
_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_VERTEX = re.compile(rb"\bvertex\s+(\S+)\s+(\S+)\s+(\S+)", re.IGNORECASE)


def is_binary_stl(data: bytes) -> bool:
    """Whether the size is exactly what the count in the header asks for, whatever the header's words say."""
    return len(data) >= _HEADER and len(data) == _HEADER + _RECORD * _count(data)


def is_text_stl(data: bytes) -> bool:
    """Whether the beginning is that of a text STL."""
    start = data[:2048].lstrip().lower()
    return start.startswith(b"solid") and (b"facet" in start or b"endsolid" in start) and b"\0" not in start


def read_stl(data: bytes) -> tuple[FloatArray, IndexArray]:
    """Read corners and faces; every face has its own three corners.

    Raises
    ------
    MeshError
        If the file is truncated, empty, or its count does not agree with its size.
    """
    if is_binary_stl(data):
        return _soup(np.frombuffer(data, dtype=_TRIANGLE, offset=_HEADER)["corners"].astype(np.float64).reshape(-1, 3))
    if is_text_stl(data):
        return _read_text(data)
    if len(data) < _HEADER:
        raise MeshError("the file is too short for an STL", hint="export the scan again", details={"bytes": len(data)})
    stated = _HEADER + _RECORD * _count(data)
    raise MeshError(
        f"the header states {_count(data)} triangles, which need {stated} bytes, but the file has {len(data)}",
        hint="the file is cut off or damaged: copy or export the scan again",
        details={"stated_triangles": _count(data), "bytes": len(data)},
    )


def _count(data: bytes) -> int:
    return int.from_bytes(data[80:84], "little")


def _read_text(data: bytes) -> tuple[FloatArray, IndexArray]:
    words = _VERTEX.findall(data)
    n_facets = len(re.findall(rb"\bfacet\s+normal\b", data, re.IGNORECASE))
    if len(words) != 3 * n_facets or b"endsolid" not in data[-1024:].lower():
        raise MeshError(
            f"the text ends early: {n_facets} facets, but {len(words)} corners",
            hint="the file is cut off or damaged: copy or export the scan again",
        )
    try:
        corners = np.array(words, dtype="S32").astype(np.float64)
    except ValueError as error:
        raise MeshError("a corner is not a number", hint="export the scan again") from error
    return _soup(corners.reshape(-1, 3))


def _soup(corners: FloatArray) -> tuple[FloatArray, IndexArray]:
    return corners, np.arange(len(corners), dtype=np.int32).reshape(-1, 3)
