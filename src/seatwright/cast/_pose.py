"""Global pose of the poured scan on the reference from any start, or a refusal in words; never a wrong pose quietly."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from seatwright.arch import UnitRegion
from seatwright.cast._pose_by_units import agree_on_pose
from seatwright.cast._pose_search import (
    LEAST_COARSE,
    REACH_MM,
    SURE_SHARE,
    GlobalPose,
    best_share,
    measure_overlap,
    merge_candidates,
    prepare_moving,
    rank_candidates,
    sample_vertices,
    settle_pose,
)
from seatwright.errors import CannotCompute
from seatwright.mesh import (
    CoarsePlan,
    CoarsePose,
    Surface,
    SurfaceIndex,
    index_surface,
    move_surface,
    search_poses,
)

__all__ = ["MOST_SCALE_MM", "GlobalPose", "explain_misfit", "find_global_pose", "search_global_pose"]

_LEAST_CLOSE = 0.35  # judgement: decision 0012 places it between right and wrong poses
MOST_SCALE_MM = 0.06  # judgement: a scan as rough as this judges no die; decision 0012 places it
_MOST_RIVAL = 0.85  # judgement: a second pose that explains this much of what the best explains leaves it open


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
        if best_share(found) < SURE_SHARE:
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
    coarse = search_poses(reference, poured, plan=CoarsePlan(), wide=False)
    agreed = _agree(reference, poured, regions, coarse)
    if agreed is not None:
        return agreed.reference, agreed
    decides = np.zeros(reference.n_faces, dtype=np.bool_)
    for region in regions:
        decides[region.face_ids] = True
    index, moving = index_surface(reference), prepare_moving(poured, decides)
    narrow = rank_candidates(index, moving, coarse)
    found = settle_pose(index, moving, narrow) if narrow else None
    if found is None or best_share(found) < SURE_SHARE:
        # one scan lacks much of the other: try starts all over the reference, and keep what explains more
        wide = search_poses(reference, poured, plan=CoarsePlan(), wide=True)
        candidates = merge_candidates(narrow, rank_candidates(index, moving, wide), moving.points.points)
        found = settle_pose(index, moving, candidates) if candidates else None
    return index, found


def _agree(
    reference: Surface, poured: Surface, regions: Sequence[UnitRegion], coarse: Sequence[CoarsePose]
) -> GlobalPose | None:
    """Take the short way: one coarse pose, units that settle it, and scans that lie on each other there; or None."""
    is_alone = len(coarse) == 1 or (len(coarse) > 1 and coarse[1].score < LEAST_COARSE * coarse[0].score)
    if not regions or not is_alone:
        return None
    start = coarse[0].T_fixed_moving
    agreed = agree_on_pose((reference, poured), regions, start, most_scale_mm=MOST_SCALE_MM)
    if agreed is None:
        return None
    moved = move_surface(poured, agreed.T_reference_poured)
    with ThreadPoolExecutor(2) as pool:
        chosen = pool.map(sample_vertices, (reference, moved))
        one, two = pool.map(index_surface, (reference, moved))
    overlap = measure_overlap((one, two), tuple(chosen), rival_share=0.0)
    found = GlobalPose(agreed.T_reference_poured, one, two, overlap, agreed.motions)
    return found if best_share(found) >= SURE_SHARE and overlap.close_share >= _LEAST_CLOSE else None


def explain_misfit(index: SurfaceIndex, poured: Surface, found: GlobalPose | None) -> CannotCompute:
    """Return the refusal, saying so when the mirror image of the poured scan would have fitted."""
    best = best_share(found) if found else 0.0
    mirrored_scan = Surface(poured.vertices_mm * np.array([-1.0, 1.0, 1.0]), poured.faces[:, ::-1])
    flipped = prepare_moving(mirrored_scan, np.zeros(index.surface.n_faces, dtype=np.bool_))
    candidates = rank_candidates(
        index, flipped, search_poses(index.surface, mirrored_scan, plan=CoarsePlan(), wide=False)
    )
    mirrored = best_share(settle_pose(index, flipped, candidates)) if candidates else 0.0
    # judgement: halves of an arch resemble each other, so a mirrored fit must be much the better and good in itself
    if mirrored > SURE_SHARE and mirrored > 1.2 * best:
        return CannotCompute(
            "the poured scan is a mirror image of the reference",
            hint="export the scan again without mirroring",
            details={
                "mirrored_share": round(mirrored, 3),
                "best_share": round(best, 3),
                "close_share": round(found.overlap.close_share, 3) if found else 0.0,
            },
        )
    what = f"at best {best:.0%} of it lies within {REACH_MM} mm"
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
