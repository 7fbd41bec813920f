"""Which faces of a reference scan belong to which unit.

Owns the region of a unit on a surface. Knows nothing of files, of the poured cast or of movements.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import Fault, InputError
from seatwright.mesh import (
    Surface,
    find_closest,
    index_surface,
    measure_centroid_mm,
    measure_face_areas_mm2,
)
from seatwright.quantities import FloatArray

__all__ = ["MeshRegion", "RegionSpec", "SeedRegion", "UnitRegion", "assign_regions"]

# judgement: a crown's own surface and the reference show one surface twice; more than two scans' noise is another one
_MESH_REACH_MM = 0.2
# judgement: two neighbors' surfaces may share a strip along their contact, not more
_LARGEST_SHARED = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class SeedRegion:
    """A unit given by a point on it and a radius."""

    tooth: str
    seed_mm: FloatArray
    """Shape (3,), reference frame."""
    radius_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class MeshRegion:
    """A unit given by its own surface in the reference's frame."""

    tooth: str
    surface: Surface


RegionSpec = SeedRegion | MeshRegion


@dataclass(frozen=True, slots=True, eq=False)
class UnitRegion:
    """Where a unit is on the reference.

    Attributes
    ----------
    tooth : str
    face_ids : ndarray of shape (k,), int64
        Faces of the reference, ascending.
    centroid_mm : ndarray of shape (3,)
        Area-weighted centroid: the point that its movement is told about.
    area_mm2 : float
    """

    tooth: str
    face_ids: NDArray[np.int64]
    centroid_mm: FloatArray
    area_mm2: float


def assign_regions(reference: Surface, specs: Sequence[RegionSpec]) -> tuple[UnitRegion, ...]:
    """Give each face of the reference to at most one unit.

    Parameters
    ----------
    reference : Surface
        mm.
    specs : sequence of SeedRegion or MeshRegion
        In the reference's frame. A face (by its centroid) goes to the nearest seed whose radius reaches it; a mesh
        claims the faces within 0.2 mm of it before any seed does.

    Returns
    -------
    tuple of UnitRegion
        In the order of `specs`.

    Raises
    ------
    InputError
        With every fault: no unit, a tooth named twice, a region without faces, two meshes that cover the same faces.

    Examples
    --------
    >>> import numpy as np
    >>> square = Surface(np.array([[0, 0, 0], [3.0, 0, 0], [3, 3, 0], [0, 3, 0]]), np.array([[0, 1, 2], [0, 2, 3]]))
    >>> [region] = assign_regions(square, [SeedRegion("23", np.array([2.0, 1.0, 0.0]), 0.5)])
    >>> region.face_ids, region.area_mm2
    (array([0]), 4.5)
    """
    faults = _check_names(specs)
    middles = reference.vertices_mm[reference.faces].mean(axis=1)
    owner = np.full(reference.n_faces, -1, dtype=np.int64)
    faults += _claim_by_mesh(middles, specs, owner)
    _claim_by_seed(middles, specs, owner)
    areas = measure_face_areas_mm2(reference)
    for number, spec in enumerate(specs):
        if areas[owner == number].sum() <= 0:
            faults.append(
                Fault(
                    f"unit {spec.tooth}",
                    "no face of the reference lies in its region",
                    "give a seed on the surface of the unit in the reference's frame, in mm, or a larger radius",
                )
            )
    if faults:
        raise InputError(
            f"{faults[0].where}: {faults[0].what}" + (f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""),
            hint=faults[0].hint,
            faults=faults,
        )
    return tuple(_make(reference, spec.tooth, np.flatnonzero(owner == k), areas) for k, spec in enumerate(specs))


def _make(reference: Surface, tooth: str, ids: NDArray[np.int64], areas: FloatArray) -> UnitRegion:
    return UnitRegion(tooth, ids, measure_centroid_mm(reference, ids), float(areas[ids].sum()))


def _check_names(specs: Sequence[RegionSpec]) -> list[Fault]:
    if not specs:
        return [Fault("unit regions", "no unit is named", "name each unit with a seed and radius, or a mesh")]
    teeth = [spec.tooth for spec in specs]
    doubled = sorted({t for t in teeth if teeth.count(t) > 1})
    return [Fault(f"unit {t}", "is named more than once", "give each tooth one region") for t in doubled]


def _claim_by_seed(middles: FloatArray, specs: Sequence[RegionSpec], owner: NDArray[np.int64]) -> None:
    nearest = np.where(owner >= 0, -1.0, np.inf)
    for number, spec in enumerate(specs):
        if isinstance(spec, SeedRegion):
            distance = np.linalg.norm(middles - np.asarray(spec.seed_mm, dtype=np.float64), axis=1)
            wins = (distance <= spec.radius_mm) & (distance < nearest)
            owner[wins], nearest[wins] = number, distance[wins]


def _claim_by_mesh(middles: FloatArray, specs: Sequence[RegionSpec], owner: NDArray[np.int64]) -> list[Fault]:
    nearest = np.full(len(middles), np.inf)
    claims: dict[int, NDArray[np.bool_]] = {}
    for number, spec in enumerate(specs):
        if isinstance(spec, MeshRegion):
            closest = find_closest(index_surface(spec.surface), middles, limit_mm=_MESH_REACH_MM)
            claims[number] = closest.is_found
            wins = closest.is_found & (closest.distance_mm < nearest)
            owner[wins], nearest[wins] = number, closest.distance_mm[wins]
    faults = []
    for one, mine in claims.items():
        for other, theirs in claims.items():
            if one < other and (mine & theirs).sum() > _LARGEST_SHARED * max(1, min(mine.sum(), theirs.sum())):
                names = f"units {specs[one].tooth} and {specs[other].tooth}"
                faults.append(Fault(names, "their meshes cover the same faces", "cut the meshes apart at the contact"))
    return faults
