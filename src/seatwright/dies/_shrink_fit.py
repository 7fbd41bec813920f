"""Upper bound on the stress that expanding stone puts into a ceramic ring: a number to rank by, never a gate.

Stone expands while it is still soft, so the true stress is far below the bound. Taken at face value the bound would
forbid stone under any ceramic, which the bench contradicts.
"""

from dataclasses import dataclass
from math import inf

from seatwright.errors import ValueOutOfRange

__all__ = ["ShrinkFit", "bound_ring_stress"]


@dataclass(frozen=True, slots=True)
class ShrinkFit:
    """Contact pressure and greatest hoop tension of the ring, and the ceiling E eps that no geometry exceeds."""

    pressure_mpa: float
    hoop_tension_mpa: float
    ceiling_mpa: float


def bound_ring_stress(
    expansion: float,
    *,
    inner_mm: float,
    outer_mm: float,
    e_ring_mpa: float,
    e_core_mpa: float = inf,
    nu_ring: float,
    nu_core: float,
) -> ShrinkFit:
    """Stress in an elastic ring round a solid elastic core that expands freely by `expansion` (plane stress).

    Parameters
    ----------
    expansion : float
        Free linear expansion of the core, mm/mm, >= 0.
    inner_mm, outer_mm : float
        Radii of the ring, 0 < inner < outer.
    e_ring_mpa, e_core_mpa : float
        Young's moduli, MPa; an infinite core modulus gives a rigid core.
    nu_ring, nu_core : float
        Poisson's ratios.

    Returns
    -------
    ShrinkFit

    Raises
    ------
    ValueOutOfRange
        If the radii or moduli make no ring.

    References
    ----------
    .. [1] Timoshenko, Strength of Materials, Part II, 3rd ed., thick-walled cylinder and shrink fit (from memory):
       p = eps / [((b^2 + a^2)/(b^2 - a^2) + nu_o)/E_o + (1 - nu_i)/E_i], hoop tension p (b^2 + a^2)/(b^2 - a^2).

    Examples
    --------
    >>> fit = bound_ring_stress(0.0015, inner_mm=3, outer_mm=4, e_ring_mpa=70e3, nu_ring=0.2, nu_core=0.2)
    >>> round(fit.hoop_tension_mpa, 1), round(fit.ceiling_mpa, 1)
    (99.4, 105.0)
    """
    if not (0 < inner_mm < outer_mm and e_ring_mpa > 0 and e_core_mpa > 0 and expansion >= 0):
        raise ValueOutOfRange(
            f"a ring needs 0 < inner < outer, positive moduli and expansion >= 0, got {inner_mm}, {outer_mm} mm, "
            f"{e_ring_mpa}, {e_core_mpa} MPa, {expansion}"
        )
    wall = (outer_mm**2 + inner_mm**2) / (outer_mm**2 - inner_mm**2)
    compliance = (wall + nu_ring) / e_ring_mpa + (1 - nu_core) / e_core_mpa
    pressure = expansion / compliance
    return ShrinkFit(pressure, pressure * wall, e_ring_mpa * expansion)
