"""The cast check: reference scan against poured scan, from any pose, unit by unit."""

import math

import numpy as np
from scipy.spatial.transform import Rotation

from seatwright.arch import UnitRegion
from seatwright.cast._consensus import (
    FrameFit,
    StableSet,
    UnitPose,
    find_stable_set,
    fit_frame,
    relative_covariance,
)
from seatwright.cast._noise import UnitCells, covariance_of_unit, fit_noise, gather_cells
from seatwright.cast._notes import list_findings
from seatwright.cast._pose import explain_misfit, find_global_pose
from seatwright.cast._result import MIXED_SHARE, CastResult, UnitMovement
from seatwright.cast._units import UnitFits, fit_units, shows_same_units
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.findings import Verdict, judge_shift_length
from seatwright.mesh import Surface
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray, Measured, Transform, invert_transform, make_transform

__all__ = ["check_cast"]

# definition: two units have one relative motion and no majority; three are the fewest that can outvote one
_FEWEST_UNITS = 3
_WEAK_TURN_RAD = math.radians(0.25)  # judgement: a turn known no better than this decides nothing at a 5 mm lever
_WEAK_RATIO = 3.0  # judgement: weak about one axis, not just a noisy scan


def check_cast(
    reference: Surface,
    poured: Surface,
    regions: tuple[UnitRegion, ...],
    *,
    tolerance_um: float,
    repeatability_um: float,
    progress: Progress = SILENT,
) -> CastResult:
    """Find how far each unit moved between the reference and the poured cast.

    Parameters
    ----------
    reference, poured : Surface
        mm; open shells or closed models, any pose, not necessarily the whole arch.
    regions : tuple of UnitRegion
        At least three units on the reference.
    tolerance_um : float
        Largest allowed length of a unit's shift, > 0.
    repeatability_um : float
        Declared standard deviation, per axis, of a unit's place between repeat comparisons of unmoved casts: of both
        scans together (root sum of squares of the two). >= 0.
    progress : Progress

    Returns
    -------
    CastResult

    Raises
    ------
    ValueOutOfRange
        If tolerance or repeatability is out of range.
    CannotCompute
        If there are fewer than three units, the scans do not show one arch, two poses fit nearly equally well, or
        fewer than three units were found on the poured scan.

    Notes
    -----
    Only movements relative to the other units can be seen. The frame is held by the largest set of units that agree
    within their uncertainty, a uniform scale left free; a stable unit is judged against the others without itself.
    The raw rigid frame is reported, so that a uniform scale shows up as shifts, as a rigid framework feels it.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 and F.1.2.3 (propagation with correlations).
    """
    if not (tolerance_um > 0 and math.isfinite(tolerance_um)) or not (0 <= repeatability_um < math.inf):
        raise ValueOutOfRange(
            f"need a tolerance above 0 and a repeatability of at least 0 µm, got {tolerance_um} and {repeatability_um}"
        )
    _require_units(len(regions), "are named")
    progress.report(0.0, "finding the pose of the poured scan")
    pose = find_global_pose(reference, poured, regions)
    progress.report(0.45, "fitting each unit")
    fits = fit_units(pose, regions, progress=progress.part(0.45, 0.85))
    if not shows_same_units(fits):
        raise explain_misfit(pose.reference, poured, pose)
    measured = tuple(int(k) for k in np.flatnonzero(fits.is_measured))
    _require_units(len(measured), "were found on the poured scan")
    progress.report(0.85, "estimating the scan error")
    cells = tuple(gather_cells(fits, k, regions[k].area_mm2) for k in measured)
    whole = tuple(c for k, c in zip(measured, cells, strict=True) if fits.inlier_share[k] >= MIXED_SHARE)
    # a region that holds two bodies says nothing of the scanner
    noise = fit_noise(whole if len(whole) >= _FEWEST_UNITS else cells)
    poses = tuple(
        _unit_pose(fits, k, covariance_of_unit(c, noise, repeatability_um * 1e-3))
        for k, c in zip(measured, cells, strict=True)
    )
    progress.report(0.95, "finding the units that agree")
    stable = find_stable_set(poses)
    frame = _as_transform(stable.frame)
    T = invert_transform(frame) @ pose.T_reference_poured
    places = dict(zip(measured, range(len(measured)), strict=True))
    units = tuple(
        _report_unit(regions[k], fits, k, (poses, stable, places.get(k), tolerance_um)) for k in range(len(regions))
    )
    result = CastResult(
        T_reference_poured=T,
        converged=bool((fits.fit.step_mm[list(measured)] < 1e-3).all()),
        stable_units=tuple(regions[measured[m]].tooth for m in stable.members),
        stable_rms_um=_stable_rms_um(cells, poses, stable),
        scale_percent=_scale(stable),
        units=units,
        overlap=pose.overlap,
        noise_um=noise.independent_mm * 1e3,
        correlated_um=noise.correlated_mm * 1e3,
        correlation_length_mm=noise.length_mm,
        repeatability_um=repeatability_um,
        tolerance_um=tolerance_um,
        findings=(),
    )
    progress.report(1.0, "done")
    return list_findings(result, tuple(regions[measured[m]].tooth for m in stable.rival))


