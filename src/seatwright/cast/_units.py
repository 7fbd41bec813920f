"""Each unit's own pose: robust two-way fits of all units at once, in the frame of the global pose."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.arch import UnitRegion
from seatwright.cast._pose import MOST_SCALE_MM, GlobalPose
from seatwright.cast._pose_by_units import is_determined
from seatwright.errors import CannotCompute
from seatwright.mesh import (
    BodyFit,
    BodyPoints,
    Schedule,
    SurfaceIndex,
    estimate_scale_mm,
    find_bounds,
    find_closest_faces,
    fit_bodies,
    is_in_boxes,
    rest_poses,
)
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray

__all__ = ["UnitFits", "fit_units"]

_CUTS_MM = (1.0, 0.5, 0.25, 0.12)  # judgement: from the largest movement looked for, halved until near the noise
_FITTED_CUTS_MM = (0.5, 0.12)  # judgement: the same for units that the pose has fitted already
_LOOK_MM = 0.5  # judgement: so wide a cut still shows that a unit has another shape
_TUKEY = 4.685  # common practice: 95 % efficiency of the biweight at the normal law
_LEAST_CUT_MM = 0.02  # judgement: below this the cut would follow rounding of the files
_LEAST_COVERAGE = 0.5  # judgement: with less of the region the fit answers for another unit
_MOST_SHIFT_MM = 0.7  # judgement: most dies do not move farther than the farthest movement looked for
_LEAST_POINTS = 60  # judgement: ten equations for each of six unknowns


@dataclass(frozen=True, slots=True, eq=False)
class UnitFits:
    """Poses of all units in the global frame and the equations that they rest on."""

    fit: BodyFit
    points: BodyPoints
    returning: BodyPoints
    is_measured: NDArray[np.bool_]
    """(k,): enough of the unit was found and its pose is determined."""
    coverage: FloatArray
    """(k,): share of the region's vertices matched at the last cut but one."""
    n_points: NDArray[np.int64]
    rms_um: FloatArray
    scales_mm: FloatArray
    """(k,): robust scale of each unit's residuals within half a millimeter; 0 where too little was matched."""
    inlier_share: FloatArray
    """(k,): share of the points within half a millimeter that lie inside the last robust cut."""
    sigma_mm: float
    """Pooled robust scale of the residuals."""


def fit_units(pose: GlobalPose, regions: tuple[UnitRegion, ...], *, progress: Progress = SILENT) -> UnitFits:
    """Fit each unit's region of the reference onto the poured surface, and back.

    Raises
    ------
    CannotCompute
        If no unit finds enough points.
    """
    points, owner = _gather_points(pose.reference, regions)
    returning = _gather_returning(pose, regions, owner)
    n = len(regions)
    poses = pose.motions or rest_poses([r.centroid_mm for r in regions])
    own, target = (pose.reference, points), (pose.poured, returning)
    coverage, wide_scales, n_near = np.zeros(n), np.zeros(n), np.ones(n, dtype=np.int64)
    sigma = 0.0
    cuts = _CUTS_MM if pose.motions is None else _FITTED_CUTS_MM
    for number, cut in enumerate(cuts):
        progress.report(number / (len(cuts) + 1), "fitting each unit")
        fit = fit_bodies(own, target, poses, Schedule((max(cut, _TUKEY * sigma),), most_last_steps=6, rest_mm=cut / 50))
        poses = fit.poses
        scales = _measure_scales(fit, points, returning, n)
        sigma = float(np.median(scales[scales > 0])) if (scales > 0).any() else 0.0
        if cut == _LOOK_MM:
            # later cuts would hide another shape
            wide_scales = scales
            n_near = _count(points.body, fit.forward.is_matched, n)
            n_near += _count(returning.body, fit.backward.is_matched if fit.backward else None, n)
            coverage = _count(points.body, fit.forward.is_matched, n) / np.maximum(1, _count(points.body, None, n))
        if _TUKEY * sigma >= cut:
            break
    final = max(_LEAST_CUT_MM, _TUKEY * sigma)
    fit = fit_bodies(own, target, poses, Schedule((final,)))
    n_points = _count(points.body, fit.forward_weights > 0, n) + _count(returning.body, fit.backward_weights > 0, n)
    is_measured = (coverage >= _LEAST_COVERAGE) & (n_points >= _LEAST_POINTS) & is_determined(fit.hessians)
    if not is_measured.any():
        raise CannotCompute(
            "no unit of the reference was found on the poured scan",
            hint="check the unit regions: they are given in the reference's frame, in mm",
            details={"coverage": [round(float(c), 3) for c in coverage]},
        )
    inlier_share = n_points / np.maximum(1, n_near)
    rms_um = _rms_um(fit, points, returning, n)
    return UnitFits(fit, points, returning, is_measured, coverage, n_points, rms_um, wide_scales, inlier_share, sigma)


