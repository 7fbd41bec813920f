"""From a scan's own axes to the directions of a drawing: the patient's left, back, and up from the biting side.

A scan may lie in any pose. The units' places on it are matched to their nominal places on an average arch; that fixes
the three directions well enough to draw (a few degrees), and for nothing else.
"""

from collections.abc import Mapping

import numpy as np

from seatwright.arch import fit_patient_axes
from seatwright.case import Arch
from seatwright.quantities import FloatArray

__all__ = ["fit_drawing_axes"]


def fit_drawing_axes(places_mm: Mapping[int, FloatArray], arch: Arch) -> FloatArray | None:
    """Return the rotation that turns scan vectors into drawing vectors, or None when it is not determined.

    Parameters
    ----------
    places_mm : mapping of int to ndarray of shape (3,)
        Place of each unit in the scan's frame, mm, keyed by tooth number.
    arch : Arch

    Returns
    -------
    ndarray of shape (3, 3) or None
        Rows are the patient's left, the back, and the way a crown lifts off (up for the mandible, down for the
        maxilla), in scan coordinates. None for fewer than three units, or when they stand in one line.

    Examples
    --------
    >>> import numpy as np
    >>> from seatwright.arch import nominal_layout
    >>> layout = nominal_layout(Arch.MANDIBLE)
    >>> places = {t: np.array([layout[t].x_mm, layout[t].y_mm, 0.0]) for t in (37, 33, 43, 46)}
    >>> axes = fit_drawing_axes(places, Arch.MANDIBLE)
    >>> np.abs(axes - np.eye(3)).max() < 1e-9
    np.True_
    """
    axes = fit_patient_axes(places_mm, arch)
    if axes is None or arch is Arch.MANDIBLE:
        return axes
    return np.asarray(np.diag([1.0, 1.0, -1.0]) @ axes)
