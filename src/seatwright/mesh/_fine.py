"""Fine registration: robust two-way point-to-plane with a cut that narrows step by step."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.mesh._closest import SurfaceIndex
from seatwright.mesh._match import BodyPoints, Equations, Poses, match_points, step_poses, weigh_tukey
from seatwright.quantities import FloatArray, Transform

__all__ = ["BodyFit", "Schedule", "estimate_scale_mm", "fit_bodies", "pose_of", "rest_poses", "transform_of"]


@dataclass(frozen=True, slots=True)
class Schedule:
    """How the robust cut narrows: each width is held until the bodies rest or the steps are used up."""

    cuts_mm: tuple[float, ...]
    most_steps: int = 6
    most_last_steps: int = 25
    rest_mm: float = 1e-5
    """A body rests when its last step is shorter than this at the final cut (a fiftieth of the cut before)."""


@dataclass(frozen=True, slots=True, eq=False)
class BodyFit:
    """Fitted poses of k bodies with the equations at the end; weights belong to the last cut."""

    poses: Poses
    forward: Equations
    backward: Equations | None
    forward_weights: FloatArray
    backward_weights: FloatArray
    hessians: FloatArray
    """(k, 6, 6): weighted normal matrices, per mm and per rad."""
    step_mm: FloatArray
    """(k,): length of the last step."""
    n_steps: int
    cut_mm: float


def fit_bodies(
    bodies: tuple[SurfaceIndex | None, BodyPoints],
    target: tuple[SurfaceIndex, BodyPoints | None],
    start: Poses,
    schedule: Schedule,
) -> BodyFit:
    """Fit each body onto the target surface, robustly, from a nearby pose.

    Parameters
    ----------
    bodies : (SurfaceIndex or None, BodyPoints)
        The bodies' own surface (needed for two-way fitting) and the points that move forward.
    target : (SurfaceIndex, BodyPoints or None)
        The surface that they should lie on, and its points near each body for the way back.
    start : Poses
    schedule : Schedule
        Cuts from wide to narrow. A narrow cut at once falls into false minima: the narrowing matters.

    Returns
    -------
    BodyFit
    """
    own, points = bodies
    surface, returning = target
    poses, n_steps = start, 0
    steps = np.full(len(start.centers), np.inf)
    forward = Equations(np.zeros((0, 6)), np.zeros(0), np.zeros(0, dtype=np.bool_), np.zeros(0, dtype=np.int64))
    backward: Equations | None = None
    weights, back_weights, hessians = np.zeros(0), np.zeros(0), np.zeros((len(start.centers), 6, 6))
    for number, cut in enumerate(schedule.cuts_mm):
        is_last = number == len(schedule.cuts_mm) - 1
        rest = schedule.rest_mm if is_last else cut / 50
        for _ in range(schedule.most_last_steps if is_last else schedule.most_steps):
            forward = match_points(surface, points, poses, limit_mm=cut)
            weights = weigh_tukey(forward.residual_mm, cut) * forward.is_matched
            sets = [(forward, points, weights)]
            if own is not None and returning is not None:
                backward = match_points(own, returning, poses, limit_mm=cut, backward=True)
                back_weights = weigh_tukey(backward.residual_mm, cut) * backward.is_matched
                sets.append((backward, returning, back_weights))
            poses, steps, hessians = step_poses(poses, tuple(sets))
            n_steps += 1
            if float(steps.max()) < rest:
                break
    return BodyFit(poses, forward, backward, weights, back_weights, hessians, steps, n_steps, schedule.cuts_mm[-1])


def estimate_scale_mm(residual_mm: FloatArray) -> float:
    """Estimate the standard deviation of the core of a contaminated, centered sample: from its shortest half.

    References
    ----------
    .. [1] Rousseeuw, Leroy, Robust Regression and Outlier Detection (1987), ch. 4 (shortest half; 1.4826 makes it
       agree with the standard deviation of the normal law).
    """
    ordered = np.sort(residual_mm)
    half = len(ordered) // 2
    if half < 2:
        return 0.0
    return float(1.4826 * (ordered[half:] - ordered[: len(ordered) - half]).min() / 2)


def rest_poses(centers_mm: Sequence[FloatArray] | FloatArray) -> Poses:
    """Poses of k bodies about their centers that have not moved."""
    n = len(centers_mm)
    return Poses(np.tile(np.eye(3), (n, 1, 1)), np.zeros((n, 3)), np.array(centers_mm, dtype=np.float64))


def pose_of(transform: Transform, center_mm: FloatArray) -> Poses:
    """One body's pose about a center from its 4x4 transform."""
    rotation = np.ascontiguousarray(transform[:3, :3])
    shift = rotation @ center_mm + transform[:3, 3] - center_mm
    return Poses(rotation[None].copy(), shift[None].copy(), np.array(center_mm, dtype=np.float64)[None].copy())


def transform_of(poses: Poses, body: int = 0) -> Transform:
    """Return the 4x4 transform of one body."""
    transform = np.eye(4)
    transform[:3, :3] = poses.rotations[body]
    transform[:3, 3] = poses.centers[body] + poses.shifts[body] - poses.rotations[body] @ poses.centers[body]
    return transform
