"""From settled motions to what is told of each unit and body."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from seatwright.arch import UnitRegion, tooth_axes
from seatwright.case import arch_of
from seatwright.cast._budget import Part, list_budget
from seatwright.cast._frame import Settled
from seatwright.cast._lattice import Pose, Relative, reseat_covariance
from seatwright.cast._misfit import chance_of_misfit
from seatwright.cast._points import Mark, judge_points
from seatwright.cast._result import AlongAxes, BodyMovement, Reading, UnitMovement
from seatwright.cast._told_length import tell_length
from seatwright.cast._units import UnitFits
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray, Measured

__all__ = ["Telling", "report_bodies", "report_rival", "report_unit"]

_WEAK_TURN_RAD = math.radians(0.25)  # judgement: a turn known no better than this decides nothing at a 5 mm lever
_WEAK_RATIO = 3.0  # judgement: weak about one axis, not just a noisy scan


@dataclass(frozen=True, slots=True, eq=False)
class Telling:
    """What all units' reports share."""

    settled: Settled
    tolerance_um: float
    marks: Mapping[str, tuple[Mark, ...]]
    patient_axes: FloatArray | None
    """Rows left, back, up."""
    declared: tuple[FloatArray, ...] = ()
    """Of each measured unit: what repeatability adds to its covariance."""
    declared_source: str = "declared"


def report_unit(region: UnitRegion, fits: UnitFits, number: int, place: int | None, telling: Telling) -> UnitMovement:
    """Return what is told of one unit; `place` is its place among the measured ones, or None."""
    rms, n_points, coverage = float(fits.rms_um[number]), int(fits.n_points[number]), float(fits.coverage[number])
    share = float(fits.inlier_share[number])
    if place is None:
        return UnitMovement(
            region.tooth, False, None, None, None, None, None, region.centroid_mm, False, False,
            Verdict.CANNOT_TELL, None, None, rms, n_points, coverage, share,
        )  # fmt: skip
    frame = telling.settled
    motion = frame.units[place]
    covariance = motion.raw_covariance
    u, u_own = np.sqrt(np.diag(covariance)), np.sqrt(np.diag(motion.own_covariance))
    misfit = _misfit(motion)
    points = judge_points(
        motion.raw,
        covariance,
        region.centroid_mm,
        telling.marks.get(region.tooth, ()),
        telling.tolerance_um,
        dof=frame.freedom.common,
    )
    return UnitMovement(
        tooth=region.tooth,
        is_measured=True,
        shift_mm=motion.raw[:3],
        turn_deg=np.degrees(motion.raw[3:]),
        u_shift_mm=u[:3],
        u_turn_deg=np.degrees(u[3:]),
        covariance=covariance,
        about_mm=region.centroid_mm,
        is_stable=place in frame.stable_units(),
        is_moved=misfit > frame.stable.gate,
        verdict=points[0].verdict,
        u_worst_mm=_worst(covariance),
        weak_turn_axis=_weak_axis(covariance[3:, 3:]),
        residual_rms_um=rms,
        n_points=n_points,
        coverage=coverage,
        inlier_share=share,
        own_shift_mm=motion.own[:3],
        u_own_shift_mm=u_own[:3],
        chance_unmoved=chance_of_misfit(misfit, frame.freedom),
        points=points,
        budget=list_budget(points[0], region.centroid_mm, _parts(frame.poses[place], covariance, telling, place)),
        **_along_axes(region.tooth, motion, telling.patient_axes),
    )


def _parts(pose: Pose, covariance: FloatArray, telling: Telling, place: int) -> tuple[Part, ...]:
    """Split a unit's covariance by its causes."""
    reseat = reseat_covariance(pose.reseat_mm)
    raw_shared = telling.settled.units[place].raw_shared
    shared = raw_shared @ raw_shared.T
    declared = telling.declared[place] if telling.declared else np.zeros((6, 6))
    return (
        Part("scan error", pose.covariance - declared - reseat, "residuals of all units"),
        Part("repeatability", declared, telling.declared_source),
        Part("crown put back", reseat, "crown_reseat, or stated for the scan"),
        Part("length error of the scanners", shared, "declared; half uniform, half by direction (judgement)"),
        Part("frame", covariance - pose.covariance - shared, "units that hold the frame"),
    )


def _along_axes(tooth: str, motion: Relative, patient: FloatArray | None) -> dict[str, AlongAxes | None]:
    if patient is None or not tooth.isdigit():
        return {"tooth_axes": None, "patient_axes": None}
    own = tooth_axes(patient, int(tooth), arch_of(int(tooth)))
    return {
        "tooth_axes": _project(("mesial", "facial", "occlusal"), own, motion),
        "patient_axes": _project(("left", "back", "up"), patient, motion),
    }


def _project(names: tuple[str, str, str], directions: FloatArray, motion: Relative) -> AlongAxes:
    def told(part: slice, factor: float, unit: str) -> tuple[Measured, ...]:
        u = np.sqrt(np.diag(directions @ motion.raw_covariance[part, part] @ directions.T))
        values = zip(directions @ motion.raw[part], u, strict=True)
        return tuple(Measured(float(v) * factor, float(w) * factor, unit) for v, w in values)

    return AlongAxes(names, directions, told(slice(0, 3), 1e3, "µm"), told(slice(3, 6), math.degrees(1.0), "deg"))


def report_bodies(settled: Settled, teeth: tuple[str, ...]) -> tuple[BodyMovement, ...]:
    """Return the movement of each body of two units or more; `teeth` names the measured units."""
    told = []
    for number, (body, motion) in enumerate(zip(settled.bodies, settled.whole, strict=True)):
        if len(body.units) < 2:
            continue
        u = np.sqrt(np.diag(motion.raw_covariance))
        misfit = _misfit(motion)
        told.append(
            BodyMovement(
                teeth=tuple(teeth[k] for k in body.units),
                shift_mm=motion.raw[:3],
                turn_deg=np.degrees(motion.raw[3:]),
                u_shift_mm=u[:3],
                u_turn_deg=np.degrees(u[3:]),
                covariance=motion.raw_covariance,
                about_mm=body.pose.center_mm,
                own_shift_mm=motion.own[:3],
                chance_unmoved=chance_of_misfit(misfit, settled.freedom),
                is_stable=number in settled.stable.members,
                is_moved=misfit > settled.stable.gate,
                dof=settled.freedom.common,
            )
        )
    return tuple(told)


def report_rival(settled: Settled, teeth: tuple[str, ...]) -> Reading | None:
    """Return what the rival would make of the cast."""
    if not settled.rival_units:
        return None
    shifts = {
        tooth: tell_length(motion.raw[:3], motion.raw_covariance[:3, :3], dof=settled.freedom.common)[0]
        for tooth, motion in zip(teeth, settled.rival_units, strict=True)
    }
    return Reading(tuple(teeth[k] for k in settled.rival_members()), shifts)


def _misfit(motion: Relative) -> float:
    return float(motion.own @ np.linalg.solve(motion.own_covariance, motion.own))


def _worst(covariance: FloatArray) -> float:
    return float(np.sqrt(np.linalg.eigvalsh(covariance[:3, :3])[-1]))


def _weak_axis(covariance: FloatArray) -> FloatArray | None:
    values, vectors = np.linalg.eigh(covariance)
    u = np.sqrt(np.clip(values, 0, None))
    return np.asarray(vectors[:, 2]) if u[2] > _WEAK_TURN_RAD and u[2] > _WEAK_RATIO * u[0] else None
