"""Surfaces as file bytes: STL, PLY, and GLB with a color a vertex."""

import struct
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import MeshError
from seatwright.figures import LegendPlate
from seatwright.files._glb import GlbBody
from seatwright.mesh import IndexArray, Surface, measure_face_normals, measure_vertex_normals
from seatwright.quantities import FloatArray

__all__ = ["encode_glb", "encode_ply", "encode_stl"]

_SURFACE_MATERIAL = {"pbrMetallicRoughness": {"metallicFactor": 0, "roughnessFactor": 0.8}, "doubleSided": True}


def encode_stl(surface: Surface) -> bytes:
    """Return the surface as binary STL, mm, single precision."""
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    table = np.zeros(surface.n_faces, dtype=record)
    table["normal"] = measure_face_normals(surface)
    table["corners"] = surface.vertices_mm[surface.faces]
    return b"triangle surface, mm".ljust(80, b" ") + struct.pack("<I", surface.n_faces) + table.tobytes()


def encode_ply(
    surface: Surface, vertex_properties: Mapping[str, NDArray[np.float64] | NDArray[np.uint8]] | None = None
) -> bytes:
    """Return the surface as binary little-endian PLY, mm, double precision: vertices come back bit for bit.

    Parameters
    ----------
    surface : Surface
    vertex_properties : mapping from str to ndarray of shape (n,), optional
        More properties a vertex, in this order after x, y, z: doubles, or bytes where the array holds bytes.

    Raises
    ------
    MeshError
        If a property has not one number a vertex.
    """
    fields: list[tuple[str, str]] = [("x", "<f8"), ("y", "<f8"), ("z", "<f8")]
    for name, values in (vertex_properties or {}).items():
        if values.shape != (surface.n_vertices,):
            raise MeshError(f"the property {name} needs one number a vertex")
        fields.append((name, "u1" if values.dtype == np.uint8 else "<f8"))
    rows = np.empty(surface.n_vertices, dtype=np.dtype(fields))
    for place, name in enumerate("xyz"):
        rows[name] = surface.vertices_mm[:, place]
    for name, values in (vertex_properties or {}).items():
        rows[name] = values
    stated = "".join(f"property {'uchar' if code == 'u1' else 'double'} {name}\n" for name, code in fields)
    header = (
        "ply\nformat binary_little_endian 1.0\ncomment length unit mm\n"
        f"element vertex {surface.n_vertices}\n{stated}"
        f"element face {surface.n_faces}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    table = np.empty(surface.n_faces, dtype=np.dtype([("n", "u1"), ("corners", "<i4", 3)]))
    table["n"], table["corners"] = 3, surface.faces
    return header.encode("ascii") + rows.tobytes() + table.tobytes()


def encode_glb(
    vertices_mm: FloatArray, faces: IndexArray, rgb: NDArray[np.uint8], legend: LegendPlate | None = None
) -> bytes:
    """Return a surface with a color a vertex as binary glTF 2.0, in meters as the format wants.

    Parameters
    ----------
    vertices_mm : ndarray of shape (n, 3)
    faces : ndarray of shape (m, 3)
    rgb : ndarray of shape (n, 3), uint8
        sRGB values 0 to 255.
    legend : LegendPlate or None
        A picture that stands beside the surface as a node of its own; its notes become the scene's extras.

    Raises
    ------
    MeshError
        If the colors do not match the vertices.

    References
    ----------
    .. [1] Khronos glTF 2.0 specification, 3.7.2.1 (attributes; COLOR_0 is linear), 3.8.3 (images in buffer views),
       4.4 (binary container).
    .. [2] Khronos extension KHR_materials_unlit: the legend keeps its colors in any light.
    """
    if rgb.shape != (len(vertices_mm), 3) or rgb.dtype != np.uint8:
        raise MeshError("a colored surface needs one 8-bit RGB color a vertex")
    surface = Surface(vertices_mm, faces)
    center = (surface.vertices_mm.max(axis=0) + surface.vertices_mm.min(axis=0)) / 2
    normals = measure_vertex_normals(surface)
    normals[(normals == 0).all(axis=1)] = (0.0, 0.0, 1.0)
    linear = np.column_stack([_to_linear(rgb), np.full(len(rgb), 255, dtype=np.uint8)])
    body = GlbBody()
    attributes = {
        "POSITION": body.add_points((surface.vertices_mm - center) * 1e-3),
        "NORMAL": body.add_floats(normals),
        "COLOR_0": body.add_colors(linear),
    }
    body.add_node("surface", attributes, body.add_indices(surface.faces), _SURFACE_MATERIAL)
    notes: dict[str, object] = {"center_mm": [float(v) for v in center]}
    if legend is not None:
        body.add_picture("legend", (legend.corners_mm - center) * 1e-3, legend.png)
        notes |= legend.notes
    return body.pack(notes)


def _to_linear(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Turn sRGB bytes into linear ones (IEC 61966-2-1)."""
    value = rgb / 255.0
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.asarray(np.round(255 * linear), dtype=np.uint8)
