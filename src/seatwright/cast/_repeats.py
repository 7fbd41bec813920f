"""Several scans of one poured cast: one answer, with the repeatability that they show in place of the declared one."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from seatwright.arch import UnitRegion
from seatwright.cast._budget import declared_covariance
from seatwright.cast._check import Measurement, check_cast, judge_units, measure_units
from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._copies import find_copies
from seatwright.cast._lattice import Pose, fit_lattice, frame_transform, seen_from
from seatwright.cast._misfit import Freedom, join_freedom
from seatwright.cast._noise import BEND_MM
from seatwright.cast._pose import explain_misfit, find_global_pose
from seatwright.cast._question import CastQuestion
from seatwright.cast._repeat_scans import RepeatPoses, ScanRepeatability, estimate_repeatability
from seatwright.cast._repeats_told import tell_copies, tell_repeats
from seatwright.cast._result import CastResult
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.mesh import Surface
from seatwright.progress import SILENT, Progress
from seatwright.quantities import invert_transform

__all__ = ["average_scans", "check_repeats"]

_FEWEST_UNITS = 2  # definition: a motion is told against another unit


def check_repeats(
    reference: Surface,
    poured: Sequence[Surface],
    regions: tuple[UnitRegion, ...],
    *,
    tolerance_um: float,
    repeatability_um: float,
    reference_um: float | None = None,
    question: CastQuestion | None = None,
    progress: Progress = SILENT,
) -> CastResult:
    """Check one poured cast by one scan or by several.

    Parameters
    ----------
    reference : Surface
        mm.
    poured : sequence of Surface
        Scans of the same cast, each in its own pose.
    regions : tuple of UnitRegion
    tolerance_um : float
    repeatability_um : float
        Declared, of both scans together, as in `check_cast`.
    reference_um : float, optional
        The reference's own part of it; half of the variance when left out. The rest is that of one poured scan.
    question : CastQuestion, optional
    progress : Progress

    Returns
    -------
    CastResult
        `T_reference_poured` is that of the first scan; `repeats` holds the repeatability found, if any.

    Raises
    ------
    CannotCompute
        As `check_cast`; or when fewer than two units were found on every scan.

    Notes
    -----
    A scan that is the mesh of an earlier one is left out. Poses are averaged over the others. Only the repeatability
    part falls as 1 / sqrt(n): what the comparison with the one reference shows in its residuals is common to all scans
    and is not averaged away. The repeatability found replaces the declared one of the poured scans where it rests on
    three degrees of freedom or more; where both contradict each other a finding says so.

    References
    ----------
    .. [1] ISO 5725-1:1994, 3.14 (repeatability); JCGM 100:2008, 4.2.3 (variance of a mean).
    """
    question = question or CastQuestion()
    own_um = repeatability_um / math.sqrt(2) if reference_um is None else reference_um
    if not 0 <= own_um <= repeatability_um:
        raise ValueOutOfRange(
            f"the reference's part of the repeatability must lie within it, got {own_um} of {repeatability_um} µm"
        )
    if len(poured) == 1:
        return check_cast(
            reference, poured[0], regions, tolerance_um=tolerance_um, repeatability_um=repeatability_um,
            question=question, progress=progress,
        )  # fmt: skip
    scans = _measure_scans(reference, poured, regions, own_um, progress.part(0.0, 0.9))
    copies = find_copies(poured, [scan.pose.T_reference_poured for scan in scans])
    kept = [scan for number, scan in enumerate(scans) if number not in {copy.scan for copy in copies}]
    progress.report(0.97, "finding the units that agree")
    poured_um = math.sqrt(repeatability_um**2 - own_um**2)
    said = tell_copies(copies)
    if len(kept) > 1:
        mean, repeats = average_scans(kept, tuple(r.tooth for r in regions), poured_um=poured_um)
        said += tell_repeats(repeats, (len(kept), len(mean.places)), poured_um)
    else:
        mean, repeats = _as_declared(kept[0], regions, repeatability_um), None
    is_found = repeats is not None and repeats.is_enough
    shown_um = repeats.shift_um.value if repeats is not None and is_found else repeatability_um
    result = judge_units(mean, regions, question, tolerance_um=tolerance_um, repeatability_um=shown_um)
    progress.report(1.0, "done")
    return replace(result, repeats=repeats, is_repeatability_found=is_found, findings=(*result.findings, *said))


def _measure_scans(
    reference: Surface,
    poured: Sequence[Surface],
    regions: tuple[UnitRegion, ...],
    repeatability_um: float,
    progress: Progress,
) -> list[Measurement]:
    scans = []
    for number, surface in enumerate(poured):
        part = progress.part(number / len(poured), (number + 1) / len(poured))
        part.report(0.0, f"finding the pose of scan {number + 1} of {len(poured)}")
        pose = find_global_pose(reference, surface, regions)
        measured = measure_units(pose, regions, repeatability_um=repeatability_um, progress=part.part(0.5, 1.0))
        if measured is None:
            raise explain_misfit(pose.reference, surface, pose)
        scans.append(measured)
    return scans


def _as_declared(scan: Measurement, regions: tuple[UnitRegion, ...], repeatability_um: float) -> Measurement:
    """Return the one scan that is left with the declared repeatability of both scans in its covariances."""
    measured = measure_units(scan.pose, regions, repeatability_um=repeatability_um)
    return scan if measured is None else measured


def average_scans(
    scans: Sequence[Measurement], teeth: tuple[str, ...], *, poured_um: float = 0.0
) -> tuple[Measurement, ScanRepeatability | None]:
    """Return the first scan's measurement with the mean poses of all, and the repeatability between them.

    The repeatability is None where the poses of the scans leave nothing to estimate it from.

    Parameters
    ----------
    scans : sequence of Measurement
        Their covariances hold the reference's repeatability alone.
    teeth : tuple of str
        Of all regions. Units that one scan misses are left out.
    poured_um : float
        Declared repeatability of one poured scan, for where the scans are too few to show their own.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2.3 and G.4.1 (effective degrees of freedom of a sum).
    """
    places = tuple(k for k in scans[0].places if all(k in scan.places for scan in scans))
    if len(places) < _FEWEST_UNITS:
        raise CannotCompute(
            f"only {len(places)} of the units were found on every scan of the poured cast",
            hint="scan the whole cast each time, or leave out the scan that misses units",
            details={"n_units": len(places), "n_scans": len(scans)},
        )
    poses = [[scan.poses[scan.places.index(k)] for k in places] for scan in scans]
    middle = np.asarray(np.mean([p.center_mm for p in poses[0]], axis=0))
    frames = [frame_transform(fit_lattice(group, middle, SCALE_PRIOR)) for group in poses]
    near = [[seen_from(p, frame) for p in group] for group, frame in zip(poses, frames, strict=True)]
    motions = np.array([[p.motion for p in group] for group in near])
    numbers = tuple(range(len(scans)))
    repeats = _estimate(
        [RepeatPoses(teeth[k], near[0][m].center_mm, numbers, motions[:, m]) for m, k in enumerate(places)]
    )
    found = repeats if repeats is not None and repeats.is_enough else None
    own = declared_covariance(poured_um * 1e-3, BEND_MM, math.inf) if found is None else found.covariance()
    repeated = own / len(scans)
    mean, declared = [], []
    for m, k in enumerate(places):
        seen = np.mean([group[m].covariance for group in near], axis=0)
        one = near[0][m]
        mean.append(Pose(one.center_mm, motions[:, m].mean(axis=0), seen + repeated, one.anchor_mm))
        told = [scan.declared[scan.places.index(k)] for scan in scans if scan.declared]
        declared.append(repeated + np.sum(told, axis=0) / len(scans) if told else repeated)
    first = scans[0]
    chosen = [first.places.index(k) for k in places]
    pose = replace(first.pose, T_reference_poured=invert_transform(frames[0]) @ first.pose.T_reference_poured)
    least = Freedom(min(scan.freedom.common for scan in scans), min(scan.freedom.least for scan in scans))
    source = "declared"
    if found is not None:
        dof = min(found.shift_um.dof, found.turn_deg.dof)
        least = join_freedom(least, [p.covariance for p in mean], repeated, dof)
        source = f"found in {len(scans)} scans, {dof:.0f} degrees of freedom; reference as declared"
    together = replace(
        first,
        pose=pose,
        places=places,
        poses=tuple(mean),
        cells=tuple(first.cells[m] for m in chosen),
        freedom=least,
        declared=tuple(declared),
        declared_source=source,
    )
    return together, repeats


def _estimate(poses: list[RepeatPoses]) -> ScanRepeatability | None:
    """Return the repeatability, or None where the motions common to each scan leave nothing to estimate it from."""
    try:
        return estimate_repeatability(poses)
    except CannotCompute:
        return None
