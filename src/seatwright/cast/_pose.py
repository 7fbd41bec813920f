"""Global pose of the poured scan on the reference from any start, or a refusal in words; never a wrong pose quietly."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.arch import UnitRegion
from seatwright.cast._result import Overlap
from seatwright.errors import CannotCompute
from seatwright.mesh import (
    BodyPoints,
    CoarsePlan,
    Schedule,
    Surface,
    SurfaceIndex,
    choose_voxel_points,
    find_closest,
    fit_bodies,
    index_surface,
    measure_area_mm2,
    measure_vertex_normals,
    move_surface,
    pose_of,
    search_poses,
    transform_of,
)
from seatwright.quantities import FloatArray, Transform

__all__ = ["MOST_SCALE_MM", "GlobalPose", "explain_misfit", "find_global_pose", "search_global_pose"]

_REACH_MM = 0.3  # judgement: wider than swelling and moved dies, narrower than another arch's chance contacts
_CLOSE_MM = 0.15  # judgement: one cast's scans lie closer nearly everywhere, another arch's only by chance
_LEAST_CLOSE = 0.35  # judgement: decision 0012 places it between right and wrong poses
MOST_SCALE_MM = 0.06  # judgement: a scan as rough as this judges no die; decision 0012 places it
_SURE_SHARE = 0.75  # judgement: what a scan of the same arch, with base or a half, reaches at the right pose
_MOST_RIVAL = 0.85  # judgement: a second pose that explains this much of what the best explains leaves it open
_N_POINTS = 4000  # judgement: points of the global fit; the units decide the frame afterwards
_LEAST_COARSE = 0.6  # judgement: a rival that agrees less than this, coarsely, does not become an equal by fitting
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


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    transform: Transform
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class _Moving:
    """The poured scan with the few points that stand for it."""

    surface: Surface
    points: BodyPoints
    decides: NDArray[np.bool_]
    """(n_faces,) of the reference: whether the last fit rests on this face; all where none is named."""


def find_global_pose(reference: Surface, poured: Surface, regions: Sequence[UnitRegion] = ()) -> GlobalPose:
    """Register the whole poured scan robustly on the reference.

    Parameters
    ----------
    reference, poured : Surface
        mm, any pose.
    regions : sequence of UnitRegion
        Faces of the reference that decide the last fit. Without them all do, and swollen gum, where there is more of
        it than of crowns, may pull the pose by a millimeter along its slopes.

    Raises
    ------
    CannotCompute
        If the scans share too little surface (another arch, too small a part, a mirrored scan), or if two poses
        explain them nearly equally well.
    """
    index, found = search_global_pose(reference, poured, regions)
    if found is None:
        raise explain_misfit(index, poured, None)
    if found.overlap.close_share < _LEAST_CLOSE:
        raise explain_misfit(index, poured, found)
    if found.overlap.rival_share > _MOST_RIVAL:
        if _best_share(found) < _SURE_SHARE:
            raise explain_misfit(index, poured, found)
        raise CannotCompute(
            "two poses of the poured scan fit the reference nearly equally well",
            hint="scan more of the cast (teeth on both sides), so that only one pose fits",
            details={"second_over_best": round(found.overlap.rival_share, 3)},
        )
    return found


def search_global_pose(
    reference: Surface, poured: Surface, regions: Sequence[UnitRegion] = ()
) -> tuple[SurfaceIndex, GlobalPose | None]:
    """Return the prepared reference and the best pose there is, right or not; see `find_global_pose`."""
    decides = np.zeros(reference.n_faces, dtype=np.bool_)
    for region in regions:
        decides[region.face_ids] = True
    index, moving = index_surface(reference), _prepare(poured, decides)
    narrow = _rank(index, moving, wide=False)
    found = _settle(index, moving, narrow) if narrow else None
    if found is None or _best_share(found) < _SURE_SHARE:
        # one scan lacks much of the other: try starts all over the reference, and keep what explains more
        candidates = _merge(narrow, _rank(index, moving, wide=True), moving.points.points)
        found = _settle(index, moving, candidates) if candidates else None
    return index, found


def explain_misfit(index: SurfaceIndex, poured: Surface, found: GlobalPose | None) -> CannotCompute:
    """Return the refusal, saying so when the mirror image of the poured scan would have fitted."""
    best = _best_share(found) if found else 0.0
    mirrored_scan = Surface(poured.vertices_mm * np.array([-1.0, 1.0, 1.0]), poured.faces[:, ::-1])
    flipped = _prepare(mirrored_scan, np.zeros(index.surface.n_faces, dtype=np.bool_))
    candidates = _rank(index, flipped, wide=False)
    mirrored = _best_share(_settle(index, flipped, candidates)) if candidates else 0.0
    # judgement: halves of an arch resemble each other, so a mirrored fit must be much the better and good in itself
    if mirrored > _SURE_SHARE and mirrored > 1.2 * best:
        return CannotCompute(
            "the poured scan is a mirror image of the reference",
            hint="export the scan again without mirroring",
            details={
                "mirrored_share": round(mirrored, 3),
                "best_share": round(best, 3),
                "close_share": round(found.overlap.close_share, 3) if found else 0.0,
            },
        )
    what = f"at best {best:.0%} of it lies within {_REACH_MM} mm"
    if found and found.overlap.close_share >= _LEAST_CLOSE:
        rough = f"{1e3 * MOST_SCALE_MM:.0f} µm"
        what = f"most units differ in shape by more than {rough}, or stand elsewhere, at the best pose"
    return CannotCompute(
        f"the poured scan does not fit the reference: {what}",
        hint="check that both scans show the same arch of the same patient, in the stated length unit, "
        "and that they share at least a third of their surface",
        details={
            "best_share": round(best, 3),
            "close_share": round(found.overlap.close_share, 3) if found else 0.0,
            "rival_share": round(found.overlap.rival_share, 3) if found else 0.0,
        },
    )


def _best_share(found: GlobalPose) -> float:
    return max(found.overlap.reference_share, found.overlap.poured_share)


def _prepare(surface: Surface, decides: NDArray[np.bool_]) -> _Moving:
    chosen = _sample(surface)
    return _Moving(
        surface,
        BodyPoints(
            np.ascontiguousarray(surface.vertices_mm[chosen]),
            np.ascontiguousarray(measure_vertex_normals(surface)[chosen]),
            np.zeros(len(chosen), dtype=np.int64),
        ),
        decides,
    )


def _settle(index: SurfaceIndex, moving: _Moving, candidates: list[_Candidate]) -> GlobalPose:
    """Finish the best candidate and measure how much of the scans lies on each other."""
    points = moving.points
    start = pose_of(candidates[0].transform, points.points.mean(axis=0))
    schedule = Schedule(_FINE_CUTS_MM, most_last_steps=10, rest_mm=1e-4)
    transform = transform_of(fit_bodies((None, points), (index, None), start, schedule).poses)
    transform = _settle_on_units(index, moving, transform)
    moved = index_surface(move_surface(moving.surface, transform))
    mine = _sample(index.surface)
    there = _share(moved, index.surface.vertices_mm[mine], index.vertex_normals[mine], np.eye(4))
    back = _share(index, points.points, points.normals, transform)
    overlap = Overlap(
        reference_share=there[0],
        poured_share=back[0],
        n_reference=len(mine),
        n_poured=len(points.points),
        reach_mm=_REACH_MM,
        rival_share=_rival_share(candidates),
        close_share=max(there[1], back[1]),
        close_mm=_CLOSE_MM,
    )
    return GlobalPose(transform, index, moved, overlap)


def _settle_on_units(index: SurfaceIndex, moving: _Moving, transform: Transform) -> Transform:
    """Fit again on the points that lie near the units alone, from wide cuts on."""
    if not moving.decides.any():
        return transform
    points = moving.points
    at = np.einsum("ij,kj->ki", transform[:3, :3], points.points) + transform[:3, 3]
    closest = find_closest(index, at, limit_mm=_UNIT_CUTS_MM[0])
    chosen = np.flatnonzero(closest.is_found & moving.decides[closest.face_ids])
    if len(chosen) < _LEAST_ON_UNITS:
        return transform
    few = BodyPoints(points.points[chosen], points.normals[chosen], points.body[chosen])
    start = pose_of(transform, few.points.mean(axis=0))
    schedule = Schedule(_UNIT_CUTS_MM, most_last_steps=10, rest_mm=1e-4)
    focused = transform_of(fit_bodies((None, few), (index, None), start, schedule).poses)
    # two or three moved units in sight hold no frame: then the rest of the cast knows better
    kept = _share(index, points.points, points.normals, focused)[0]
    return focused if kept >= _LEAST_KEPT * _share(index, points.points, points.normals, transform)[0] else transform


def _merge(one: list[_Candidate], two: list[_Candidate], points: FloatArray) -> list[_Candidate]:
    """Best first, one of each distinct pose."""
    distinct: list[_Candidate] = []
    for candidate in sorted([*one, *two], key=lambda c: -c.share):
        # judgement: poses that place the points within a millimeter of each other are one
        if all(_distance(candidate.transform, kept.transform, points) > 1.0 for kept in distinct):
            distinct.append(candidate)
    return distinct


def _sample(surface: Surface) -> NDArray[np.int64]:
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


def _rank(index: SurfaceIndex, moving: _Moving, *, wide: bool) -> list[_Candidate]:
    """Coarse poses, each fitted on a few points, best share first, one of each distinct pose."""
    points = moving.points
    center = points.points.mean(axis=0)
    found: list[_Candidate] = []
    poses = search_poses(index.surface, moving.surface, plan=CoarsePlan(), wide=wide)
    for coarse in poses:
        if coarse.score < _LEAST_COARSE * poses[0].score:
            break
        start = pose_of(coarse.T_fixed_moving, center)
        fit = fit_bodies((None, points), (index, None), start, Schedule(_TRIAL_CUTS_MM, most_last_steps=6))
        pose = transform_of(fit.poses)
        found.append(_Candidate(pose, _share(index, points.points, points.normals, pose)[0]))
    return _merge(found, [], points.points)


def _distance(one: Transform, other: Transform, points: FloatArray) -> float:
    """Root mean square distance between the points at two poses, mm."""
    difference = one - other
    moved = np.einsum("ij,kj->ki", difference[:3, :3], points) + difference[:3, 3]
    return float(np.sqrt((moved**2).sum(axis=1).mean()))


def _share(index: SurfaceIndex, points: FloatArray, normals: FloatArray, pose: Transform) -> tuple[float, float]:
    """Share of the points that find the surface within reach, and close by."""
    at = np.einsum("ij,kj->ki", pose[:3, :3], points) + pose[:3, 3]
    look = np.einsum("ij,kj->ki", pose[:3, :3], normals)
    closest = find_closest(index, at, limit_mm=_REACH_MM)
    # judgement: normals within 45 degrees show the same wall
    same = np.einsum("ij,ij->i", look, closest.normals) > 0.7
    on = closest.is_found & ~closest.is_rim & same
    return float(on.mean()), float((on & (closest.distance_mm < _CLOSE_MM)).mean())


def _rival_share(candidates: list[_Candidate]) -> float:
    if len(candidates) < 2 or candidates[0].share <= 0:
        return 0.0
    return candidates[1].share / candidates[0].share
