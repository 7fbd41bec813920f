"""Triangle surfaces as arrays: what is valid, and what is measured on one. Knows nothing of teeth or files."""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import CannotCompute, MeshError
from seatwright.mesh._kernels import add_at_vertices, cross_edges, find_bounds, move_rows
from seatwright.quantities import FloatArray, Transform

__all__ = [
    "IndexArray",
    "Surface",
    "measure_area_mm2",
    "measure_centroid_mm",
    "measure_face_areas_mm2",
    "measure_face_normals",
    "measure_vertex_normals",
    "move_surface",
]

IndexArray = NDArray[np.int32]
_Number = TypeVar("_Number", bound=np.generic)


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """A triangle surface, open or closed, in its own frame.

    Parameters
    ----------
    vertices_mm : ndarray of shape (n, 3), float64
        Vertex positions, mm, finite.
    faces : ndarray of shape (m, 3), int32
        Vertex indices, counter-clockwise seen from outside; m >= 1.

    Raises
    ------
    MeshError
        If there is no vertex or no face, a coordinate is not finite, an index is out of range, or no face has an area.

    Examples
    --------
    >>> import numpy as np
    >>> triangle = Surface(np.array([[0, 0, 0], [2.0, 0, 0], [0, 2, 0]]), np.array([[0, 1, 2]]))
    >>> measure_area_mm2(triangle)
    2.0
    """

    vertices_mm: FloatArray
    faces: IndexArray
    n_degenerate_faces: int = 0
    """Faces without an area; counted on construction, kept in `faces`."""

    def __post_init__(self) -> None:
        vertices = np.ascontiguousarray(self.vertices_mm, dtype=np.float64)
        faces = np.asarray(self.faces)
        _require_shapes(vertices, faces)
        if not np.isfinite(vertices).all():
            n_bad = int((~np.isfinite(vertices).all(axis=1)).sum())
            raise MeshError(
                f"{n_bad} vertices have a coordinate that is not a finite number",
                hint="export the scan again; the file is damaged",
                details={"n_bad_vertices": n_bad},
            )
        if faces.min() < 0 or faces.max() >= len(vertices):
            raise MeshError(
                f"a face names vertex {int(faces.max() if faces.min() >= 0 else faces.min())}, "
                f"but there are {len(vertices)} vertices",
                hint="export the scan again; the file is damaged",
            )
        faces = np.ascontiguousarray(faces, dtype=np.int32)
        twice_area = np.linalg.norm(_face_cross(vertices, faces), axis=1)
        n_degenerate = int((twice_area <= 0).sum())
        if n_degenerate == len(faces):
            raise MeshError("no face has an area", hint="export the scan again; the file holds no surface")
        object.__setattr__(self, "vertices_mm", _frozen(vertices, self.vertices_mm))
        object.__setattr__(self, "faces", _frozen(faces, self.faces))
        object.__setattr__(self, "n_degenerate_faces", n_degenerate)

    @property
    def n_vertices(self) -> int:
        """Number of vertices."""
        return len(self.vertices_mm)

    @property
    def n_faces(self) -> int:
        """Number of faces, degenerate ones included."""
        return len(self.faces)

    @property
    def extent_mm(self) -> FloatArray:
        """Size of the axis-aligned bounding box, shape (3,), mm."""
        low, high = find_bounds(self.vertices_mm)
        return np.asarray(high - low)


def measure_face_areas_mm2(surface: Surface) -> FloatArray:
    """Area of each face, shape (m,), mm²."""
    return np.asarray(np.linalg.norm(_face_cross(surface.vertices_mm, surface.faces), axis=1) / 2)


def measure_area_mm2(surface: Surface) -> float:
    """Total area, mm²."""
    return float(measure_face_areas_mm2(surface).sum())


def measure_centroid_mm(surface: Surface, face_ids: NDArray[np.integer] | None = None) -> FloatArray:
    """Area-weighted centroid of the surface or of some of its faces, shape (3,), mm.

    Raises
    ------
    CannotCompute
        If the chosen faces have no area.
    """
    faces = surface.faces if face_ids is None else surface.faces[face_ids]
    areas = np.linalg.norm(_face_cross(surface.vertices_mm, faces), axis=1)
    total = float(areas.sum())
    if total <= 0:
        raise CannotCompute("the chosen faces have no area, so they have no centroid")
    middles = surface.vertices_mm[faces].mean(axis=1)
    return np.asarray((middles * areas[:, None]).sum(axis=0) / total)


def measure_face_normals(surface: Surface) -> FloatArray:
    """Outward unit normal of each face, shape (m, 3); zero where the face has no area."""
    return _normalized(_face_cross(surface.vertices_mm, surface.faces))


def measure_vertex_normals(surface: Surface) -> FloatArray:
    """Angle-weighted outward unit normal of each vertex, shape (n, 3); zero where no face has an area.

    References
    ----------
    .. [1] Baerentzen, Aanaes, Signed distance computation using the angle weighted pseudonormal,
       IEEE TVCG 11(3), 243-253 (2005).
    """
    return _normalized(add_at_vertices(surface.vertices_mm, surface.faces))


def move_surface(surface: Surface, T_target_source: Transform) -> Surface:
    """Return the surface in the target frame; faces and their order stay."""
    return Surface(
        move_rows(surface.vertices_mm, np.ascontiguousarray(T_target_source, dtype=np.float64)), surface.faces
    )


def _face_cross(vertices: FloatArray, faces: IndexArray) -> FloatArray:
    return np.asarray(cross_edges(vertices, faces))


def _normalized(rows: FloatArray) -> FloatArray:
    length = np.linalg.norm(rows, axis=1, keepdims=True)
    return np.asarray(np.divide(rows, length, out=np.zeros_like(rows), where=length > 0))


def _frozen(array: NDArray[_Number], given: object) -> NDArray[_Number]:
    mine = array.copy() if array is given and array.flags.writeable else array
    mine.setflags(write=False)
    return mine


def _require_shapes(vertices: FloatArray, faces: NDArray[np.generic]) -> None:
    if vertices.ndim != 2 or vertices.shape[1] != 3 or len(vertices) == 0:
        raise MeshError("a surface needs vertices of shape (n, 3)", hint="the file holds no vertices")
    if faces.ndim != 2 or faces.shape[1] != 3 or len(faces) == 0:
        raise MeshError("a surface needs triangles of shape (m, 3)", hint="the file holds no faces")
    if not np.issubdtype(faces.dtype, np.integer):
        raise MeshError(f"face indices must be whole numbers, got {faces.dtype}")
