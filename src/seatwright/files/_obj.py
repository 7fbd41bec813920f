"""Vertices and triangles from OBJ text."""

import numpy as np

from seatwright.errors import MeshError
from seatwright.mesh import IndexArray
from seatwright.quantities import FloatArray

__all__ = ["is_obj", "read_obj"]

_AGAIN = "the file is cut off or damaged: copy or export the scan again"


def is_obj(data: bytes) -> bool:
    """Whether the beginning looks like OBJ: text with a vertex line."""
    start = data[:65536]
    return b"\0" not in start and any(line.split()[:1] == [b"v"] for line in start.splitlines())


def read_obj(data: bytes) -> tuple[FloatArray, IndexArray]:
    """Read vertices and faces; polygons are cut into triangles, negative indices count from the end.

    Raises
    ------
    MeshError
        If a line cannot be read.
    """
    vertices: list[list[bytes]] = []
    faces: list[tuple[int, int, int]] = []
    for number, line in enumerate(data.splitlines(), start=1):
        if line.startswith((b"v ", b"v\t")):
            words = line.split()[1:4]
            if len(words) < 3:
                raise MeshError(f"line {number}: a vertex needs three coordinates", hint=_AGAIN)
            vertices.append(words)
        elif line.startswith((b"f ", b"f\t")):
            corners = _corners(line, number, len(vertices))
            faces.extend((corners[0], corners[k], corners[k + 1]) for k in range(1, len(corners) - 1))
    try:
        points = np.array(vertices, dtype="S40").astype(np.float64).reshape(-1, 3)
    except ValueError as error:
        raise MeshError("a coordinate is not a number", hint=_AGAIN) from error
    clipped = np.clip(np.array(faces, dtype=object).reshape(-1, 3), -1, 2**31 - 1)
    return points, clipped.astype(np.int32)


def _corners(line: bytes, number: int, n_vertices: int) -> list[int]:
    try:
        raw = [int(word.split(b"/")[0]) for word in line.split()[1:]]
    except ValueError as error:
        raise MeshError(f"line {number}: a face names no valid vertex", hint=_AGAIN) from error
    if len(raw) < 3 or 0 in raw:
        raise MeshError(f"line {number}: a face needs three corners, counted from 1", hint=_AGAIN)
    return [k - 1 if k > 0 else n_vertices + k for k in raw]
