"""A scanner's length error that grows with distance: what it does to the places of all units together.

Owns the law of that error. Refuses to know which scanner has it: the case declares that.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from seatwright.cast._lattice import Pose
from seatwright.errors import ValueOutOfRange
from seatwright.quantities import FloatArray

__all__ = ["N_MODES", "add_length_error", "strain_modes"]

N_MODES = 7  # definition: one uniform strain, six that differ by direction
# judgement: no figure found; a scanner's scale and its distortion are taken to be equally likely causes
_UNIFORM_SHARE = 0.5


def strain_modes(slope: float) -> FloatArray:
    """Return independent strains (7, 3, 3) whose sum, each times a standard normal number, is the scanner's.

    Parameters
    ----------
    slope : float
        Most by which a distance may be wrong over itself (the 1/K of a maximum permissible error A + L/K), >= 0.

    Notes
    -----
    The error of a distance d along any direction n is d n'En with a symmetric strain E: a field that is linear in
    place, the same everywhere, no direction preferred. Its standard deviation is slope / sqrt(3) along every n
    (rectangular law), half of the variance a uniform scale, half differing by direction.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7 (rectangular law between limits); ISO 10360-1:2000 (maximum permissible error of a
       length, A + L/K).

    Examples
    --------
    >>> modes = strain_modes(0.001)
    >>> n = np.array([0.6, 0.0, 0.8])
    >>> round(1e6 * float(np.sqrt(((modes @ n @ n) ** 2).sum())), 1)
    577.4
    """
    if not 0 <= slope < math.inf:
        raise ValueOutOfRange(f"a length error must be at least 0 and finite, got {slope}")
    variance = slope**2 / 3
    by_direction = math.sqrt((1 - _UNIFORM_SHARE) * variance / 2)
    modes = np.zeros((N_MODES, 3, 3))
    modes[0] = math.sqrt(_UNIFORM_SHARE * variance) * np.eye(3)
    for axis in range(3):
        one, other = (axis + 1) % 3, (axis + 2) % 3
        modes[1 + axis, axis, axis] = math.sqrt(2.0) * by_direction
        modes[4 + axis, one, other] = modes[4 + axis, other, one] = by_direction
    return modes


def add_length_error(poses: Sequence[Pose], slope: float) -> tuple[Pose, ...]:
    """Return the poses with the error that a strain of the scan makes of them, common to all (`Pose.shared`).

    Parameters
    ----------
    poses : sequence of Pose
        In one frame.
    slope : float
        See `strain_modes`; 0 leaves the poses as they are.

    Notes
    -----
    A unit at c is misplaced by E (c - middle); which middle is a shift common to all, which nobody sees. The turn that
    a strain makes within a crown is some b times a crown's width over itself and left out.
    """
    if slope == 0:
        return tuple(poses)
    modes = strain_modes(slope)
    middle = np.mean([p.center_mm for p in poses], axis=0)
    added = []
    for pose in poses:
        shared = np.zeros((6, N_MODES))
        shared[:3] = (modes @ (pose.center_mm - middle)).T
        added.append(replace(pose, shared=shared))
    return tuple(added)
