"""The container of binary glTF: arrays in one buffer, nodes that name them. Knows no surfaces and no colors."""

import json
import struct
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from seatwright.quantities import FloatArray

__all__ = ["GlbBody"]

_GLB_MAGIC, _JSON_CHUNK, _BINARY_CHUNK = 0x46546C67, 0x4E4F534A, 0x004E4942  # glTF 2.0, section 4.4
_FLOAT, _UNSIGNED_INT, _UNSIGNED_BYTE = 5126, 5125, 5121  # glTF 2.0, section 3.6.2.2
_ARRAY_BUFFER, _INDEX_BUFFER = 34962, 34963  # glTF 2.0, section 5.11.5
_LINEAR, _LINEAR_MIPMAP, _CLAMP = 9729, 9987, 33071  # glTF 2.0, section 5.26
_UNLIT = "KHR_materials_unlit"


class GlbBody:
    """Collects arrays and nodes, then packs them.

    References
    ----------
    .. [1] Khronos glTF 2.0 specification, 4.4 (binary container), 3.6.2.4 (alignment to four bytes).
    """

    def __init__(self) -> None:
        self._bytes = bytearray()
        self._views: list[dict[str, object]] = []
        self._accessors: list[dict[str, object]] = []
        self._nodes: list[dict[str, object]] = []
        self._meshes: list[dict[str, object]] = []
        self._materials: list[dict[str, object]] = []
        self._pictures: list[dict[str, object]] = []

    def add_points(self, points: FloatArray) -> int:
        """Add positions (n, 3) in meters with their bounds; return the accessor."""
        single = np.ascontiguousarray(points, dtype="<f4")
        bounds = {"min": single.min(axis=0).tolist(), "max": single.max(axis=0).tolist()}
        return self._add(single, _ARRAY_BUFFER, {"componentType": _FLOAT, "type": "VEC3", **bounds})

    def add_floats(self, rows: FloatArray) -> int:
        """Add rows of two or three numbers; return the accessor."""
        kind = {"componentType": _FLOAT, "type": f"VEC{rows.shape[1]}"}
        return self._add(np.ascontiguousarray(rows, dtype="<f4"), _ARRAY_BUFFER, kind)

    def add_colors(self, rgba: NDArray[np.uint8]) -> int:
        """Add linear colors (n, 4); return the accessor."""
        kind = {"componentType": _UNSIGNED_BYTE, "normalized": True, "type": "VEC4"}
        return self._add(rgba, _ARRAY_BUFFER, kind)

    def add_indices(self, faces: NDArray[np.integer]) -> int:
        """Add the corners of faces (m, 3); return the accessor."""
        flat = np.ascontiguousarray(faces, dtype="<u4").ravel()
        return self._add(flat, _INDEX_BUFFER, {"componentType": _UNSIGNED_INT, "type": "SCALAR"})

    def add_node(self, name: str, attributes: Mapping[str, int], indices: int, material: Mapping[str, object]) -> None:
        """Add a named node with one mesh and one material."""
        self._materials.append(dict(material))
        primitive = {"attributes": dict(attributes), "indices": indices, "material": len(self._materials) - 1}
        self._meshes.append({"name": name, "primitives": [primitive]})
        self._nodes.append({"name": name, "mesh": len(self._meshes) - 1})

    def add_picture(self, name: str, corners: FloatArray, png: bytes) -> None:
        """Add a flat picture: corners (4, 3) in meters from the lower left counter-clockwise as it is read."""
        normal = np.cross(corners[1] - corners[0], corners[3] - corners[0])
        attributes = {
            "POSITION": self.add_points(corners),
            "NORMAL": self.add_floats(np.tile(normal / np.linalg.norm(normal), (4, 1))),
            "TEXCOORD_0": self.add_floats(np.array([[0.0, 1.0], [1.0, 1.0], [1.0, 0.0], [0.0, 0.0]])),
        }
        indices = self.add_indices(np.array([[0, 1, 2], [0, 2, 3]]))
        self._pictures.append({"bufferView": self._append(png, None), "mimeType": "image/png"})
        flat = {"baseColorTexture": {"index": len(self._pictures) - 1}, "metallicFactor": 0, "roughnessFactor": 1}
        material = {"pbrMetallicRoughness": flat, "doubleSided": True, "extensions": {_UNLIT: {}}}
        self.add_node(name, attributes, indices, material)

    def pack(self, notes: Mapping[str, object]) -> bytes:
        """Return the whole file; `notes` become the extras of its scene."""
        document: dict[str, object] = {
            "asset": {"version": "2.0", "generator": "seatwright"},
            "scene": 0,
            "scenes": [{"nodes": list(range(len(self._nodes))), "extras": dict(notes)}],
            "nodes": self._nodes,
            "meshes": self._meshes,
            "materials": self._materials,
            "bufferViews": self._views,
            "accessors": self._accessors,
        }
        if self._pictures:
            sampler = {"magFilter": _LINEAR, "minFilter": _LINEAR_MIPMAP, "wrapS": _CLAMP, "wrapT": _CLAMP}
            textures = [{"source": k, "sampler": 0} for k in range(len(self._pictures))]
            document |= {"images": self._pictures, "textures": textures, "samplers": [sampler]}
            document |= {"extensionsUsed": [_UNLIT]}
        document["buffers"] = [{"byteLength": len(self._bytes)}]
        text = json.dumps(document, separators=(",", ":")).encode("utf-8")
        return _join(text + b" " * (-len(text) % 4), bytes(self._bytes))

    def _add(self, array: NDArray[np.generic], target: int, kind: Mapping[str, object]) -> int:
        view = self._append(array.tobytes(), target)
        self._accessors.append({"bufferView": view, "count": len(array), **kind})
        return len(self._accessors) - 1

    def _append(self, part: bytes, target: int | None) -> int:
        view: dict[str, object] = {"buffer": 0, "byteOffset": len(self._bytes), "byteLength": len(part)}
        self._views.append(view if target is None else {**view, "target": target})
        self._bytes += part + b"\0" * (-len(part) % 4)
        return len(self._views) - 1


def _join(text: bytes, body: bytes) -> bytes:
    total = 12 + 8 + len(text) + 8 + len(body)
    header = struct.pack("<III", _GLB_MAGIC, 2, total)
    return (
        header + struct.pack("<II", len(text), _JSON_CHUNK) + text + struct.pack("<II", len(body), _BINARY_CHUNK) + body
    )
