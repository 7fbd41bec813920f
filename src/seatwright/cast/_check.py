"""The cast check: reference scan against poured scan, from any pose, unit by unit."""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from seatwright.arch import UnitRegion, fit_patient_axes
from seatwright.case import PERMANENT_TEETH, arch_of
from seatwright.cast._budget import declared_covariance
from seatwright.cast._frame import Settled, settle_units
from seatwright.cast._lattice import Pose, prior_in_force
from seatwright.cast._length_error import add_length_error
from seatwright.cast._misfit import Freedom
from seatwright.cast._noise import BEND_MM, NoiseModel, covariance_of_unit, fit_noise
from seatwright.cast._notes import list_findings
from seatwright.cast._pairs import compare_pairs
from seatwright.cast._pose import GlobalPose, explain_misfit, find_global_pose
from seatwright.cast._question import CastQuestion
from seatwright.cast._report import Telling, report_bodies, report_rival, report_unit
from seatwright.cast._reseat import add_reseats
from seatwright.cast._result import MIXED_SHARE, CastResult
from seatwright.cast._scale import weigh_scale
from seatwright.cast._unit_cells import UnitCells, gather_cells, measure_sag_mm
from seatwright.cast._units import UnitFits, fit_units, shows_same_units
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.mesh import Surface
from seatwright.progress import SILENT, Progress
from seatwright.quantities import FloatArray, invert_transform

__all__ = ["Measurement", "check_cast", "judge_units", "measure_units"]

# definition: a motion is relative; one unit has nothing to move against
_FEWEST_UNITS = 2
_FEWEST_WHOLE = 3  # judgement: fewer undisturbed units tell less of the scanner than all of them


@dataclass(frozen=True, slots=True, eq=False)
class Measurement:
    """Poses of the units that were found, in the frame of the global pose, and what they rest on."""

    pose: GlobalPose
    fits: UnitFits
    places: tuple[int, ...]
    """Which regions they are."""
    poses: tuple[Pose, ...]
    cells: tuple[UnitCells, ...]
    noise: NoiseModel
    freedom: Freedom
    """Of the covariances: of all units together, since one model serves all."""
    declared: tuple[FloatArray, ...] = ()
    """The part of each unit's covariance that repeatability makes, declared or found; empty where none is told."""
    declared_source: str = "declared"


def check_cast(
    reference: Surface,
    poured: Surface,
    regions: tuple[UnitRegion, ...],
    *,
    tolerance_um: float,
    repeatability_um: float,
    question: CastQuestion | None = None,
    progress: Progress = SILENT,
) -> CastResult:
    """Find how far each unit moved between the reference and the poured cast.

    Parameters
    ----------
    reference, poured : Surface
        mm; open shells or closed models, any pose, not necessarily the whole arch.
    regions : tuple of UnitRegion
        At least two units on the reference; with two only their motion against each other can be told.
    tolerance_um : float
        Largest allowed length of a unit's shift, > 0.
    repeatability_um : float
        Declared standard deviation, per axis, of a unit's place between repeat comparisons of unmoved casts: of both
        scans together (root sum of squares of the two). >= 0.
    question : CastQuestion, optional
        Rigid bodies, who is stable by the user's word, what scale to expect.
    progress : Progress

    Returns
    -------
    CastResult

    Raises
    ------
    ValueOutOfRange
        If tolerance or repeatability is out of range.
    CannotCompute
        If there are fewer than two units, the scans do not show one arch, two poses fit nearly equally well, fewer
        than two units were found on the poured scan, or none of the units said to be stable was.

    Notes
    -----
    Only movements relative to the other units can be seen. The frame is held by the largest set of rigid bodies that
    agree within their uncertainty, a uniform scale left free; a unit is judged against the others without its own body.
    The raw motion is told in the rigid frame of the stable bodies about the middle of their places, so that a uniform
    scale shows up as shifts, as a rigid framework feels it; the own motion has the scale taken out.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 and F.1.2.3 (propagation with correlations).
    """
    if not (tolerance_um > 0 and math.isfinite(tolerance_um)) or not (0 <= repeatability_um < math.inf):
        raise ValueOutOfRange(
            f"need a tolerance above 0 and a repeatability of at least 0 µm, got {tolerance_um} and {repeatability_um}"
        )
    question = question or CastQuestion()
    _require_units(len(regions), "are named")
    progress.report(0.0, "finding the pose of the poured scan")
    pose = find_global_pose(reference, poured, regions)
    measured = measure_units(pose, regions, repeatability_um=repeatability_um, progress=progress.part(0.45, 0.95))
    if measured is None:
        raise explain_misfit(pose.reference, poured, pose)
    progress.report(0.95, "finding the units that agree")
    result = judge_units(measured, regions, question, tolerance_um=tolerance_um, repeatability_um=repeatability_um)
    progress.report(1.0, "done")
    return result


