"""Several closed solids as one file of the kind that its name says."""

from collections.abc import Callable, Sequence

import numpy as np

from seatwright.errors import InputError, MeshError
from seatwright.files._mesh_bytes import encode_glb, encode_ply, encode_stl
from seatwright.files._three_mf import encode_3mf
from seatwright.mesh import Surface

__all__ = ["SOLID_KINDS", "encode_solids", "join_surfaces"]

_WAX = (176, 205, 196)


def join_surfaces(solids: Sequence[Surface]) -> Surface:
    """Return several surfaces as one; their vertices stay apart."""
    starts = np.cumsum([0, *(solid.n_vertices for solid in solids)])
    faces = np.vstack([solid.faces + start for solid, start in zip(solids, starts, strict=False)])
    return Surface(np.vstack([solid.vertices_mm for solid in solids]), faces.astype(np.int32))


def _glb(solids: Sequence[Surface]) -> bytes:
    whole = join_surfaces(solids)
    color = np.tile(np.array(_WAX, dtype=np.uint8), (whole.n_vertices, 1))
    return encode_glb(whole.vertices_mm, whole.faces, color)


_ENCODERS: dict[str, Callable[[Sequence[Surface]], bytes]] = {
    "stl": lambda solids: encode_stl(join_surfaces(solids)),
    "ply": lambda solids: encode_ply(join_surfaces(solids)),
    "3mf": encode_3mf,
    "glb": _glb,
}
SOLID_KINDS = tuple(_ENCODERS)


def encode_solids(solids: Sequence[Surface], *, name: str) -> bytes:
    """Return solids as STL, PLY, 3MF (mm) or GLB (m, about the middle), by the ending of `name`.

    Raises
    ------
    InputError
        If the ending is none of these.
    MeshError
        If there is no solid.
    """
    kind = name.rsplit(".", 1)[-1].lower() if "." in name else ""
    if kind not in _ENCODERS:
        raise InputError(f"{name}: solids are written as {', '.join(SOLID_KINDS)}", hint="give such an ending")
    if not solids:
        raise MeshError("there is no solid to write", hint="nothing is undercut along this path")
    return _ENCODERS[kind](solids)
