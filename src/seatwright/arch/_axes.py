"""The patient's and each tooth's directions in a scan's own frame, from where the units stand.

A scan may lie in any pose. The units' places on it are matched to their nominal places on an average arch; that fixes
the directions to a few degrees: well enough to say which way a unit moved, not to measure an axis.
"""

import math
from collections.abc import Mapping

import numpy as np

from seatwright.arch._layout import nominal_layout
from seatwright.arch._rotation import fit_rotation
from seatwright.case import Arch
from seatwright.quantities import FloatArray

__all__ = ["fit_patient_axes", "tooth_axes"]

_MIN_SPREAD = 0.1  # judgement: second singular value over the first; below it the places lie on one line
_RIGHT_QUADRANTS = (1, 4)  # ISO 3950: quadrants of the patient's right side


def fit_patient_axes(places_mm: Mapping[int, FloatArray], arch: Arch) -> FloatArray | None:
    """Return the rotation from scan vectors to the patient's (left, back, up), or None when it is not determined.

    Parameters
    ----------
    places_mm : mapping of int to ndarray of shape (3,)
        Place of each unit in the scan's frame, mm, keyed by ISO 3950 number.
    arch : Arch

    Returns
    -------
    ndarray of shape (3, 3) or None
        Rows are the patient's left, back and up, in scan coordinates. None for fewer than three units, or when they
        stand in one line.

    Examples
    --------
    >>> import numpy as np
    >>> layout = nominal_layout(Arch.MANDIBLE)
    >>> places = {t: np.array([layout[t].x_mm, layout[t].y_mm, 0.0]) for t in (37, 33, 43, 46)}
    >>> np.abs(fit_patient_axes(places, Arch.MANDIBLE) - np.eye(3)).max() < 1e-9
    np.True_
    """
    layout = nominal_layout(arch)
    teeth = [t for t in places_mm if t in layout]
    if len(teeth) < 3:
        return None
    seen = np.array([places_mm[t] for t in teeth], dtype=float)
    nominal = np.array([[layout[t].x_mm, layout[t].y_mm, 0.0] for t in teeth])
    seen -= seen.mean(axis=0)
    nominal -= nominal.mean(axis=0)
    rotation, strengths = fit_rotation(nominal, seen)
    if strengths[1] < _MIN_SPREAD**2 * strengths[0]:
        return None
    return np.asarray(rotation.T)


def tooth_axes(patient_axes: FloatArray, tooth: int, arch: Arch) -> FloatArray:
    """Return a tooth's mesial, facial and occlusal directions as rows (3, 3), in scan coordinates.

    Parameters
    ----------
    patient_axes : ndarray of shape (3, 3)
        From `fit_patient_axes`.
    tooth : int
        ISO 3950 number of a tooth of the arch.
    arch : Arch

    Examples
    --------
    >>> import numpy as np
    >>> np.round(tooth_axes(np.eye(3), 36, Arch.MANDIBLE)[2]) + 0.0
    array([0., 0., 1.])
    """
    heading = nominal_layout(arch)[tooth].heading_rad
    along = np.array([math.cos(heading), math.sin(heading), 0.0])
    mesial = along if tooth // 10 in _RIGHT_QUADRANTS else -along
    facial = np.array([math.sin(heading), -math.cos(heading), 0.0])
    occlusal = np.array([0.0, 0.0, 1.0 if arch is Arch.MANDIBLE else -1.0])
    return np.asarray(np.array([mesial, facial, occlusal]) @ patient_axes)
