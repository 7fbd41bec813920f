"""Values with uncertainty, and rigid motions. Knows nothing of teeth or files."""

from seatwright.quantities._laws import (
    Arcsine,
    CurvilinearTrapezoid,
    Law,
    Normal,
    Rectangular,
    StudentT,
    law_fields,
)
from seatwright.quantities._measured import Measured, round_to_uncertainty
from seatwright.quantities._monte_carlo import (
    Comparison,
    Distribution,
    compare_with_budget,
    propagate_distributions,
    propagate_jointly,
    summarize_draws,
)
from seatwright.quantities._propagation import Budget, check_correlation, combine, effective_dof, propagate
from seatwright.quantities._proportion import Proportion, count_proportion
from seatwright.quantities._rigid import (
    FloatArray,
    Transform,
    apply_transform,
    invert_transform,
    make_transform,
    rotation_vector_rad,
)
from seatwright.quantities._scale_cause import ScaleCause
from seatwright.quantities._shapley import ShapleyEffects, estimate_shapley, shapley_of_linear
from seatwright.quantities._sobol import SobolIndices, estimate_sobol
from seatwright.quantities._told import tell_interval, tell_limit, tell_plus_minus, tell_signed, tell_value

__all__ = [
    "Arcsine",
    "Budget",
    "Comparison",
    "CurvilinearTrapezoid",
    "Distribution",
    "FloatArray",
    "Law",
    "Measured",
    "Normal",
    "Proportion",
    "Rectangular",
    "ScaleCause",
    "ShapleyEffects",
    "SobolIndices",
    "StudentT",
    "Transform",
    "apply_transform",
    "check_correlation",
    "combine",
    "compare_with_budget",
    "count_proportion",
    "effective_dof",
    "estimate_shapley",
    "estimate_sobol",
    "invert_transform",
    "law_fields",
    "make_transform",
    "propagate",
    "propagate_distributions",
    "propagate_jointly",
    "rotation_vector_rad",
    "round_to_uncertainty",
    "shapley_of_linear",
    "summarize_draws",
    "tell_interval",
    "tell_limit",
    "tell_plus_minus",
    "tell_signed",
    "tell_value",
]
