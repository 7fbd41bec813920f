"""From settled motions to what is told of each unit and body."""

import math

import numpy as np

from seatwright.arch import UnitRegion
from seatwright.cast._consensus import chance_of_misfit
from seatwright.cast._frame import Settled
from seatwright.cast._lattice import Relative
from seatwright.cast._result import BodyMovement, Reading, UnitMovement
from seatwright.cast._units import UnitFits
from seatwright.findings import Verdict, judge_shift_length
from seatwright.quantities import FloatArray, Measured

__all__ = ["report_bodies", "report_rival", "report_unit"]

_WEAK_TURN_RAD = math.radians(0.25)  # judgement: a turn known no better than this decides nothing at a 5 mm lever
_WEAK_RATIO = 3.0  # judgement: weak about one axis, not just a noisy scan


def report_unit(
    region: UnitRegion, fits: UnitFits, number: int, settled: tuple[Settled, int | None], tolerance_um: float
) -> UnitMovement:
    """Return what is told of one unit; `settled` holds the place of the unit among those measured, or None."""
    rms, n_points, coverage = float(fits.rms_um[number]), int(fits.n_points[number]), float(fits.coverage[number])
    share = float(fits.inlier_share[number])
    frame, place = settled
    if place is None:
        return UnitMovement(
            region.tooth, False, None, None, None, None, None, region.centroid_mm, False, False,
            Verdict.CANNOT_TELL, None, None, rms, n_points, coverage, share,
        )  # fmt: skip
    motion = frame.units[place]
    covariance = motion.raw_covariance
    u, u_own = np.sqrt(np.diag(covariance)), np.sqrt(np.diag(motion.own_covariance))
    u_worst = _worst(covariance)
    misfit = _misfit(motion)
    shift = motion.raw[:3]
    return UnitMovement(
        tooth=region.tooth,
        is_measured=True,
        shift_mm=shift,
        turn_deg=np.degrees(motion.raw[3:]),
        u_shift_mm=u[:3],
        u_turn_deg=np.degrees(u[3:]),
        covariance=covariance,
        about_mm=region.centroid_mm,
        is_stable=place in frame.stable_units(),
        is_moved=misfit > frame.stable.gate,
        verdict=judge_shift_length(float(np.linalg.norm(shift)), tolerance_um * 1e-3, u_worst),
        u_worst_mm=u_worst,
        weak_turn_axis=_weak_axis(covariance[3:, 3:]),
        residual_rms_um=rms,
        n_points=n_points,
        coverage=coverage,
        inlier_share=share,
        own_shift_mm=motion.own[:3],
        u_own_shift_mm=u_own[:3],
        chance_unmoved=chance_of_misfit(misfit, frame.dof),
    )


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
                chance_unmoved=chance_of_misfit(misfit, settled.dof),
                is_stable=number in settled.stable.members,
                is_moved=misfit > settled.stable.gate,
            )
        )
    return tuple(told)


def report_rival(settled: Settled, teeth: tuple[str, ...]) -> Reading | None:
    """Return what the rival would make of the cast."""
    if not settled.rival_units:
        return None
    shifts = {
        tooth: Measured(1e3 * float(np.linalg.norm(motion.raw[:3])), 1e3 * _worst(motion.raw_covariance), "µm")
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
