"""Several bodies in one surface: which are closed, which are inside out, and the surface with all of them right."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.mesh._body_kernels import count_odd_edges, label_pieces, measure_lean, sum_sixfold_volumes
from seatwright.mesh._kernels import find_bounds
from seatwright.mesh._surface import Surface
from seatwright.quantities import FloatArray

__all__ = ["Bodies", "find_bodies", "measure_look", "turn_outwards"]


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """The connected pieces of a surface.

    Attributes
    ----------
    of_face, of_vertex : ndarray of shape (m,), (n,), int32
        Piece of each face and vertex, the one with most faces first; -1 for a vertex without a face.
    is_closed : ndarray of shape (n_bodies,), bool
        Whether every edge of the piece carries exactly two faces.
    is_inside_out : ndarray of shape (n_bodies,), bool
        Closed, and the faces look inwards, though the piece is no hollow within another one.
    n_faults : int
        Edges whose two faces are turned against each other.
    """

    of_face: NDArray[np.int32]
    of_vertex: NDArray[np.int32]
    is_closed: NDArray[np.bool_]
    is_inside_out: NDArray[np.bool_]
    n_faults: int

    @property
    def n_bodies(self) -> int:
        """Number of pieces."""
        return len(self.is_closed)


def find_bodies(surface: Surface) -> Bodies:
    """Find the pieces of a surface and how their faces are turned; vertices at one place must be joined before.

    References
    ----------
    .. [1] Divergence theorem with the field x/3: the volume's sign tells inside from outside.
    """
    of_face, n_bodies = label_pieces(surface.faces, surface.n_vertices)
    of_vertex = np.full(surface.n_vertices, -1, dtype=np.int32)
    for corner in range(3):
        of_vertex[surface.faces[:, corner]] = of_face
    odd, n_faults = count_odd_edges(surface.faces, surface.n_vertices, of_face, n_bodies)
    is_closed = odd == 0
    middle = find_bounds(surface.vertices_mm).mean(axis=0)
    volume = sum_sixfold_volumes(surface.vertices_mm, surface.faces, of_face, n_bodies, middle)
    inside_out = is_closed & (volume < 0)
    for body in np.flatnonzero(inside_out):
        inside_out[body] = not _is_hollow(surface, of_vertex, int(body), is_closed & (volume > 0))
    return Bodies(of_face, of_vertex, is_closed, inside_out, n_faults)


def turn_outwards(surface: Surface, bodies: Bodies) -> Surface:
    """Return the surface with the faces of inside-out bodies turned; vertices and order stay."""
    if not bodies.is_inside_out.any():
        return surface
    faces = surface.faces.copy()
    turn = bodies.is_inside_out[bodies.of_face]
    faces[turn] = faces[turn][:, ::-1]
    return Surface(surface.vertices_mm, faces)


def measure_look(surface: Surface, is_marked: NDArray[np.bool_]) -> tuple[float, FloatArray]:
    """Share of the area whose corners are marked, and the mean normal (3,), whose length falls as normals cancel."""
    area, marked, looks = measure_lean(surface.vertices_mm, surface.faces, is_marked)
    return float(marked / area), np.asarray(looks / area)


def _is_hollow(surface: Surface, of_vertex: NDArray[np.int32], body: int, outer: NDArray[np.bool_]) -> bool:
    """Whether the box of a body lies within the box of a closed one that looks outwards."""
    own = surface.vertices_mm[of_vertex == body]
    low, high = own.min(axis=0), own.max(axis=0)
    for other in np.flatnonzero(outer):
        points = surface.vertices_mm[of_vertex == other]
        if (points.min(axis=0) < low).all() and (points.max(axis=0) > high).all():
            return True
    return False