def shows_same_units(fits: UnitFits) -> bool:
    """Whether most units found on the poured scan have the reference's shape and stand near its place.

    A scan of another arch (or a mirrored one) may lie close to the reference in large parts; its teeth do not.
    """
    shifts = np.linalg.norm(fits.fit.poses.shifts, axis=1)
    alike = (fits.scales_mm <= MOST_SCALE_MM) & (shifts <= _MOST_SHIFT_MM)
    return bool(2 * (alike & fits.is_measured).sum() >= fits.is_measured.sum())


def _gather_points(reference: SurfaceIndex, regions: tuple[UnitRegion, ...]) -> tuple[BodyPoints, NDArray[np.int64]]:
    """Vertices of each region, and which unit owns each face of the reference (-1: none)."""
    owner = np.full(reference.surface.n_faces, -1, dtype=np.int64)
    vertex_ids, bodies = [], []
    for number, region in enumerate(regions):
        owner[region.face_ids] = number
        vertices = np.unique(reference.surface.faces[region.face_ids])
        vertex_ids.append(vertices)
        bodies.append(np.full(len(vertices), number, dtype=np.int64))
    chosen = np.concatenate(vertex_ids)
    points = reference.surface.vertices_mm[chosen]
    return BodyPoints(points, reference.vertex_normals[chosen], np.concatenate(bodies)), owner


def _gather_returning(pose: GlobalPose, regions: tuple[UnitRegion, ...], owner: NDArray[np.int64]) -> BodyPoints:
    """Poured vertices whose foot on the reference lies in a region."""
    vertices = pose.poured.surface.vertices_mm
    corners = pose.reference.surface.vertices_mm
    boxes = [find_bounds(corners[pose.reference.surface.faces[r.face_ids]].reshape(-1, 3)) for r in regions]
    ids = np.flatnonzero(is_in_boxes(vertices, np.array(boxes), _CUTS_MM[0]))
    faces = find_closest_faces(pose.reference, vertices[ids], limit_mm=_CUTS_MM[0])
    body = np.where(faces >= 0, owner[faces], -1)
    ids, body = ids[body >= 0], body[body >= 0]
    return BodyPoints(np.ascontiguousarray(vertices[ids]), np.ascontiguousarray(pose.poured.vertex_normals[ids]), body)


def _count(body: NDArray[np.int64], mask: NDArray[np.bool_] | None, n: int) -> NDArray[np.int64]:
    return np.bincount(body if mask is None else body[mask], minlength=n)


def _measure_scales(fit: BodyFit, points: BodyPoints, returning: BodyPoints, n: int) -> FloatArray:
    """Each unit's robust residual scale at its own pose, so that moved units do not inflate it; 0 when unknown."""
    scales = np.zeros(n)
    for number in range(n):
        mine = [fit.forward.residual_mm[(points.body == number) & fit.forward.is_matched]]
        if fit.backward is not None:
            mine.append(fit.backward.residual_mm[(returning.body == number) & fit.backward.is_matched])
        together = np.concatenate(mine)
        if len(together) >= _LEAST_POINTS:
            scales[number] = estimate_scale_mm(together)
    return scales


def _rms_um(fit: BodyFit, points: BodyPoints, returning: BodyPoints, n: int) -> FloatArray:
    total, weight = np.zeros(n), np.zeros(n)
    sets = [(fit.forward, fit.forward_weights, points)]
    if fit.backward is not None:
        sets.append((fit.backward, fit.backward_weights, returning))
    for equations, weights, body in sets:
        kept = weights > 0
        total += np.bincount(body.body[kept], weights=equations.residual_mm[kept] ** 2, minlength=n)
        weight += np.bincount(body.body[kept], minlength=n)
    return np.asarray(1e3 * np.sqrt(total / np.maximum(weight, 1)))
