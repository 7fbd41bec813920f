"""From the poses of the units to who is stable, the common frame, and each unit's motion in it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from seatwright.cast._bodies import Body, gather_bodies
from seatwright.cast._consensus import StableSet, accept_stable_set, find_stable_set
from seatwright.cast._lattice import (
    LatticeFit,
    Pose,
    Relative,
    fit_lattice,
    frame_transform,
    judge_uniform_scale,
    relate,
    seen_from,
)
from seatwright.cast._misfit import CERTAIN, Freedom, gate_misfit
from seatwright.quantities import FloatArray, Measured, Transform

__all__ = ["Settled", "settle_units"]


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """Who holds the frame, and every unit's and body's motion in it, each seen from the others."""

    stable: StableSet
    """Of bodies."""
    bodies: tuple[Body, ...]
    broken: tuple[Body, ...]
    lattice: LatticeFit
    """Of all stable bodies, in the settled frame."""
    T_global_frame: Transform
    """Maps the reference onto the globally placed poured scan."""
    poses: tuple[Pose, ...]
    """Of the units, seen from near the frame; their errors are independent of each other."""
    units: tuple[Relative, ...]
    whole: tuple[Relative, ...]
    """Of the bodies."""
    rival_units: tuple[Relative, ...]
    """Each unit's motion when the rival holds the frame; empty without a rival."""
    uniform_chance: float | None
    freedom: Freedom
    """Behind the covariances."""

    def stable_units(self) -> tuple[int, ...]:
        """Return the units of the stable bodies, ascending."""
        return tuple(sorted(k for b in self.stable.members for k in self.bodies[b].units))

    def rival_members(self) -> tuple[int, ...]:
        """Return the units of the rival, ascending."""
        return tuple(sorted(k for b in self.stable.rival for k in self.bodies[b].units))


def settle_units(
    poses: Sequence[Pose],
    groups: Sequence[Sequence[int]],
    told: Sequence[int],
    prior: Measured,
    freedom: Freedom = CERTAIN,
) -> Settled:
    """Find the stable set (or take the user's), its frame, and everybody's motion in that frame.

    Parameters
    ----------
    poses : sequence of Pose
        Of the units, in the frame of the global pose.
    groups : sequence of sequence of int
        Units that are one rigid body.
    told : sequence of int
        Units that the user says are stable; empty when the agreement decides.
    prior : Measured
        Scale to expect.
    freedom : Freedom
        Behind the covariances.

    Notes
    -----
    The raw frame is the rigid fit to the stable bodies about the middle of their places: with a lattice scale s a
    stable body at c shows s (c - middle). That makes one frame for all units, though each is judged by the others: the
    scale is fitted beside the frame and stays out of it.
    """
    everyone = fit_lattice(poses, np.asarray(np.mean([p.center_mm for p in poses], axis=0)), prior)
    # the equations are linear: seen from near the common frame what they leave out is smaller than any digit shown
    start = frame_transform(everyone)
    poses = [seen_from(p, start) for p in poses]
    bodies, broken = gather_bodies(poses, groups)
    gate = gate_misfit(sum(1 if len(b.units) == 1 else 1 + len(b.units) for b in bodies), freedom)
    body_poses = [b.pose for b in bodies]
    if told:
        members = tuple(k for k, b in enumerate(bodies) if set(b.units) & set(told))
        stable = accept_stable_set(body_poses, members, prior, gate=gate)
    else:
        stable = find_stable_set(body_poses, prior, gate=gate)
    first = frame_transform(fit_lattice([body_poses[k] for k in stable.members], _middle(body_poses, stable), prior))
    near = [seen_from(p, first) for p in poses]
    bodies = tuple(Body(b.units, seen_from(b.pose, first), b.chance) for b in bodies)
    body_poses = [b.pose for b in bodies]
    chosen = [body_poses[k] for k in stable.members]
    lattice = fit_lattice(chosen, _middle(body_poses, stable), prior)
    units, whole = _relate_all(near, bodies, stable.members, prior)
    rival = _relate_all(near, bodies, stable.rival, prior)[0] if stable.rival else ()
    return Settled(
        stable=stable,
        bodies=bodies,
        broken=broken,
        lattice=lattice,
        T_global_frame=start @ first @ frame_transform(lattice),
        poses=tuple(near),
        units=units,
        whole=whole,
        rival_units=rival,
        uniform_chance=judge_uniform_scale(chosen, lattice),
        freedom=freedom,
    )


def _middle(poses: Sequence[Pose], stable: StableSet) -> FloatArray:
    return np.asarray(np.mean([poses[k].anchor_mm for k in stable.members], axis=0))


def _relate_all(
    units: Sequence[Pose], bodies: Sequence[Body], members: tuple[int, ...], prior: Measured
) -> tuple[tuple[Relative, ...], tuple[Relative, ...]]:
    """Each unit and each body against the members without its own body."""
    middle = np.mean([bodies[k].pose.anchor_mm for k in members], axis=0)
    found: dict[int, Relative] = {}
    whole = []
    for number, body in enumerate(bodies):
        others = [bodies[k].pose for k in members if k != number] or [body.pose]
        # two bodies: one seen from the other, whose place nothing scales
        lattice = fit_lattice(others, others[0].anchor_mm if len(others) == 1 else middle, prior)
        whole.append(relate(body.pose, lattice))
        for k in body.units:
            at = replace(units[k], anchor_mm=body.pose.anchor_mm)
            found[k] = relate(at, lattice)
    return tuple(found[k] for k in range(len(units))), tuple(whole)