def judge_units(
    measured: Measurement,
    regions: tuple[UnitRegion, ...],
    question: CastQuestion,
    *,
    tolerance_um: float,
    repeatability_um: float,
) -> CastResult:
    """Settle the frame among the measured units and tell each unit's motion in it."""
    teeth = tuple(regions[k].tooth for k in measured.places)
    groups, told = _groups(question, teeth), _told(question, teeth)
    poses = add_reseats(measured.poses, teeth, question.bodies, question.reseats_um)
    poses = add_length_error(poses, question.length_error_um_per_mm * 1e-3)
    settled = settle_units(poses, groups, told, question.scale_prior, measured.freedom)
    telling = replace(
        _telling(regions, settled, question, tolerance_um),
        declared=measured.declared,
        declared_source=measured.declared_source,
    )
    result = replace(
        _gather_result(measured, regions, telling, repeatability_um),
        length_error_um_per_mm=question.length_error_um_per_mm,
    )
    n_stable = len(settled.stable.members)
    if n_stable > 1:
        taken_in = prior_in_force(n_stable, question.scale_prior)
        report = weigh_scale(settled.lattice.scale, taken_in, question.expected_scale, settled.uniform_chance)
        result = replace(result, scale_report=report)
    return list_findings(result, tuple(tuple(teeth[k] for k in b.units) for b in settled.broken), question)


def measure_units(
    pose: GlobalPose, regions: tuple[UnitRegion, ...], *, repeatability_um: float, progress: Progress = SILENT
) -> Measurement | None:
    """Measure the pose of every unit with its covariance; None when the scans do not show the same units."""
    progress.report(0.0, "fitting each unit")
    fits = fit_units(pose, regions, progress=progress.part(0.0, 0.8))
    if not shows_same_units(fits):
        return None
    places = tuple(int(k) for k in np.flatnonzero(fits.is_measured))
    _require_units(len(places), "were found on the poured scan")
    progress.report(0.8, "estimating the scan error")
    cells = tuple(gather_cells(fits, k, regions[k].area_mm2, _sag_mm(pose, fits, regions[k], k)) for k in places)
    whole = tuple(c for k, c in zip(places, cells, strict=True) if fits.inlier_share[k] >= MIXED_SHARE)
    # a region that holds two bodies says nothing of the scanner
    noise = fit_noise(whole if len(whole) >= _FEWEST_WHOLE else cells)
    found = [covariance_of_unit(c, noise, repeatability_um * 1e-3) for c in cells]
    poses = tuple(_unit_pose(fits, k, covariance) for k, (covariance, _) in zip(places, found, strict=True))
    declared = tuple(declared_covariance(repeatability_um * 1e-3, max(c.spread_mm, BEND_MM), math.inf) for c in cells)
    freedom = Freedom(
        float(np.mean([f.common for _, f in found])),
        float(np.mean([f.least for _, f in found])),
    )
    return Measurement(pose, fits, places, poses, cells, noise, freedom, declared)


def _sag_mm(pose: GlobalPose, fits: UnitFits, region: UnitRegion, number: int) -> float:
    """Sag of a unit's facets on both scans, as a root of the sum of squares."""
    met = fits.fit.forward.face_ids[(fits.points.body == number) & (fits.fit.forward_weights > 0)]
    return math.hypot(measure_sag_mm(pose.reference, region.face_ids), measure_sag_mm(pose.poured, met))


