"""The shrink-fit bound against a printed example and against Lamé's field solved from its boundary conditions."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from seatwright.dies import bound_ring_stress
from seatwright.errors import ValueOutOfRange

EXPECTED = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))["expected"]
HALF_DIGIT = 0.05


def test_same_material_shaft_and_sleeve_match_the_printed_example() -> None:
    fit = bound_ring_stress(
        0.05 / 50, inner_mm=50, outer_mm=75, e_ring_mpa=210e3, e_core_mpa=210e3, nu_ring=0.3, nu_core=0.3
    )
    assert abs(fit.pressure_mpa - float(EXPECTED["pressure_mpa"])) <= HALF_DIGIT
    assert abs(fit.hoop_tension_mpa - float(EXPECTED["hoop_tension_mpa"])) <= HALF_DIGIT


def solve_lame(
    eps: float, a: float, b: float, *, e_o: float, e_i: float, nu_o: float, nu_i: float
) -> tuple[float, float]:
    """Return contact pressure and hoop tension at the bore from u = A r + B / r (ring), C r (core), plane stress."""

    def stress(e: float, nu: float, r: float, sign: float) -> list[float]:
        # Plane stress of u = A r + B / r: radial (sign -1) and hoop (sign +1).
        return [e / (1 - nu), sign * e / (1 + nu) / r**2]

    free = [*stress(e_o, nu_o, b, -1), 0.0]
    match = [a, 1 / a, -a]
    equal = [*stress(e_o, nu_o, a, -1), -e_i / (1 - nu_i)]
    coefficients = np.linalg.solve(np.array([free, match, equal]), np.array([0.0, eps * a, 0.0]))
    pressure = -float(np.dot(stress(e_o, nu_o, a, -1), coefficients[:2]))
    return pressure, float(np.dot(stress(e_o, nu_o, a, 1), coefficients[:2]))


@given(
    eps=st.floats(1e-5, 0.01),
    a=st.floats(1.0, 5.0),
    wall=st.floats(0.1, 3.0),
    e_o=st.floats(50e3, 250e3),
    e_i=st.floats(1e3, 50e3),
    nu_o=st.floats(0.1, 0.4),
    nu_i=st.floats(0.1, 0.4),
)
def test_bound_equals_lame_field_solved_from_its_boundary_conditions(eps, a, wall, e_o, e_i, nu_o, nu_i) -> None:
    fit = bound_ring_stress(
        eps, inner_mm=a, outer_mm=a + wall, e_ring_mpa=e_o, e_core_mpa=e_i, nu_ring=nu_o, nu_core=nu_i
    )
    pressure, hoop = solve_lame(eps, a, a + wall, e_o=e_o, e_i=e_i, nu_o=nu_o, nu_i=nu_i)
    assert fit.pressure_mpa == pytest.approx(pressure, rel=1e-9)
    assert fit.hoop_tension_mpa == pytest.approx(hoop, rel=1e-9)
    assert fit.hoop_tension_mpa <= fit.ceiling_mpa


@pytest.mark.parametrize(("e_core_mpa", "tension_mpa"), [(math.inf, 99.4), (15e3, 50.0)])
def test_ceramic_ring_on_stone_gives_the_stated_check_values(e_core_mpa: float, tension_mpa: float) -> None:
    # Own arithmetic on the same closed form: ring 3 to 4 mm, 70 GPa, Poisson 0.2, expansion 0.15 %.
    fit = bound_ring_stress(
        0.0015, inner_mm=3, outer_mm=4, e_ring_mpa=70e3, e_core_mpa=e_core_mpa, nu_ring=0.2, nu_core=0.2
    )
    assert abs(fit.hoop_tension_mpa - tension_mpa) <= HALF_DIGIT


@pytest.mark.parametrize(("inner_mm", "outer_mm", "expansion"), [(4, 4, 0.001), (0, 4, 0.001), (3, 4, -0.001)])
def test_impossible_ring_is_refused(inner_mm: float, outer_mm: float, expansion: float) -> None:
    with pytest.raises(ValueOutOfRange):
        bound_ring_stress(expansion, inner_mm=inner_mm, outer_mm=outer_mm, e_ring_mpa=70e3, nu_ring=0.2, nu_core=0.2)
