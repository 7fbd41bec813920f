"""A surface file that a person brings: refused with a word on what it is, counted before it is read, then read.

Archives are refused, never unpacked: nothing of them is looked into, so that no trick of theirs can work.
"""

from pathlib import Path

from seatwright.errors import InputError, MeshError
from seatwright.files._foreign import name_content
from seatwright.files._limited import read_limited
from seatwright.files._ply_header import parse_ply_header
from seatwright.files._stl import is_binary_stl
from seatwright.files.meshes import parse_surface, recognize_surface
from seatwright.mesh import Surface

__all__ = ["SURFACE_SUFFIXES", "check_arrival_name", "read_arrival"]

SURFACE_SUFFIXES = ("stl", "ply", "obj")
_MAX_NAME = 200  # judgement: longer than any name that a person gives


def check_arrival_name(name: str) -> str:
    """Return the ending of a name that a browser gives, in small letters; the name itself is only shown, never a path.

    Raises
    ------
    InputError
        It holds a path, is too long, or its ending is none of a surface file.
    """
    if any(mark in name for mark in ("/", "\\", "\0")) or name in ("", ".", ".."):
        raise InputError("the name of the file holds a path, which is never followed", hint="send the bare name")
    if len(name) > _MAX_NAME or not name.isprintable():
        raise InputError("the name of the file is too long or holds invisible characters", hint="rename it")
    suffix = name.rsplit(".", 1)[-1].lower() if "." in name else ""
    if suffix not in SURFACE_SUFFIXES:
        word = f"'.{suffix}'" if suffix else "a name without an ending"
        raise InputError(f"{name[:80]}: {word} is no surface format that can be read", hint="export as STL, PLY or OBJ")
    return suffix


def read_arrival(path: Path, *, name: str, max_bytes: int, max_triangles: int) -> Surface:
    """Read a brought file in its own length unit, as if that were mm.

    Raises
    ------
    MeshError
        Saying what is wrong with the file, or what it is instead of a surface.
    """
    try:
        data = read_limited(path, max_bytes)
    except InputError as error:
        raise MeshError(f"{name}: {error.message}", hint=error.hint) from error
    kind = recognize_surface(data)
    if not kind and data:
        what, hint = name_content(data)
        if what:
            raise MeshError(f"{name}: this is {what}, not a surface", hint=hint)
    stated = _stated_triangles(data, kind)
    if stated > max_triangles:
        raise MeshError(
            f"{name}: {stated:,} triangles; at most {max_triangles:,} are taken",
            hint="thin out the scan where it was made, keeping the units fine, or cut away what is not needed",
            details={"triangles": stated, "limit": max_triangles},
        )
    surface = parse_surface(data, name=name, length_unit="mm")
    if surface.n_faces > max_triangles:  # polygons are cut into triangles
        raise MeshError(f"{name}: {surface.n_faces:,} triangles; at most {max_triangles:,} are taken", hint="thin it")
    return surface


def _stated_triangles(data: bytes, kind: str) -> int:
    """Return how many faces a file states or lists, without reading them."""
    if kind == "ply":
        return next((e.count for e in parse_ply_header(data).elements if e.name == "face"), 0)
    if kind == "obj":
        return data.count(b"\nf ") + data.count(b"\nf\t")
    if kind == "stl":
        return int.from_bytes(data[80:84], "little") if is_binary_stl(data) else data.lower().count(b"endfacet")
    return 0
