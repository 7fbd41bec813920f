"""Where the occlusal plane lies on a scan whose units are known: the average arch laid on them."""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.arch._layout import nominal_layout
from seatwright.arch._rotation import fit_rotation
from seatwright.case import Arch, Case
from seatwright.errors import CannotCompute
from seatwright.quantities import FloatArray

__all__ = ["OcclusalFrame", "find_occlusal_frame", "frame_about"]

_LEAST_UNITS = 3  # definition: three points make a plane
_LEAST_WIDTH_MM = 4.0  # judgement: units nearly on one line leave the lean about it open
_U_ROUGH_DEG = 3.0  # judgement: how far seeds on crowns of unlike height may lean a plane through three units
_U_HEIGHT_MM = 0.5  # judgement: spread of a seed's height on its crown


@dataclass(frozen=True, slots=True, eq=False)
class OcclusalFrame:
    """Where the occlusal plane lies on the cast.

    Attributes
    ----------
    occlusal, posterior, left : ndarray of shape (3,)
        Unit vectors at right angles: away from the jaw, to the patient's back, to the patient's left.
    how : str
        Where it comes from, in words.
    u_deg : float
        Standard uncertainty of the plane's lean about each axis; 0 when it is only a convention.
    """

    occlusal: FloatArray
    posterior: FloatArray
    left: FloatArray
    how: str = "z away from the jaw, y to the back, x to the left"
    u_deg: float = 0.0


def find_occlusal_frame(case: Case) -> OcclusalFrame:
    """Return the occlusal frame of a case in its reference scan's frame.

    Parameters
    ----------
    case : Case
        Units with a seed in their region are used; at least three, not on one line.

    Returns
    -------
    OcclusalFrame
        Without enough seeds, the convention of the patient frame: x left, y back, z up; `how` says which.

    Notes
    -----
    The mean horseshoe's places are laid on the seeds by the best rigid motion (`fit_rotation`), which tells
    left, back and up without knowing the scan's frame. The lean's uncertainty is the scatter of the seeds' heights, not
    less than half a millimetre, over their root mean square distance across the weaker axis.
    """
    seeds = {r.tooth: np.array(r.seed_mm, dtype=float) for r in case.region if r.seed_mm is not None}
    if len(seeds) < _LEAST_UNITS:
        return _convention(case.arch)
    layout = nominal_layout(case.arch)
    nominal = np.array([[layout[t].x_mm, layout[t].y_mm, 0.0] for t in seeds])
    placed = np.array(list(seeds.values()))
    nominal, placed = nominal - nominal.mean(axis=0), placed - placed.mean(axis=0)
    width = float(np.linalg.svd(nominal, compute_uv=False)[1]) / math.sqrt(len(seeds))
    if width < _LEAST_WIDTH_MM / math.sqrt(3):
        return _convention(case.arch)
    rotation, _ = fit_rotation(nominal, placed)
    heights = (placed - nominal @ rotation.T) @ rotation[:, 2]
    scatter = math.sqrt(float(heights @ heights) / max(len(seeds) - _LEAST_UNITS, 1))
    u_deg = math.degrees(max(scatter, _U_HEIGHT_MM) / (width * math.sqrt(len(seeds))))
    sign = 1.0 if case.arch is Arch.MANDIBLE else -1.0
    how = f"the average arch laid on {len(seeds)} units"
    return OcclusalFrame(sign * rotation[:, 2], rotation[:, 1], rotation[:, 0], how, min(u_deg, _U_ROUGH_DEG))


def frame_about(occlusal: FloatArray, like: OcclusalFrame, how: str = "as stated") -> OcclusalFrame:
    """Return a frame with a stated occlusal normal and the other axes as near as possible to a known frame's.

    Raises
    ------
    CannotCompute
        If the normal has no length or lies along the patient's back.
    """
    size = float(np.linalg.norm(occlusal))
    if size <= 0:
        raise CannotCompute("the occlusal normal has no length")
    normal = occlusal / size
    posterior = like.posterior - normal * float(np.dot(normal, like.posterior))
    if float(np.linalg.norm(posterior)) < 1e-6:
        raise CannotCompute("the occlusal normal lies along the patient's back")
    posterior = posterior / np.linalg.norm(posterior)
    handed = float(np.sign(np.dot(np.cross(like.left, like.posterior), like.occlusal)))
    return OcclusalFrame(normal, posterior, handed * np.cross(posterior, normal), how, 0.0)


def _convention(arch: Arch) -> OcclusalFrame:
    x, y, z = np.eye(3)
    up = z if arch is Arch.MANDIBLE else -z
    return OcclusalFrame(up, y, x, "the patient frame's z axis, as too few units are located", _U_ROUGH_DEG)
