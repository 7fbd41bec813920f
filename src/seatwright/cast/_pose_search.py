"""Searching the global pose: coarse poses fitted on a few thousand points, the best finished, and what it explains."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.cast._result import Overlap
from seatwright.mesh import (
    BodyPoints,
    CoarsePose,
    Poses,
    Schedule,
    Surface,
    SurfaceIndex,
    choose_voxel_points,
    find_closest,
    find_closest_faces,
    fit_bodies,
    index_surface,
    measure_area_mm2,
    measure_vertex_normals,
    move_surface,
    pose_of,
    transform_of,
)
from seatwright.quantities import FloatArray, Transform

__all__ = [
    "LEAST_COARSE",
    "REACH_MM",
    "SURE_SHARE",
    "Candidate",
    "GlobalPose",
    "Moving",
    "best_share",
    "measure_overlap",
    "merge_candidates",
    "prepare_moving",
    "rank_candidates",
    "sample_vertices",
    "settle_pose",
]

REACH_MM = 0.3  # judgement: wider than swelling and moved dies, narrower than another arch's chance contacts
_CLOSE_MM = 0.15  # judgement: one cast's scans lie closer nearly everywhere, another arch's only by chance
SURE_SHARE = 0.75  # judgement: what a scan of the same arch, with base or a half, reaches at the right pose
_N_POINTS = 4000  # judgement: points of the global fit; the units decide the frame afterwards
LEAST_COARSE = 0.6  # judgement: a rival that agrees less than this, coarsely, does not become an equal by fitting
_TRIAL_CUTS_MM = (2.0, 1.0, 0.5)  # judgement: from a coarse pose within about 1 mm
_UNIT_CUTS_MM = (1.5, 0.8, 0.4, 0.2, 0.1, 0.06)  # judgement: swollen gum may have pulled the pose by a millimeter
_LEAST_ON_UNITS = 100  # judgement: with fewer points the whole scan knows better
_LEAST_KEPT = 0.8  # judgement: crowns may cost some of the gum's agreement, not most of the cast's
_FINE_CUTS_MM = (0.4, 0.2, 0.1, 0.06)  # judgement: last cut about three to four times a good scanner's noise


@dataclass(frozen=True, slots=True, eq=False)
class GlobalPose:
    """Pose of the poured scan with the prepared surfaces, both in the reference's frame."""

    T_reference_poured: Transform
    reference: SurfaceIndex
    poured: SurfaceIndex
    overlap: Overlap
    motions: Poses | None = None
    """How each unit moved from the reference to the poured scan, where the units themselves gave the pose."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    transform: Transform
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class Moving:
    """The poured scan with the few points that stand for it."""

    surface: Surface
    chosen: NDArray[np.int64]
    points: BodyPoints
    decides: NDArray[np.bool_]
    """(n_faces,) of the reference: whether the last fit rests on this face; all where none is named."""


def best_share(found: GlobalPose) -> float:
    return max(found.overlap.reference_share, found.overlap.poured_share)


def prepare_moving(surface: Surface, decides: NDArray[np.bool_]) -> Moving:
    chosen = sample_vertices(surface)
    return Moving(
        surface,
        chosen,
        BodyPoints(
            np.ascontiguousarray(surface.vertices_mm[chosen]),
            np.ascontiguousarray(measure_vertex_normals(surface)[chosen]),
            np.zeros(len(chosen), dtype=np.int64),
        ),
        decides,
    )


def settle_pose(index: SurfaceIndex, moving: Moving, candidates: list[Candidate]) -> GlobalPose:
    """Finish the best candidate and measure how much of the scans lies on each other."""
    points = moving.points
    start = pose_of(candidates[0].transform, points.points.mean(axis=0))
    schedule = Schedule(_FINE_CUTS_MM, most_last_steps=10, rest_mm=1e-4)
    transform = transform_of(fit_bodies((None, points), (index, None), start, schedule).poses)
    transform = _settle_on_units(index, moving, transform)
    moved = index_surface(move_surface(moving.surface, transform))
    overlap = measure_overlap((index, moved), (sample_vertices(index.surface), moving.chosen), _rival_share(candidates))
    return GlobalPose(transform, index, moved, overlap)


def measure_overlap(
    indexes: tuple[SurfaceIndex, SurfaceIndex], chosen: tuple[NDArray[np.int64], ...], rival_share: float
) -> Overlap:
    """How much of each surface lies on the other; both in one frame, seen at some chosen vertices."""
    (one, two), (mine, theirs) = indexes, chosen
    there = _share(two, one.surface.vertices_mm[mine], one.vertex_normals[mine], np.eye(4))
    back = _share(one, two.surface.vertices_mm[theirs], two.vertex_normals[theirs], np.eye(4))
    return Overlap(
        reference_share=there[0],
        poured_share=back[0],
        n_reference=len(mine),
        n_poured=len(theirs),
        reach_mm=REACH_MM,
        rival_share=rival_share,
        close_share=max(there[1], back[1]),
        close_mm=_CLOSE_MM,
    )


def _settle_on_units(index: SurfaceIndex, moving: Moving, transform: Transform) -> Transform:
    """Fit again on the points that lie near the units alone, from wide cuts on."""
    if not moving.decides.any():
        return transform
    points = moving.points
    at = np.einsum("ij,kj->ki", transform[:3, :3], points.points) + transform[:3, 3]
    faces = find_closest_faces(index, at, limit_mm=_UNIT_CUTS_MM[0])
    chosen = np.flatnonzero((faces >= 0) & moving.decides[faces])
    if len(chosen) < _LEAST_ON_UNITS:
        return transform
    few = BodyPoints(points.points[chosen], points.normals[chosen], points.body[chosen])
    start = pose_of(transform, few.points.mean(axis=0))
    schedule = Schedule(_UNIT_CUTS_MM, most_last_steps=10, rest_mm=1e-4)
    focused = transform_of(fit_bodies((None, few), (index, None), start, schedule).poses)
    # two or three moved units in sight hold no frame: then the rest of the cast knows better
    kept = _share(index, points.points, points.normals, focused)[0]
    return focused if kept >= _LEAST_KEPT * _share(index, points.points, points.normals, transform)[0] else transform


def merge_candidates(one: list[Candidate], two: list[Candidate], points: FloatArray) -> list[Candidate]:
    """Best first, one of each distinct pose."""
    distinct: list[Candidate] = []
    for candidate in sorted([*one, *two], key=lambda c: -c.share):
        # judgement: poses that place the points within a millimeter of each other are one
        if all(_distance(candidate.transform, kept.transform, points) > 1.0 for kept in distinct):
            distinct.append(candidate)
    return distinct


def sample_vertices(surface: Surface) -> NDArray[np.int64]:
    """Choose some thousands of vertices, evenly in space, whatever their order."""
    points, n_wanted = surface.vertices_mm, _N_POINTS
    if len(points) <= n_wanted:
        return np.arange(len(points))
    # a surface crosses somewhat more cells than its area fills: start a little wide, then correct
    cell = 1.2 * float(np.sqrt(measure_area_mm2(surface) / n_wanted))
    chosen = choose_voxel_points(points, cell)
    while len(chosen) < 0.8 * n_wanted:
        cell *= max(0.5, min(0.9, (len(chosen) / n_wanted) ** 0.5))
        chosen = choose_voxel_points(points, cell)
    return chosen


def rank_candidates(index: SurfaceIndex, moving: Moving, poses: Sequence[CoarsePose]) -> list[Candidate]:
    """Coarse poses, each fitted on a few points, best share first, one of each distinct pose."""
    points = moving.points
    center = points.points.mean(axis=0)
    found: list[Candidate] = []
    for coarse in poses:
        if coarse.score < LEAST_COARSE * poses[0].score:
            break
        start = pose_of(coarse.T_fixed_moving, center)
        fit = fit_bodies((None, points), (index, None), start, Schedule(_TRIAL_CUTS_MM, most_last_steps=6))
        pose = transform_of(fit.poses)
        found.append(Candidate(pose, _share(index, points.points, points.normals, pose)[0]))
    return merge_candidates(found, [], points.points)


def _distance(one: Transform, other: Transform, points: FloatArray) -> float:
    """Root mean square distance between the points at two poses, mm."""
    difference = one - other
    moved = np.einsum("ij,kj->ki", difference[:3, :3], points) + difference[:3, 3]
    return float(np.sqrt((moved**2).sum(axis=1).mean()))


def _share(index: SurfaceIndex, points: FloatArray, normals: FloatArray, pose: Transform) -> tuple[float, float]:
    """Share of the points that find the surface within reach, and close by."""
    at = np.einsum("ij,kj->ki", pose[:3, :3], points) + pose[:3, 3]
    look = np.einsum("ij,kj->ki", pose[:3, :3], normals)
    closest = find_closest(index, at, limit_mm=REACH_MM)
    # judgement: normals within 45 degrees show the same wall
    same = np.einsum("ij,ij->i", look, closest.normals) > 0.7
    on = closest.is_found & ~closest.is_rim & same
    return float(on.mean()), float((on & (closest.distance_mm < _CLOSE_MM)).mean())


def _rival_share(candidates: list[Candidate]) -> float:
    if len(candidates) < 2 or candidates[0].share <= 0:
        return 0.0
    return candidates[1].share / candidates[0].share
