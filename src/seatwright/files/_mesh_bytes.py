"""Surfaces as file bytes: STL, PLY, and GLB with a color a vertex."""

import json
import struct

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import MeshError
from seatwright.mesh import IndexArray, Surface, measure_face_normals, measure_vertex_normals
from seatwright.quantities import FloatArray

__all__ = ["encode_glb", "encode_ply", "encode_stl"]

_GLB_MAGIC, _JSON_CHUNK, _BINARY_CHUNK = 0x46546C67, 0x4E4F534A, 0x004E4942  # glTF 2.0, section 4.4
_FLOAT, _UNSIGNED_INT, _UNSIGNED_BYTE = 5126, 5125, 5121  # glTF 2.0, section 3.6.2.2
_ARRAY_BUFFER, _INDEX_BUFFER = 34962, 34963  # glTF 2.0, section 5.11.5


def encode_stl(surface: Surface) -> bytes:
    """Return the surface as binary STL, mm, single precision."""
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    table = np.zeros(surface.n_faces, dtype=record)
    table["normal"] = measure_face_normals(surface)
    table["corners"] = surface.vertices_mm[surface.faces]
    return b"triangle surface, mm".ljust(80, b" ") + struct.pack("<I", surface.n_faces) + table.tobytes()


def encode_ply(surface: Surface) -> bytes:
    """Return the surface as binary little-endian PLY, mm, double precision: vertices come back bit for bit."""
    header = (
        "ply\nformat binary_little_endian 1.0\ncomment length unit mm\n"
        f"element vertex {surface.n_vertices}\nproperty double x\nproperty double y\nproperty double z\n"
        f"element face {surface.n_faces}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    table = np.empty(surface.n_faces, dtype=np.dtype([("n", "u1"), ("corners", "<i4", 3)]))
    table["n"], table["corners"] = 3, surface.faces
    return header.encode("ascii") + surface.vertices_mm.astype("<f8").tobytes() + table.tobytes()


def encode_glb(vertices_mm: FloatArray, faces: IndexArray, rgb: NDArray[np.uint8]) -> bytes:
    """Return a surface with a color a vertex as binary glTF 2.0, in meters as the format wants.

    Parameters
    ----------
    vertices_mm : ndarray of shape (n, 3)
    faces : ndarray of shape (m, 3)
    rgb : ndarray of shape (n, 3), uint8
        sRGB values 0 to 255.

    Raises
    ------
    MeshError
        If the colors do not match the vertices.

    References
    ----------
    .. [1] Khronos glTF 2.0 specification, 3.7.2.1 (attributes; COLOR_0 is linear), 4.4 (binary container).
    """
    if rgb.shape != (len(vertices_mm), 3) or rgb.dtype != np.uint8:
        raise MeshError("a colored surface needs one 8-bit RGB color a vertex")
    surface = Surface(vertices_mm, faces)
    center = (surface.vertices_mm.max(axis=0) + surface.vertices_mm.min(axis=0)) / 2
    positions = ((surface.vertices_mm - center) * 1e-3).astype("<f4")
    normals = measure_vertex_normals(surface)
    normals[(normals == 0).all(axis=1)] = (0.0, 0.0, 1.0)
    linear = np.column_stack([_to_linear(rgb), np.full(len(rgb), 255, dtype=np.uint8)])
    arrays = (positions, normals.astype("<f4"), linear, surface.faces.astype("<u4"))
    parts = [array.tobytes() for array in arrays]
    n, m = surface.n_vertices, surface.n_faces
    views, at = [], 0
    for part, target in zip(parts, (_ARRAY_BUFFER,) * 3 + (_INDEX_BUFFER,), strict=True):
        views.append({"buffer": 0, "byteOffset": at, "byteLength": len(part), "target": target})
        at += len(part)
    bounds = {"min": positions.min(axis=0).tolist(), "max": positions.max(axis=0).tolist()}
    attributes = {"POSITION": 0, "NORMAL": 1, "COLOR_0": 2}
    document = {
        "asset": {"version": "2.0", "generator": "seatwright"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": attributes, "indices": 3, "material": 0}]}],
        "materials": [{"pbrMetallicRoughness": {"metallicFactor": 0, "roughnessFactor": 0.8}, "doubleSided": True}],
        "buffers": [{"byteLength": at}],
        "bufferViews": views,
        "accessors": [
            {"bufferView": 0, "componentType": _FLOAT, "count": n, "type": "VEC3", **bounds},
            {"bufferView": 1, "componentType": _FLOAT, "count": n, "type": "VEC3"},
            {"bufferView": 2, "componentType": _UNSIGNED_BYTE, "normalized": True, "count": n, "type": "VEC4"},
            {"bufferView": 3, "componentType": _UNSIGNED_INT, "count": 3 * m, "type": "SCALAR"},
        ],
    }
    return _pack(json.dumps(document, separators=(",", ":")).encode("utf-8"), b"".join(parts))


def _to_linear(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Turn sRGB bytes into linear ones (IEC 61966-2-1)."""
    value = rgb / 255.0
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.asarray(np.round(255 * linear), dtype=np.uint8)


def _pack(document: bytes, body: bytes) -> bytes:
    document += b" " * (-len(document) % 4)
    body += b"\0" * (-len(body) % 4)
    total = 12 + 8 + len(document) + 8 + len(body)
    return (
        struct.pack("<III", _GLB_MAGIC, 2, total)
        + struct.pack("<II", len(document), _JSON_CHUNK)
        + document
        + struct.pack("<II", len(body), _BINARY_CHUNK)
        + body
    )
