"""Surface files, read with suspicion: what a file promises is held against its size before anything is allocated."""

from collections.abc import Callable
from pathlib import Path

import numpy as np

from seatwright.errors import MeshError
from seatwright.files._limited import LARGEST_BYTES
from seatwright.files._obj import is_obj, read_obj
from seatwright.files._ply import read_ply
from seatwright.files._stl import is_binary_stl, is_text_stl, read_stl
from seatwright.mesh import IndexArray, Surface, merge_vertices
from seatwright.quantities import FloatArray

__all__ = [
    "LENGTH_UNITS_MM",
    "check_arch_extent",
    "fitting_units",
    "parse_surface",
    "read_surface",
    "recognize_surface",
]

LENGTH_UNITS_MM = {"um": 1e-3, "µm": 1e-3, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4}
_READERS: dict[str, Callable[[bytes], tuple[FloatArray, IndexArray]]] = {
    "stl": read_stl,
    "ply": read_ply,
    "obj": read_obj,
}
# judgement: full arches are some 40 to 120 mm across in every population; half arches, bases and trays widen that
_ARCH_EXTENT_MM = (25.0, 200.0)


def read_surface(path: Path, *, length_unit: str, as_written: bool = False) -> Surface:
    """Read an STL, PLY or OBJ file.

    Parameters
    ----------
    path : Path
    length_unit : str
        What one unit in the file is: ``um``, ``mm``, ``cm``, ``m`` or ``in``; none of the formats states it.
    as_written : bool
        Keep a PLY's or OBJ's vertices as they stand, in order, even where several share a place. STL lists no vertices,
        only corners of faces: its vertices are the distinct corners in the order in which they first appear.

    Returns
    -------
    Surface
        In mm.

    Raises
    ------
    MeshError
        Naming the file, what is wrong and what mends it.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise MeshError(f"{path.name}: {size / 1e9:.1f} GB is more than any scan of an arch", hint="check the file")
        data = path.read_bytes()
    except OSError as error:
        raise MeshError(
            f"{path.name}: cannot be read ({error.strerror or error})",
            hint="check the path and the permissions",
            details={"file": str(path)},
        ) from error
    return parse_surface(data, name=path.name, length_unit=length_unit, as_written=as_written)


def parse_surface(data: bytes, *, name: str, length_unit: str, as_written: bool = False) -> Surface:
    """Read a surface from bytes; `name` (with its ending) says what it should be and stands in every error."""
    if length_unit not in LENGTH_UNITS_MM:
        raise MeshError(f"{name}: '{length_unit}' is no known length unit", hint="one of " + ", ".join(LENGTH_UNITS_MM))
    try:
        kind = _require_kind(data, name)
        vertices, faces = _READERS[kind](data)
        if len(faces) == 0:
            raise MeshError("the file holds no faces", hint="export the scan as a triangle surface")
        with np.errstate(over="ignore", invalid="ignore"):
            surface = Surface(vertices * LENGTH_UNITS_MM[length_unit], faces)
        # corners that are written once a face hold nothing together until they are joined
        is_soup = kind == "stl" or (not as_written and surface.n_vertices > 2 * surface.n_faces)
        return merge_vertices(surface) if is_soup else surface
    except MeshError as error:
        raise MeshError(f"{name}: {error.message}", hint=error.hint, details={"file": name, **error.details}) from error


def check_arch_extent(surface: Surface, *, what: str, file: str) -> None:
    """Refuse a surface that cannot be an arch at the stated length unit.

    Only for a scan of which the case says that it shows an arch.

    Raises
    ------
    MeshError
        If the longest side of its box is below 25 or above 200 mm; the hint names the unit that would fit.
    """
    longest = float(surface.extent_mm.max())
    low, high = _ARCH_EXTENT_MM
    if low <= longest <= high:
        return
    fitting = [unit for unit in fitting_units(longest) if unit != "mm"]
    raise MeshError(
        f"{file}: {what} measures {longest:.4g} mm across, which no arch does ({low:g} to {high:g} mm)",
        hint=f"the file seems to be in {' or '.join(fitting)}: state its length unit"
        if fitting
        else "check that the file shows the arch and state its length unit",
        details={"file": file, "longest_mm": longest},
    )


def fitting_units(longest: float) -> tuple[str, ...]:
    """Return the length units in which a longest side, as the file states it, is that of an arch.

    Examples
    --------
    >>> fitting_units(68.0), fitting_units(2.7)
    (('mm',), ('cm', 'in'))
    """
    low, high = _ARCH_EXTENT_MM
    return tuple(u for u in ("mm", "cm", "m", "um", "in") if low <= longest * LENGTH_UNITS_MM[u] <= high)


def _require_kind(data: bytes, name: str) -> str:
    suffix = name.rsplit(".", 1)[-1].lower() if "." in name else ""
    if suffix not in _READERS:
        raise MeshError(f"'.{suffix}' is no surface format that can be read", hint="export as STL, PLY or OBJ")
    if not data.strip(b"\0 \r\n\t"):
        raise MeshError("the file is empty", hint="copy or export the scan again")
    found = recognize_surface(data)
    if found and found != suffix:
        raise MeshError(
            f"the name says {suffix.upper()}, the content is {found.upper()}",
            hint=f"rename the file to .{found}, or export it again",
        )
    if not found and suffix != "stl":
        raise MeshError(f"the content is not {suffix.upper()}", hint="export the scan again")
    return suffix


def recognize_surface(data: bytes) -> str:
    """Name of the format that the content shows, empty when it shows none."""
    if data[:4] in (b"ply\n", b"ply\r"):
        return "ply"
    if is_binary_stl(data) or is_text_stl(data):
        return "stl"
    return "obj" if is_obj(data) else ""