def _gather_result(
    measured: Measurement, regions: tuple[UnitRegion, ...], telling: Telling, repeatability_um: float
) -> CastResult:
    settled = telling.settled
    fits, noise = measured.fits, measured.noise
    teeth = tuple(regions[k].tooth for k in measured.places)
    number_of = {k: m for m, k in enumerate(measured.places)}
    return CastResult(
        T_reference_poured=invert_transform(settled.T_global_frame) @ measured.pose.T_reference_poured,
        converged=bool((fits.fit.step_mm[list(measured.places)] < 1e-3).all()),
        stable_units=tuple(teeth[m] for m in settled.stable_units()),
        stable_rms_um=_stable_rms_um(measured, settled),
        scale=settled.lattice.scale if len(settled.stable.members) > 1 else None,
        units=tuple(report_unit(region, fits, k, number_of.get(k), telling) for k, region in enumerate(regions)),
        overlap=measured.pose.overlap,
        noise_um=noise.independent_mm * 1e3,
        correlated_um=noise.correlated_mm * 1e3,
        correlation_length_mm=noise.length_mm,
        repeatability_um=repeatability_um,
        tolerance_um=telling.tolerance_um,
        findings=(),
        uniform_chance=settled.uniform_chance,
        frame_center_mm=settled.lattice.middle_mm,
        bodies=report_bodies(settled, teeth),
        pairs=compare_pairs(
            teeth,
            settled.poses,
            telling.marks,
            [b.units for b in settled.bodies],
            telling.tolerance_um,
            dof=measured.freedom.common,
        ),
        is_unique=settled.stable.is_unique(),
        rival=report_rival(settled, teeth),
        dof=measured.freedom.common,
        least_dof=measured.freedom.least,
    )


def _telling(regions: tuple[UnitRegion, ...], settled: Settled, question: CastQuestion, tolerance_um: float) -> Telling:
    places = {int(r.tooth): r.centroid_mm for r in regions if r.tooth.isdigit()}
    arches = {arch_of(tooth) for tooth in places if tooth in PERMANENT_TEETH}
    axes = fit_patient_axes(places, arches.pop()) if len(arches) == 1 else None
    marks = {r.tooth: tuple(m for m in question.marks if m.tooth == r.tooth) for r in regions}
    return Telling(settled, tolerance_um, marks, axes)


def _groups(question: CastQuestion, teeth: tuple[str, ...]) -> list[list[int]]:
    groups = [[teeth.index(t) for t in body if t in teeth] for body in question.bodies]
    return [group for group in groups if len(group) > 1]


def _told(question: CastQuestion, teeth: tuple[str, ...]) -> tuple[int, ...]:
    told = tuple(teeth.index(t) for t in question.stable if t in teeth)
    if question.stable and not told:
        raise CannotCompute(
            f"none of the units said to be stable ({', '.join(question.stable)}) was found on the poured scan",
            hint=f"name some of {', '.join(teeth)}",
        )
    return told


def _require_units(n: int, what: str) -> None:
    if n < _FEWEST_UNITS:
        raise CannotCompute(
            f"only {n} unit{'s' if n != 1 else ''} {what}; a motion is told against another unit",
            hint="name more units on the reference, other teeth of the cast included",
            details={"n_units": n, "n_needed": _FEWEST_UNITS},
        )


def _unit_pose(fits: UnitFits, number: int, covariance: FloatArray) -> Pose:
    poses = fits.fit.poses
    turn = Rotation.from_matrix(poses.rotations[number]).as_rotvec()
    center = poses.centers[number]
    return Pose(center, np.concatenate([poses.shifts[number], turn]), covariance, center)


def _stable_rms_um(measured: Measurement, settled: Settled) -> float:
    """Root mean square distance over the stable units' cells in the common frame, scale left in."""
    total, weight = 0.0, 0.0
    for m in settled.stable_units():
        cells = measured.cells[m]
        residual = cells.residual_mm - (cells.places.rows / cells.weight[:, None]) @ settled.units[m].raw
        total += float((cells.weight * residual**2).sum())
        weight += float(cells.weight.sum())
    return 1e3 * math.sqrt(total / weight) if weight else 0.0
