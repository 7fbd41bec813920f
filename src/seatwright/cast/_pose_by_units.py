"""Pose of the poured scan by the units that agree: each fitted on a few hundred points, the frame from who moved alike.

The short way to the pose. It answers only where nothing is left open; the search of `_pose` takes the rest.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from seatwright.arch import UnitRegion
from seatwright.cast._consensus import SCALE_PRIOR, find_stable_set
from seatwright.cast._lattice import Pose, fit_lattice, frame_transform
from seatwright.cast._result import MIXED_SHARE
from seatwright.mesh import (
    BodyFit,
    BodyPoints,
    Poses,
    Schedule,
    Surface,
    SurfaceIndex,
    draw_face_points,
    estimate_scale_mm,
    find_bounds,
    fit_bodies,
    index_surface,
    is_in_boxes,
    keep_faces,
    match_points,
    pose_of,
    rest_poses,
    transform_of,
)
from seatwright.quantities import FloatArray, Transform, invert_transform, make_transform

__all__ = ["AgreedPose", "agree_on_pose", "is_determined"]

_N_POINTS = 12_000  # judgement: near the units; with 40,000 the pose errs 0.1 to 0.2 um less and takes twice as long
_N_LOOKED_AT = 10_000  # judgement: of the whole scan; the part of it near the units is enough for one motion of all
_FIRST_CUTS_MM = (1.5, 0.8, 0.4, 0.2, 0.1)  # judgement: from a coarse pose within about 1 mm
_UNIT_REACH_MM = 0.6  # judgement: beyond the farthest movement looked for
_WIDE_CUTS_MM = (0.5, 0.25)
_FINE_CUTS_MM = (0.12, 0.06)  # judgement: the last about four times a good scanner's noise in two scans
_LEAST_COVERAGE = 0.5  # judgement: as for the units' own fits: with less of the region another unit may answer
_LEAST_POINTS = 60  # judgement: ten equations for each of six unknowns
_FEWEST = 3  # definition: three units are the fewest of which two can outvote one
_EVERY = 3  # judgement: the wide cuts need a part of the points only
# judgement: scan error that neighbors share lets still units differ by some 3 um and 0.06 degrees
_FLOOR = np.diag([0.003**2] * 3 + [0.001**2] * 3)


@dataclass(frozen=True, slots=True, eq=False)
class AgreedPose:
    """Pose of the poured scan in the frame of the units that agree, and how each unit moved in it."""

    T_reference_poured: Transform
    motions: Poses | None
    """k bodies: from a unit's place on the reference to its place on the poured scan; None unless all are whole."""


@dataclass(frozen=True, slots=True, eq=False)
class _Units:
    """The k units' own surface made ready, and which unit owns each of its faces."""

    index: SurfaceIndex
    owner: NDArray[np.int64]
    boxes_mm: FloatArray
    """(k, 2, 3): lowest and highest corner of each."""
    centers_mm: FloatArray
    areas_mm2: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Together:
    """Pose that all units share, and how many faces of the poured scan lie near them."""

    T_reference_poured: Transform
    n_faces_near: int


@dataclass(frozen=True, slots=True, eq=False)
class _Fitted:
    """Units that were found on the poured scan."""

    numbers: tuple[int, ...]
    poses: tuple[Pose, ...]
    """How each must move to lie on the reference."""
    are_whole: bool
    """Whether every unit was found, and each as one body."""


def agree_on_pose(
    scans: tuple[Surface, Surface], regions: Sequence[UnitRegion], start: Transform, *, most_scale_mm: float
) -> AgreedPose | None:
    """Refine a coarse pose to that of the units which agree; None where they do not settle it.

    Parameters
    ----------
    scans : (Surface, Surface)
        Reference and poured scan, mm, each in its own frame.
    regions : sequence of UnitRegion
        Faces of the reference, k units.
    start : Transform
        Coarse pose of the poured scan on the reference, within about 1 mm.
    most_scale_mm : float
        Robust scale of a unit's residuals beyond which it has another shape.

    Notes
    -----
    Only the units' faces are made ready for closest-point questions. Settled is a pose when most of the units that were
    found, and three at least, agree within their noise, and no other set of nearly as many does.
    """
    reference, poured = scans
    units = _index_units(reference, regions)
    together = _fit_together(units.index, poured, start)
    if together is None:
        return None
    fitted = _fit_each(units, poured, together, most_scale_mm)
    if len(fitted.numbers) < _FEWEST:
        return None
    stable = find_stable_set(fitted.poses, SCALE_PRIOR)
    if len(stable.members) < _FEWEST or not stable.is_unique():
        return None
    stays = [fitted.poses[k] for k in stable.members]
    middle = np.asarray(np.mean([p.center_mm for p in stays], axis=0))
    frame = frame_transform(fit_lattice(stays, middle, SCALE_PRIOR))
    return AgreedPose(
        frame @ together.T_reference_poured,
        _tell_motions(fitted, frame, units) if fitted.are_whole else None,
    )


def is_determined(hessians: FloatArray) -> NDArray[np.bool_]:
    """Whether each pose of (k, 6, 6) normal matrices has six determined directions, turns measured over 3 mm."""
    lever = np.array([1, 1, 1, 1 / 3, 1 / 3, 1 / 3])
    values = np.linalg.eigvalsh(hessians * lever[:, None] * lever)
    # judgement: a direction a hundred thousand times softer than the stiffest is not seen
    return np.asarray(values[:, 0] > 1e-5 * np.maximum(values[:, -1], 1e-300))