def _require_units(n: int, what: str) -> None:
    if n < _FEWEST_UNITS:
        raise CannotCompute(
            f"only {n} units {what}; which of them moved is open with fewer than {_FEWEST_UNITS}",
            hint="name more units on the reference, other teeth of the cast included",
            details={"n_units": n, "n_needed": _FEWEST_UNITS},
        )


def _unit_pose(fits: UnitFits, number: int, covariance: FloatArray) -> UnitPose:
    poses = fits.fit.poses
    turn = Rotation.from_matrix(poses.rotations[number]).as_rotvec()
    return UnitPose(poses.centers[number], np.concatenate([poses.shifts[number], turn]), covariance)


def _as_transform(frame: FrameFit) -> Transform:
    """Return the frame's motion (reference onto the globally placed poured scan) as a 4x4 transform."""
    transform = make_transform(frame.motion[3:], np.zeros(3))
    transform[:3, 3] = frame.middle_mm + frame.motion[:3] - transform[:3, :3] @ frame.middle_mm
    return transform


def _report_unit(
    region: UnitRegion, fits: UnitFits, number: int, context: tuple[tuple[UnitPose, ...], StableSet, int | None, float]
) -> UnitMovement:
    poses, stable, place, tolerance_um = context
    rms, n_points, coverage = float(fits.rms_um[number]), int(fits.n_points[number]), float(fits.coverage[number])
    share = float(fits.inlier_share[number])
    if place is None:
        return UnitMovement(
            region.tooth, False, None, None, None, None, None, region.centroid_mm, False, False,
            Verdict.CANNOT_TELL, None, None, rms, n_points, coverage, share,
        )  # fmt: skip
    others = [poses[m] for m in stable.members if m != place]
    frame = fit_frame(others, stable.frame.middle_mm, with_scale=False) if others else stable.frame
    inverse = invert_transform(_as_transform(frame))
    rotation = inverse[:3, :3] @ fits.fit.poses.rotations[number]
    moved_center = region.centroid_mm + fits.fit.poses.shifts[number]
    shift = inverse[:3, :3] @ moved_center + inverse[:3, 3] - region.centroid_mm
    turn = Rotation.from_matrix(rotation).as_rotvec()
    covariance = relative_covariance(poses[place], frame)
    u = np.sqrt(np.diag(covariance))
    u_worst = float(np.sqrt(np.linalg.eigvalsh(covariance[:3, :3])[-1]))
    return UnitMovement(
        tooth=region.tooth,
        is_measured=True,
        shift_mm=shift,
        turn_deg=np.degrees(turn),
        u_shift_mm=u[:3],
        u_turn_deg=np.degrees(u[3:]),
        covariance=covariance,
        about_mm=region.centroid_mm,
        is_stable=place in stable.members,
        is_moved=bool(stable.misfits[place] > stable.gate),
        verdict=judge_shift_length(float(np.linalg.norm(shift)), tolerance_um * 1e-3, u_worst),
        u_worst_mm=u_worst,
        weak_turn_axis=_weak_axis(covariance[3:, 3:]),
        residual_rms_um=rms,
        n_points=n_points,
        coverage=coverage,
        inlier_share=share,
    )


def _weak_axis(covariance: FloatArray) -> FloatArray | None:
    values, vectors = np.linalg.eigh(covariance)
    u = np.sqrt(np.clip(values, 0, None))
    return np.asarray(vectors[:, 2]) if u[2] > _WEAK_TURN_RAD and u[2] > _WEAK_RATIO * u[0] else None


def _scale(stable: StableSet) -> Measured | None:
    # definition: three centroids always fit some scale, so that nothing would be left to contradict it
    if len(stable.members) < 4:
        return None
    return Measured(100 * stable.scaled.scale, 100 * stable.scaled.u_scale, "%")


def _stable_rms_um(cells: tuple[UnitCells, ...], poses: tuple[UnitPose, ...], stable: StableSet) -> float:
    """Root mean square distance over the stable units' cells in the common frame."""
    total, weight = 0.0, 0.0
    for m in stable.members:
        arm = poses[m].center_mm - stable.frame.middle_mm
        at_unit = np.concatenate(
            [stable.frame.motion[:3] + np.cross(stable.frame.motion[3:], arm), stable.frame.motion[3:]]
        )
        back = at_unit - poses[m].motion
        residual = cells[m].residual_mm + (cells[m].rows / cells[m].weight[:, None]) @ back
        total += float((cells[m].weight * residual**2).sum())
        weight += float(cells[m].weight.sum())
    return 1e3 * math.sqrt(total / weight) if weight else 0.0
