"""What a scan tells at the places planned: the normal of a guide plane."""

from collections.abc import Sequence

import numpy as np

from seatwright.case import GuidePlane
from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.mesh import Surface, measure_face_areas_mm2, measure_face_normals
from seatwright.quantities import FloatArray

__all__ = ["read_plane_normals"]

_RADIUS_MM = 0.75  # judgement: a guide plane is at least 1.5 mm wide and high
_REACH_MM = 1.0  # judgement: a mark farther from the surface is not on it
_SAME_SIDE_DEG = 60.0  # judgement: faces turned farther away belong to another side of the crown
_CURVED_DEG = 6.0  # judgement: scatter beyond which a patch of this size is no plane


def read_plane_normals(
    planes: Sequence[GuidePlane], surface: Surface
) -> tuple[dict[str, FloatArray], tuple[Finding, ...]]:
    """Return the outward normal at each guide plane that states none, and what is to be said about the reading.

    Parameters
    ----------
    planes : sequence of GuidePlane
        Those with `outward`, or without `at_mm`, are passed over.
    surface : Surface
        The scan in whose frame the marks stand.

    Notes
    -----
    Area-weighted mean of the face normals within 0.75 mm of the mark that face the same side as the nearest face.
    """
    centers = surface.vertices_mm[surface.faces].mean(axis=1)
    normals, areas = measure_face_normals(surface), measure_face_areas_mm2(surface)
    read: dict[str, FloatArray] = {}
    notes: list[Finding] = []
    for plane in planes:
        if plane.outward is not None or plane.at_mm is None:
            continue
        distance = np.linalg.norm(centers - np.array(plane.at_mm), axis=1)
        nearest = int(np.argmin(distance))
        if distance[nearest] > _REACH_MM:
            notes.append(_not_on_scan(plane, float(distance[nearest])))
            continue
        near = np.flatnonzero(distance <= max(_RADIUS_MM, float(distance[nearest]) * 1.01))
        near = near[normals[near] @ normals[nearest] > np.cos(np.radians(_SAME_SIDE_DEG))]
        mean = (normals[near] * areas[near][:, None]).sum(axis=0)
        mean /= np.linalg.norm(mean)
        read[plane.id] = mean
        turns = np.degrees(np.arccos(np.clip(normals[near] @ mean, -1.0, 1.0)))
        scatter = float(np.sqrt((turns**2 * areas[near]).sum() / areas[near].sum()))
        if scatter > _CURVED_DEG:
            notes.append(_curved(plane, scatter))
    return read, tuple(notes)


def _not_on_scan(plane: GuidePlane, distance_mm: float) -> Finding:
    return Finding(
        "survey-plane-off-scan",
        Severity.CAUTION,
        f"{plane.id} is marked {distance_mm:.1f} mm off the scan: its lean is not read.",
        do="Correct at_mm, or state its outward normal.",
        source=Source(SourceKind.CASE, f"guide_plane {plane.id}"),
        about=plane.id,
    )


def _curved(plane: GuidePlane, scatter_deg: float) -> Finding:
    return Finding(
        "survey-plane-curved",
        Severity.NOTE,
        f"{plane.id} on {plane.tooth} is not cut flat yet: the scan turns by {scatter_deg:.0f} degrees within 1.5 mm.",
        "Its lean is the mean over that patch.",
        "Cut it parallel to the path found here.",
        Source(SourceKind.MEASURED, "reference scan"),
        plane.id,
    )
