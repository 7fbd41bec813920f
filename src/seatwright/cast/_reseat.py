"""A crown that was off its die or abutment and put back: what that adds to the uncertainty of its place.

Owns the size of this component. Refuses to know who was off: the case says that, scan by scan.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from seatwright.cast._lattice import Pose, reseat_covariance
from seatwright.errors import ValueOutOfRange
from seatwright.evidence import find_evidence

__all__ = ["add_reseats", "expect_reseat_um"]

_RECORD = "crown_reseat"


def expect_reseat_um(low_um: float | None = None, high_um: float | None = None) -> float:
    """Return the standard uncertainty along any axis of a shift with a length between two limits.

    Parameters
    ----------
    low_um, high_um : float, optional
        Limits of the length, 0 <= low <= high; those of the evidence when both are left out.

    Returns
    -------
    float
        µm: sqrt((a² + a b + b²) / 9).

    Notes
    -----
    Every length between the limits and every direction is equally likely: the mean square of a length that is even
    between a and b is (a² + a b + b²) / 3, and a third of it falls on each axis.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7 (rectangular law between known limits).

    Examples
    --------
    >>> round(expect_reseat_um(), 1), round(expect_reseat_um(30.0, 30.0), 1)
    (18.6, 17.3)
    """
    if low_um is None or high_um is None:
        record = find_evidence(_RECORD)
        low_um, high_um = record.low or 0.0, record.high or 0.0
    if not 0 <= low_um <= high_um < math.inf:
        raise ValueOutOfRange(f"need limits with 0 <= low <= high, got {low_um} and {high_um} µm")
    return math.sqrt((low_um**2 + low_um * high_um + high_um**2) / 9)


def add_reseats(
    poses: Sequence[Pose], teeth: Sequence[str], bodies: Sequence[Sequence[str]], reseats_um: Mapping[str, float]
) -> tuple[Pose, ...]:
    """Return the poses with the reseating of the units named; the units of one rigid body come off and back together.

    Parameters
    ----------
    poses : sequence of Pose
    teeth : sequence of str
        Of the poses.
    bodies : sequence of sequence of str
        Units that are one rigid body.
    reseats_um : mapping of tooth to float
        Standard uncertainty per axis.
    """
    if any(not 0 <= u < math.inf for u in reseats_um.values()):
        raise ValueOutOfRange("the uncertainty of a crown's reseating must be at least 0 µm")
    together = {tooth: body for body in bodies for tooth in body}
    added = []
    for tooth, pose in zip(teeth, poses, strict=True):
        u_mm = 1e-3 * max(reseats_um.get(t, 0.0) for t in together.get(tooth, (tooth,)))
        covariance = np.asarray(pose.covariance + reseat_covariance(u_mm))
        added.append(replace(pose, covariance=covariance, reseat_mm=u_mm) if u_mm > 0 else pose)
    return tuple(added)
