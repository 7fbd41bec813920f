"""Measures that need no common frame: distances and turns between units, and angles between attachment axes."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.spatial.transform import Rotation

from seatwright.cast._caliper_verdict import judge_change
from seatwright.cast._lattice import Pose
from seatwright.cast._points import CENTROID, Mark
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray, Measured

__all__ = ["PairChange", "compare_pairs"]


@dataclass(frozen=True, slots=True, eq=False)
class PairChange:
    """How two units changed against each other; nothing here depends on who is taken for stable.

    Attributes
    ----------
    one, other : str
        Teeth.
    at : tuple of str
        Names of the two points.
    distance_mm : float
        Between the points, on the reference.
    change_um : Measured
        Distance on the poured cast less that on the reference.
    turn_deg : Measured
        Size of the turn of the other unit as seen from the first; biased upwards when it is near its uncertainty.
    axis_change_deg : Measured or None
        Change of the angle between the two directions, where both points have one.
    verdict : Verdict
        Of the change against ± tolerance.
    p_conforms : float
    """

    one: str
    other: str
    at: tuple[str, str]
    distance_mm: float
    change_um: Measured
    turn_deg: Measured
    axis_change_deg: Measured | None
    verdict: Verdict
    p_conforms: float


def compare_pairs(
    teeth: Sequence[str],
    poses: Sequence[Pose],
    marks: Mapping[str, tuple[Mark, ...]],
    bodies: Sequence[tuple[int, ...]],
    tolerance_um: float,
    *,
    dof: float = math.inf,
) -> tuple[PairChange, ...]:
    """Compare every two units that are not one body, each at its first mark or else its centroid.

    Parameters
    ----------
    teeth : sequence of str
        Of the measured units.
    poses : sequence of Pose
        Of the same units in any common frame; their errors are independent of each other but for what they share.
    marks : mapping of tooth to tuple of Mark
    bodies : sequence of tuple of int
        Units that are one rigid body.
    tolerance_um : float
    dof : float
        Degrees of freedom behind the size of the covariances, which are those of the t law with so many; above 2.

    Notes
    -----
    Distances are taken from the moved points themselves; uncertainties by the law of propagation, first order. The
    chance of a small enough change is that of the t law.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2. Verdict: JCGM 106:2012, 7.5 and 8.3.
    """
    whole = {frozenset(pair) for body in bodies for pair in combinations(body, 2)}
    points = [marks.get(tooth, ())[:1] or (Mark(tooth, CENTROID, poses[k].center_mm),) for k, tooth in enumerate(teeth)]
    return tuple(
        _compare((teeth[i], teeth[j]), (poses[i], poses[j]), (points[i][0], points[j][0]), (tolerance_um, dof))
        for i, j in combinations(range(len(teeth)), 2)
        if frozenset((i, j)) not in whole
    )


def _compare(
    teeth: tuple[str, str], poses: tuple[Pose, Pose], marks: tuple[Mark, Mark], asked: tuple[float, float]
) -> PairChange:
    tolerance_um, dof = asked
    before = np.asarray(marks[1].at_mm, dtype=float) - np.asarray(marks[0].at_mm, dtype=float)
    moved, levers = zip(*(_move(p, m) for p, m in zip(poses, marks, strict=True)), strict=True)
    after = moved[1] - moved[0]
    length, new = float(np.linalg.norm(before)), float(np.linalg.norm(after))
    along = after / max(new, 1e-12)
    variance = sum(float(along @ lv @ p.covariance @ lv.T @ along) for lv, p in zip(levers, poses, strict=True))
    variance += float(((along @ (levers[1] @ poses[1].shared - levers[0] @ poses[0].shared)) ** 2).sum())
    change = Measured(1e3 * (new - length), 1e3 * float(np.sqrt(variance)), "µm")
    scale = change.u if math.isinf(dof) else change.u * math.sqrt((dof - 2) / dof)
    verdict, p = judge_change(change.value, max(scale, 1e-9), tolerance_um, dof=dof)
    return PairChange(
        one=teeth[0],
        other=teeth[1],
        at=(marks[0].name, marks[1].name),
        distance_mm=length,
        change_um=change,
        turn_deg=_relative_turn(poses),
        axis_change_deg=_axis_change(poses, marks),
        verdict=verdict,
        p_conforms=p,
    )


def _move(pose: Pose, mark: Mark) -> tuple[FloatArray, FloatArray]:
    """Return where the point goes, and how it answers to the pose (3, 6)."""
    arm = np.asarray(mark.at_mm, dtype=float) - pose.center_mm
    turned = Rotation.from_rotvec(pose.motion[3:]).apply(arm)
    lever = np.eye(3, 6)
    x, y, z = turned
    lever[:, 3:] = [[0, z, -y], [-z, 0, x], [y, -x, 0]]
    return pose.center_mm + pose.motion[:3] + turned, lever


def _relative_turn(poses: tuple[Pose, Pose]) -> Measured:
    between = (Rotation.from_rotvec(poses[0].motion[3:]).inv() * Rotation.from_rotvec(poses[1].motion[3:])).as_rotvec()
    covariance = poses[0].covariance[3:, 3:] + poses[1].covariance[3:, 3:]
    size = float(np.linalg.norm(between))
    axis = between / size if size > 0 else np.linalg.eigh(covariance)[1][:, -1]
    return Measured(float(np.degrees(size)), float(np.degrees(np.sqrt(axis @ covariance @ axis))), "deg")


def _axis_change(poses: tuple[Pose, Pose], marks: tuple[Mark, Mark]) -> Measured | None:
    if marks[0].direction is None or marks[1].direction is None:
        return None
    a, b = (
        np.asarray(m.direction, dtype=float) / np.linalg.norm(m.direction) for m in marks if m.direction is not None
    )
    turned = [Rotation.from_rotvec(p.motion[3:]).apply(v) for p, v in zip(poses, (a, b), strict=True)]
    across = np.cross(turned[0], turned[1])
    sine = float(np.linalg.norm(across))
    change = float(np.arctan2(sine, turned[0] @ turned[1]) - np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))
    covariance = poses[0].covariance[3:, 3:] + poses[1].covariance[3:, 3:]
    if sine > 1e-9:
        # only the turn about the common normal opens the angle
        normal = across / sine
        variance = float(normal @ covariance @ normal)
    else:
        off = np.eye(3) - np.outer(a, a)
        variance = float(np.linalg.eigvalsh(off @ covariance @ off)[-1])
    return Measured(float(np.degrees(change)), float(np.degrees(np.sqrt(variance))), "deg")
