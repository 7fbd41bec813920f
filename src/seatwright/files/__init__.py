"""Adapters to files: surface files with guards first, unit regions."""

from seatwright.files._mesh_bytes import encode_glb, encode_ply, encode_stl
from seatwright.files._unit_regions import read_unit_regions
from seatwright.files.meshes import LENGTH_UNITS_MM, check_arch_extent, parse_surface, read_surface

__all__ = [
    "LENGTH_UNITS_MM",
    "check_arch_extent",
    "encode_glb",
    "encode_ply",
    "encode_stl",
    "parse_surface",
    "read_surface",
    "read_unit_regions",
]