def _index_units(reference: Surface, regions: Sequence[UnitRegion]) -> _Units:
    owner = np.full(reference.n_faces, -1, dtype=np.int64)
    for number, region in enumerate(regions):
        owner[region.face_ids] = number
    centers = np.array([r.centroid_mm for r in regions])
    areas = np.array([r.area_mm2 for r in regions])
    boxes = np.array([find_bounds(reference.vertices_mm[reference.faces[r.face_ids]].reshape(-1, 3)) for r in regions])
    return _Units(index_surface(keep_faces(reference, owner >= 0)), owner[owner >= 0], boxes, centers, areas)


def _fit_together(index: SurfaceIndex, poured: Surface, start: Transform) -> _Together | None:
    """One motion for all units, on few points; None where too few of them lie near the units."""
    one_in = max(1, poured.n_faces // _N_LOOKED_AT)
    points, areas = draw_face_points(poured, one_in)
    everywhere = _as_bodies(points, areas / _sizes(areas)[:, None], np.zeros(len(points), dtype=np.int64))
    pose = pose_of(start, points.mean(axis=0))
    near = match_points(index, everywhere, pose, limit_mm=_FIRST_CUTS_MM[0]).is_matched
    if near.sum() < _FEWEST * _LEAST_POINTS:
        return None
    few = _choose(everywhere, near)
    schedule = Schedule(_FIRST_CUTS_MM, most_steps=3, most_last_steps=4, rest_mm=5e-4)
    fit = fit_bodies((None, few), (index, None), pose, schedule)
    return _Together(transform_of(fit.poses), int(near.sum()) * one_in)


def _fit_each(units: _Units, poured: Surface, together: _Together, most_scale_mm: float) -> _Fitted:
    """Fit each unit's points onto its faces, from the common motion."""
    one_in = max(1, together.n_faces_near // _N_POINTS)
    drawn, areas = draw_face_points(poured, one_in)
    T = together.T_reference_poured
    at = drawn @ T[:3, :3].T + T[:3, 3]
    beside = is_in_boxes(at, units.boxes_mm, _UNIT_REACH_MM)
    at, sizes = at[beside], _sizes(areas[beside])
    look = (areas[beside] / sizes[:, None]) @ T[:3, :3].T
    everyone = _as_bodies(at, look, np.zeros(len(at), dtype=np.int64))
    met = match_points(units.index, everyone, rest_poses(np.zeros((1, 3))), limit_mm=_UNIT_REACH_MM)
    near = met.is_matched
    points = _as_bodies(at[near], look[near], units.owner[met.face_ids[near]])
    poses = rest_poses(units.centers_mm)
    few = _choose(points, slice(None, None, _EVERY))
    wide = Schedule(_WIDE_CUTS_MM, most_steps=4, most_last_steps=4, rest_mm=5e-3)
    poses = fit_bodies((None, few), (units.index, None), poses, wide).poses
    fine = Schedule(_FINE_CUTS_MM, most_last_steps=6, rest_mm=1e-4)
    fit = fit_bodies((None, points), (units.index, None), poses, fine)
    return _keep_found(units, fit, points.body, sizes[near] * one_in, most_scale_mm)


def _keep_found(
    units: _Units, fit: BodyFit, body: NDArray[np.int64], areas_mm2: FloatArray, most_scale_mm: float
) -> _Fitted:
    """Units of which enough was found, in the reference's shape."""
    kept, residual = fit.forward_weights > 0, fit.forward.residual_mm
    sigma = estimate_scale_mm(residual[kept])
    numbers, poses, are_whole = [], [], True
    for number in np.flatnonzero(is_determined(fit.hessians)):
        mine = kept & (body == number)
        is_covered = areas_mm2[mine].sum() >= _LEAST_COVERAGE * units.areas_mm2[number]
        if not is_covered or mine.sum() < _LEAST_POINTS or estimate_scale_mm(residual[mine]) > most_scale_mm:
            continue
        turn = Rotation.from_matrix(fit.poses.rotations[number]).as_rotvec()
        motion = np.concatenate([fit.poses.shifts[number], turn])
        covariance = sigma**2 * np.linalg.inv(fit.hessians[number]) + _FLOOR
        poses.append(Pose(units.centers_mm[number], motion, covariance, units.centers_mm[number]))
        numbers.append(int(number))
        are_whole &= bool(mine.sum() >= MIXED_SHARE * (body == number).sum())
    return _Fitted(tuple(numbers), tuple(poses), are_whole and len(numbers) == len(units.areas_mm2))


def _tell_motions(fitted: _Fitted, frame: Transform, units: _Units) -> Poses:
    """From a unit's place on the reference to its place on the poured scan, in the frame of those that agree."""
    motions = rest_poses(units.centers_mm)
    for number, pose in zip(fitted.numbers, fitted.poses, strict=True):
        there = make_transform(pose.motion[3:], np.zeros(3))
        there[:3, 3] = pose.center_mm + pose.motion[:3] - there[:3, :3] @ pose.center_mm
        told = pose_of(frame @ invert_transform(there), pose.center_mm)
        motions.rotations[number], motions.shifts[number] = told.rotations[0], told.shifts[0]
    return motions


def _as_bodies(points: FloatArray, normals: FloatArray, body: NDArray[np.int64]) -> BodyPoints:
    return BodyPoints(np.ascontiguousarray(points), np.ascontiguousarray(normals), np.ascontiguousarray(body))


def _choose(points: BodyPoints, which: NDArray[np.bool_] | slice) -> BodyPoints:
    return _as_bodies(points.points[which], points.normals[which], points.body[which])


def _sizes(areas: FloatArray) -> FloatArray:
    return np.asarray(np.maximum(np.linalg.norm(areas, axis=1), 1e-300))
