"""Many directions at once: block-out volume and gauge readings, coarse or on the full mesh."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.mesh._kernels import KERNEL_LOCK
from seatwright.mesh._surface import Surface
from seatwright.mesh._sweep_kernels import sweep_gaps_kernel, sweep_voids_kernel
from seatwright.quantities import FloatArray

__all__ = ["GapSweep", "VoidSweep", "coarsen_surface", "crop_surface", "sweep_gaps", "sweep_voids"]


@dataclass(frozen=True, slots=True, eq=False)
class VoidSweep:
    """What is shadowed under overhangs, for k directions.

    Attributes
    ----------
    near_mm3 : ndarray of shape (k, n)
        Volume within the radius of each center in plan: what would be blocked out there.
    elsewhere_mm3 : ndarray of shape (k,)
    open_mm2 : ndarray of shape (k,)
        Plan area under overhangs with no floor below (the cast's own rim), not counted as volume; on a cast with a
        base, all its plan area.
    """

    near_mm3: FloatArray
    elsewhere_mm3: FloatArray
    open_mm2: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class GapSweep:
    """What a gauge reads at one point, for k directions, and how high over the point the contour stands."""

    gap_mm: FloatArray
    contour_mm: FloatArray


def sweep_voids(
    surface: Surface, directions: FloatArray, *, centers_mm: FloatArray, radius_mm: float, pitch_mm: float
) -> VoidSweep:
    """Measure the volume under overhangs along each direction.

    Parameters
    ----------
    surface : Surface
    directions : ndarray of shape (k, 3)
        Withdraw directions.
    centers_mm : ndarray of shape (n, 3)
        Volumes within `radius_mm` of these, in plan, are told apart.
    pitch_mm : float
        Cell of the raster; the volume's error falls about linearly with it.

    Notes
    -----
    In one column with surfaces z1 (top, facing up) > z2 (facing down) > z3 (facing up) the hollow is z2 - z3: the top
    less the sum of all heights taken with the sign of their facing. Where most columns close below (a cast on its
    base), their lowest surface is taken for the base and left out; else columns that close below are overhangs with no
    floor. Other columns whose facings do not add up to one are left out.
    """
    if not (pitch_mm > 0 and radius_mm > 0):
        raise ValueOutOfRange(f"need a pitch and a radius > 0, got {pitch_mm} and {radius_mm} mm")
    centers = np.ascontiguousarray(np.asarray(centers_mm, dtype=np.float64).reshape(-1, 3))
    with KERNEL_LOCK:
        found = sweep_voids_kernel(
            surface.vertices_mm, surface.faces, frames_of(directions), centers, float(radius_mm), float(pitch_mm)
        )
    n = len(centers)
    return VoidSweep(found[:, :n], found[:, n], found[:, n + 1])


def sweep_gaps(
    surface: Surface, directions: FloatArray, *, point_mm: FloatArray, reach_mm: float, pitch_mm: float, slack_mm: float
) -> GapSweep:
    """Read the undercut gauge at one point along each direction, to about half a cell.

    Parameters
    ----------
    surface : Surface
        May be cropped to `reach_mm` and the height that can stand over the point.
    directions : ndarray of shape (k, 3)
    point_mm : ndarray of shape (3,)
    reach_mm : float
        Largest gap read.
    slack_mm : float
        How far over the point a free column may stand.
    """
    half = max(2, round(reach_mm / pitch_mm))
    with KERNEL_LOCK:
        found = sweep_gaps_kernel(
            surface.vertices_mm,
            surface.faces,
            frames_of(directions),
            np.asarray(point_mm, dtype=np.float64),
            float(slack_mm),
            (half, float(pitch_mm)),
        )
    return GapSweep(found[:, 0], found[:, 1])


def frames_of(directions: FloatArray) -> FloatArray:
    """Frames (k, 3, 3) whose rows are x, y and the direction."""
    up = np.asarray(directions, dtype=np.float64).reshape(-1, 3)
    up = up / np.linalg.norm(up, axis=1, keepdims=True)
    side = np.where(np.abs(up[:, 1:2]) < 0.9, [[0.0, 1.0, 0.0]], [[0.0, 0.0, 1.0]])
    right = np.cross(side, up)
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    return np.ascontiguousarray(np.stack([right, np.cross(up, right), up], axis=1))


def coarsen_surface(surface: Surface, cell_mm: float) -> Surface:
    """Merge the vertices of each cubic cell into their mean; faces that lose a corner go."""
    keys = np.floor(surface.vertices_mm / cell_mm).astype(np.int64)
    _, which, counts = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    which = which.reshape(-1)
    merged = np.stack([np.bincount(which, surface.vertices_mm[:, k]) for k in range(3)], axis=1) / counts[:, None]
    faces = which[surface.faces]
    kept = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return Surface(merged, np.ascontiguousarray(faces[kept], dtype=np.int32)) if kept.any() else surface


def crop_surface(surface: Surface, center_mm: FloatArray | Sequence[float], radius_mm: float) -> Surface:
    """Return the faces with a corner within a radius of a point; the whole surface when there are none."""
    near = np.linalg.norm(surface.vertices_mm - np.asarray(center_mm, dtype=float), axis=1) <= radius_mm
    kept = near[surface.faces].any(axis=1)
    if not kept.any():
        return surface
    used, faces = np.unique(surface.faces[kept], return_inverse=True)
    return Surface(surface.vertices_mm[used], faces.reshape(-1, 3).astype(np.int32))
