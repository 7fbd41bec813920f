"""A scanner's length error that grows with distance: closed forms, and drawn strains of a whole arch."""

import numpy as np
import pytest
from scipy import stats

from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._frame import settle_units
from seatwright.cast._lattice import Pose, fit_lattice
from seatwright.cast._length_error import add_length_error, strain_modes
from seatwright.cast._pairs import compare_pairs
from seatwright.errors import ValueOutOfRange

ARCH = np.array([[x, x * x / 19, 0.5 * np.sin(k)] for k, x in enumerate(np.linspace(-27, 27, 10))])
TEETH = tuple(str(t) for t in (46, 45, 44, 43, 42, 32, 33, 34, 35, 36))
NOISE = np.diag([0.003**2] * 3 + [0.0005**2] * 3)
SLOPE = 0.0006  # 0.6 µm per mm: 30 µm over 50 mm at most


def poses(rng: np.random.Generator, strain: np.ndarray) -> tuple[Pose, ...]:
    """Units of an unmoved cast, seen through a strained scan with noise of its own on each."""
    made = []
    for c in ARCH:
        off = np.concatenate([strain @ (c - ARCH.mean(axis=0)), np.zeros(3)])
        made.append(Pose(c, off + rng.multivariate_normal(np.zeros(6), NOISE), NOISE, c))
    return tuple(made)


def draw_strain(rng: np.random.Generator, u: float) -> np.ndarray:
    """Half the variance uniform; the rest a symmetric matrix of normal numbers, whatever the axes (random matrices)."""
    a = rng.normal(size=(3, 3))
    return np.sqrt(0.5) * u * rng.normal() * np.eye(3) + np.sqrt(0.5) * u * (a + a.T) / 2


def test_distance_is_uncertain_by_the_declared_error_whatever_its_direction() -> None:
    """Closed form: b d / sqrt(3) (rectangular law, JCGM 100, 4.3.7), no other error: 30 µm over 50 mm make 17.3."""
    rng = np.random.default_rng(1)
    for way in rng.normal(size=(5, 3)):
        far = 50 * way / np.linalg.norm(way)
        still = [Pose(c, np.zeros(6), 1e-20 * np.eye(6), c) for c in (np.zeros(3), far)]
        [pair] = compare_pairs(("46", "36"), add_length_error(still, SLOPE), {}, [], 50)
        assert pair.change_um.u == pytest.approx(50 * 0.6 / np.sqrt(3), rel=1e-6)


def test_drawn_strains_have_the_covariance_of_the_modes() -> None:
    """20000 strains of a general-purpose generator: variances are known to 1 %."""
    rng = np.random.default_rng(2)
    drawn = np.array([draw_strain(rng, SLOPE / np.sqrt(3)).ravel() for _ in range(20_000)])
    modes = strain_modes(SLOPE).reshape(7, 9)
    assert modes.T @ modes == pytest.approx(drawn.T @ drawn / len(drawn), abs=0.03 * SLOPE**2 / 3)


def test_scale_takes_the_uniform_half_into_its_uncertainty() -> None:
    rng = np.random.default_rng(3)
    plain = poses(rng, np.zeros((3, 3)))
    before = fit_lattice(plain, ARCH.mean(axis=0), SCALE_PRIOR).scale.u
    after = fit_lattice(add_length_error(plain, SLOPE), ARCH.mean(axis=0), SCALE_PRIOR).scale.u
    # the strain along the arch counts too, so more than the uniform half and less than all
    assert np.sqrt(before**2 + SLOPE**2 / 6) < after < np.sqrt(before**2 + SLOPE**2 / 3)


def test_intervals_and_alarms_hold_under_drawn_strains() -> None:
    """250 unmoved casts: raw and own shifts and the scale cover, and at most as many alarms as promised."""
    rng = np.random.default_rng(4)
    raw, own, scales, alarms, uneven = [], [], [], 0, 0
    for _ in range(250):
        strain = draw_strain(rng, SLOPE / np.sqrt(3))
        settled = settle_units(add_length_error(poses(rng, strain), SLOPE), (), (), SCALE_PRIOR)
        scales.append(settled.lattice.scale.value / settled.lattice.scale.u)
        for unit in settled.units:
            raw.append(np.abs(unit.raw[:3]) < 1.96 * np.sqrt(np.diag(unit.raw_covariance)[:3]))
            own.append(np.abs(unit.own[:3]) < 1.96 * np.sqrt(np.diag(unit.own_covariance)[:3]))
        alarms += max(u.own @ np.linalg.solve(u.own_covariance, u.own) for u in settled.units) > settled.stable.gate
        assert settled.uniform_chance is not None
        uneven += settled.uniform_chance < 0.05
    # the ten units of a cast share its strain: 250 casts know a coverage to about 0.01
    assert np.mean(raw) == pytest.approx(0.95, abs=0.025)
    assert np.mean(own) == pytest.approx(0.95, abs=0.025)
    assert np.mean(np.square(scales)) == pytest.approx(1.0, abs=0.3)
    assert stats.binomtest(int(alarms), 250, 0.05, alternative="greater").pvalue > 0.01
    assert stats.binomtest(int(uneven), 250, 0.05, alternative="greater").pvalue > 0.01


def test_undeclared_strain_would_raise_alarms() -> None:
    """The same casts without the declaration: what the term is for."""
    rng = np.random.default_rng(4)
    alarms = 0
    for _ in range(60):
        settled = settle_units(poses(rng, 2 * draw_strain(rng, SLOPE / np.sqrt(3))), (), (), SCALE_PRIOR)
        alarms += max(u.own @ np.linalg.solve(u.own_covariance, u.own) for u in settled.units) > settled.stable.gate
    assert alarms > 20


def test_splint_that_a_strained_scan_shows_bent_stays_one_body() -> None:
    rng = np.random.default_rng(5)
    group = [[0, 9]]
    calm, torn = 0, 0
    for _ in range(40):
        plain = poses(rng, draw_strain(rng, SLOPE / np.sqrt(3)))
        calm += bool(settle_units(add_length_error(plain, SLOPE), group, (), SCALE_PRIOR).broken)
        torn += bool(settle_units(plain, group, (), SCALE_PRIOR).broken)
    assert calm <= 1  # judged at a chance of .001
    assert torn > 10


def test_none_declared_changes_nothing_and_a_wrong_one_is_refused() -> None:
    plain = poses(np.random.default_rng(6), np.zeros((3, 3)))
    assert add_length_error(plain, 0.0) == plain
    with pytest.raises(ValueOutOfRange, match="length error"):
        add_length_error(plain, -0.1)
