"""Closest point on a surface: the fast way, the naive way that tests compare it with, and signed distance."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import ValueOutOfRange
from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.mesh._surface import Surface, measure_face_areas_mm2, measure_vertex_normals
from seatwright.mesh._topology import find_rim_faces
from seatwright.mesh._tree_build import Tree, build_tree
from seatwright.mesh._tree_query import find_nearest_kernel, nearest_on_triangle
from seatwright.quantities import FloatArray

__all__ = [
    "ClosestPoints",
    "SurfaceIndex",
    "find_closest",
    "find_closest_faces",
    "find_closest_naively",
    "index_surface",
    "measure_signed_distance",
]


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceIndex:
    """A surface prepared for many closest-point questions."""

    surface: Surface
    tree: Tree
    corner_normals: FloatArray
    """(m, 9): angle-weighted normals of the corners in leaf order."""
    is_rim: NDArray[np.bool_]
    """(m,): whether the face at each place of the leaf order has a border edge."""
    vertex_normals: FloatArray = field(repr=False)


@dataclass(frozen=True, slots=True, eq=False)
class ClosestPoints:
    """Answer to a closest-point question for n points.

    `is_found` (n,) is False beyond the limit; there `distance_mm` equals the limit, `face_ids` is -1 and the point is
    the query itself. `normals` are interpolated angle-weighted normals of unit length; `is_rim` marks feet on a face
    at the border of an open surface.
    """

    is_found: NDArray[np.bool_]
    points_mm: FloatArray
    distance_mm: FloatArray
    face_ids: NDArray[np.int32]
    normals: FloatArray
    is_rim: NDArray[np.bool_]


def index_surface(surface: Surface) -> SurfaceIndex:
    """Build the tree, the normals and the rim marks; O(m log m)."""
    tree = build_tree(surface)
    normals = measure_vertex_normals(surface)
    corner_normals = normals[surface.faces[tree.face_ids]].reshape(-1, 9)
    return SurfaceIndex(
        surface=surface,
        tree=tree,
        corner_normals=np.ascontiguousarray(corner_normals),
        is_rim=find_rim_faces(surface)[tree.face_ids],
        vertex_normals=normals,
    )


def find_closest(index: SurfaceIndex, points_mm: FloatArray, *, limit_mm: float = np.inf) -> ClosestPoints:
    """Find the closest surface point to each of the points.

    Parameters
    ----------
    index : SurfaceIndex
        The prepared surface.
    points_mm : ndarray of shape (n, 3)
        In the surface's frame, mm, finite.
    limit_mm : float
        Nothing farther away is looked for; > 0.

    Raises
    ------
    ValueOutOfRange
        If a coordinate is not finite or the limit is not positive.

    Notes
    -----
    Exact to rounding. Runs a parallel kernel; one at a time in a process.

    Examples
    --------
    >>> import numpy as np
    >>> floor = Surface(np.array([[0, 0, 0], [4.0, 0, 0], [0, 4, 0]]), np.array([[0, 1, 2]]))
    >>> find_closest(index_surface(floor), np.array([[1.0, 1.0, 2.0]])).distance_mm
    array([2.])
    """
    points = np.ascontiguousarray(points_mm, dtype=np.float64)
    if not np.isfinite(points).all() or not limit_mm > 0:
        raise ValueOutOfRange("closest points need finite coordinates and a positive limit")
    with KERNEL_LOCK:
        places, found = find_nearest_kernel(index.tree, points, float(limit_mm))
    is_found = places >= 0
    place = np.where(is_found, places, 0)
    weights = np.column_stack([1 - found[:, 1] - found[:, 2], found[:, 1], found[:, 2]])
    feet = np.einsum("ik,ikj->ij", weights, index.tree.corners[place].reshape(-1, 3, 3))
    normals = np.einsum("ik,ikj->ij", weights, index.corner_normals[place].reshape(-1, 3, 3))
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    return ClosestPoints(
        is_found=is_found,
        points_mm=np.where(is_found[:, None], feet, points),
        distance_mm=found[:, 0],
        face_ids=np.where(is_found, index.tree.face_ids[place], -1).astype(np.int32),
        normals=np.divide(normals, length, out=np.zeros_like(normals), where=length > 0),
        is_rim=index.is_rim[place] & is_found,
    )


def find_closest_faces(index: SurfaceIndex, points_mm: FloatArray, *, limit_mm: float) -> NDArray[np.int32]:
    """Face of the closest surface point of each of the points (n, 3), -1 where nothing lies within the limit."""
    with KERNEL_LOCK:
        places, _ = find_nearest_kernel(index.tree, np.ascontiguousarray(points_mm, dtype=np.float64), float(limit_mm))
    return np.where(places >= 0, index.tree.face_ids[np.maximum(places, 0)], np.int32(-1))


def find_closest_naively(surface: Surface, points_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return distance (n,) and closest point (n, 3) by trying every face with an area: reference for `find_closest`."""
    corners = surface.vertices_mm[surface.faces[measure_face_areas_mm2(surface) > 0]].reshape(-1, 9)
    distance = np.full(len(points_mm), np.inf)
    feet = np.array(points_mm, dtype=np.float64)
    for i, (x, y, z) in enumerate(points_mm):
        for f in range(len(corners)):
            squared, v, w = nearest_on_triangle(corners, f, x, y, z)
            if squared < distance[i]:
                distance[i] = squared
                feet[i] = (1 - v - w) * corners[f, :3] + v * corners[f, 3:6] + w * corners[f, 6:]
    return np.sqrt(distance), feet


def measure_signed_distance(
    index: SurfaceIndex, points_mm: FloatArray, *, limit_mm: float
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Signed distance of points near a surface, open or closed, and where it is defined.

    Returns
    -------
    distance_mm : ndarray of shape (n,)
        Positive outside; 0 where not defined.
    is_defined : ndarray of shape (n,), bool
        False beyond the limit and where the foot lies on a face at the border, so that inside has no meaning.
    """
    closest = find_closest(index, points_mm, limit_mm=limit_mm)
    offset = np.asarray(points_mm) - closest.points_mm
    side = np.where(np.einsum("ij,ij->i", offset, closest.normals) < 0, -1.0, 1.0)
    is_defined = closest.is_found & ~closest.is_rim
    return np.where(is_defined, side * closest.distance_mm, 0.0), is_defined
