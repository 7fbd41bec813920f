"""Several scans of one poured cast: one answer, with the repeatability that they show in place of the declared one."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from seatwright.arch import UnitRegion
from seatwright.cast._check import Measurement, check_cast, judge_units, measure_units
from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._lattice import Pose, fit_lattice, frame_transform, seen_from
from seatwright.cast._misfit import Freedom
from seatwright.cast._pose import explain_misfit, find_global_pose
from seatwright.cast._question import CastQuestion
from seatwright.cast._repeat_scans import RepeatPoses, ScanRepeatability, estimate_repeatability
from seatwright.cast._result import CastResult
from seatwright.errors import CannotCompute
from seatwright.findings import Finding, Severity, Source, SourceKind
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
        Declared; with one scan as in `check_cast`, with several only that of the reference scan, since the poured
        scans' own is estimated from them.
    question : CastQuestion, optional
    progress : Progress

    Returns
    -------
    CastResult
        `T_reference_poured` is that of the first scan; `repeats` holds the repeatability found.

    Raises
    ------
    CannotCompute
        As `check_cast`; or when fewer than two units were found on every scan.

    Notes
    -----
    Poses are averaged over the scans. Only the repeatability part falls as 1 / sqrt(n): what the comparison with the
    one reference shows in its residuals is common to all scans and is not averaged away.

    References
    ----------
    .. [1] ISO 5725-1:1994, 3.14 (repeatability); JCGM 100:2008, 4.2.3 (variance of a mean).
    """
    if len(poured) == 1:
        return check_cast(
            reference, poured[0], regions, tolerance_um=tolerance_um, repeatability_um=repeatability_um,
            question=question, progress=progress,
        )  # fmt: skip
    scans = []
    for number, surface in enumerate(poured):
        part = progress.part(0.95 * number / len(poured), 0.95 * (number + 1) / len(poured))
        part.report(0.0, f"finding the pose of scan {number + 1} of {len(poured)}")
        pose = find_global_pose(reference, surface, regions)
        measured = measure_units(pose, regions, repeatability_um=repeatability_um, progress=part.part(0.5, 1.0))
        if measured is None:
            raise explain_misfit(pose.reference, surface, pose)
        scans.append(measured)
    mean, repeats = average_scans(scans, tuple(r.tooth for r in regions))
    progress.report(0.97, "finding the units that agree")
    result = judge_units(
        mean, regions, question or CastQuestion(), tolerance_um=tolerance_um, repeatability_um=repeats.shift_um.value
    )
    progress.report(1.0, "done")
    return replace(result, repeats=repeats, findings=(*result.findings, _tell(repeats, repeatability_um)))


def average_scans(scans: Sequence[Measurement], teeth: tuple[str, ...]) -> tuple[Measurement, ScanRepeatability]:
    """Return the first scan's measurement with the mean poses of all, and the repeatability between them.

    `teeth` names all regions. Units that one scan misses are left out.
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
    repeats = estimate_repeatability(
        [RepeatPoses(teeth[k], near[0][m].center_mm, numbers, motions[:, m]) for m, k in enumerate(places)]
    )
    own = np.array([repeats.shift_um.value * 1e-3] * 3 + [math.radians(repeats.turn_deg.value)] * 3)
    mean, declared = [], []
    for m in range(len(places)):
        seen = np.mean([group[m].covariance for group in near], axis=0)
        one = near[0][m]
        repeated = np.diag(own**2) / len(scans)
        mean.append(Pose(one.center_mm, motions[:, m].mean(axis=0), seen + repeated, one.anchor_mm))
        told = [scan.declared[scan.places.index(places[m])] for scan in scans if scan.declared]
        declared.append(repeated + np.sum(told, axis=0) / len(scans) if told else repeated)
    first = scans[0]
    chosen = [first.places.index(k) for k in places]
    pose = replace(first.pose, T_reference_poured=invert_transform(frames[0]) @ first.pose.T_reference_poured)
    together = replace(
        first,
        pose=pose,
        places=places,
        poses=tuple(mean),
        cells=tuple(first.cells[m] for m in chosen),
        freedom=Freedom(
            min(scan.freedom.common for scan in scans),
            min(scan.freedom.least for scan in scans),
        ),
        declared=tuple(declared),
    )
    return together, repeats


def _tell(repeats: ScanRepeatability, declared_um: float) -> Finding:
    low, high = repeats.shift_interval_um
    return Finding(
        "cast-repeatability",
        Severity.NOTE,
        f"A unit's place repeats to {repeats.shift_um.value:.1f} µm ({low:.1f} to {high:.1f}) and its turn to "
        f"{repeats.turn_deg.value:.2f} degrees from scan to scan.",
        why=f"standard deviation over {repeats.n_scans} scans and {repeats.n_units} units; used for the poured "
        f"scans in place of the declared {declared_um:g} µm, which counts for the reference alone",
        source=Source(SourceKind.STANDARD, "ISO 5725-1:1994, 3.14"),
    )
