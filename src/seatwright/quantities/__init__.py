"""Values with uncertainty, and rigid motions. Knows nothing of teeth or files."""

from seatwright.quantities._measured import Measured, round_to_uncertainty
from seatwright.quantities._rigid import (
    FloatArray,
    Transform,
    apply_transform,
    invert_transform,
    make_transform,
    rotation_vector_rad,
)

__all__ = [
    "FloatArray",
    "Measured",
    "Transform",
    "apply_transform",
    "invert_transform",
    "make_transform",
    "rotation_vector_rad",
    "round_to_uncertainty",
]
