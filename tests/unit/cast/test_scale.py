"""The scale with and without what the pour lets expect: products of normal laws, and what must not change."""

from types import ModuleType

import numpy as np
import pytest
from scipy import stats

from seatwright.arch import SeedRegion, assign_regions
from seatwright.cast import CastQuestion, ScaleExpectation, check_cast, weigh_scale
from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._lattice import Pose, fit_lattice
from seatwright.mesh import Surface
from seatwright.quantities import Measured, ScaleCause

FLAT = Measured(0.0, 1e6, "1")


def expect(value: float, u: float) -> ScaleExpectation:
    return ScaleExpectation(
        Measured(value, u, "1"), (ScaleCause("stone", Measured(100 * value, 100 * u, "%"), ("x",)),)
    )


def test_product_of_two_normal_laws_is_the_closed_form() -> None:
    """N(0, 50) and a reading of 80 with u 10: 76.923, 9.806; in 0.001 % here."""
    report = weigh_scale(Measured(80e-5, 10e-5, "1"), FLAT, expect(0.0, 50e-5), 0.5)
    assert report.is_used
    assert report.posterior is not None
    assert 1e5 * report.posterior.value == pytest.approx(76.923, abs=5e-4)
    assert 1e5 * report.posterior.u == pytest.approx(9.806, abs=5e-4)
    assert report.normalized_error == pytest.approx(80 / (2 * np.hypot(10, 50)))
    # the same on a grid, by the general library's normal law
    grid = np.linspace(-200e-5, 300e-5, 200_001)
    weight = stats.norm.pdf(grid, 80e-5, 10e-5) * stats.norm.pdf(grid, 0.0, 50e-5)
    assert report.posterior.value == pytest.approx(float((weight * grid).sum() / weight.sum()), rel=1e-6)


def test_prior_that_steadied_the_fit_is_taken_out_exactly() -> None:
    """Three bodies: the marginal without the generic prior, times the expected one, is the fit with that one instead."""
    rng = np.random.default_rng(3)
    covariance = np.diag([0.01**2] * 3 + [0.002**2] * 3)
    centers = np.array([[-25.0, 20.0, 0.0], [0.0, -9.0, 1.0], [24.0, 21.0, 0.5]])
    poses = [
        Pose(c, np.concatenate([0.0012 * c, np.zeros(3)]) + rng.normal(0, 0.002, 6), covariance, c) for c in centers
    ]
    middle = centers.mean(axis=0)
    expected = expect(-0.0008, 0.002)
    found = fit_lattice(poses, middle, SCALE_PRIOR).scale
    report = weigh_scale(found, SCALE_PRIOR, expected, None)
    direct = fit_lattice(poses, middle, expected.value).scale
    assert report.is_used
    assert report.posterior is not None
    assert report.posterior.value == pytest.approx(direct.value, rel=1e-6)
    assert report.posterior.u == pytest.approx(direct.u, rel=1e-6)
    assert report.plain is not None
    assert report.plain.value == pytest.approx(fit_lattice(poses, middle, FLAT).scale.value, rel=1e-6)


@pytest.mark.parametrize(
    ("found", "chance", "why"),
    [
        (Measured(0.004, 1e-4, "1"), 0.5, "differ"),
        (Measured(0.001, 1e-4, "1"), 0.001, "uneven"),
        (SCALE_PRIOR, 0.5, "do not determine"),
    ],
)
def test_expectation_is_left_out_by_the_rule(found: Measured, chance: float, why: str) -> None:
    taken_in = SCALE_PRIOR if found is SCALE_PRIOR else FLAT
    report = weigh_scale(found, taken_in, expect(0.0008, 4e-4), chance)
    assert not report.is_used
    assert report.posterior == report.plain
    assert why in report.why


def test_expectation_changes_no_motion(arches: ModuleType) -> None:
    scene = arches.draw_scene(22, n_u=300, n_v=80, n_moved=2, noise=0.004)
    names = ("17", "16", "15", "14", "13", "12", "11", "21", "22", "23", "24", "25", "26", "27")
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)
    regions = assign_regions(reference, [SeedRegion(t, s, 3.5) for t, s in zip(names, scene.seeds, strict=True)])
    results = [
        check_cast(reference, poured, regions, tolerance_um=50, repeatability_um=4, question=question)
        for question in (
            CastQuestion(),
            CastQuestion(expected_scale=expect(1e-4, 4e-4)),
            CastQuestion(expected_scale=expect(0.01, 1e-4)),
        )
    ]
    plain, agreeing, absurd = results
    assert [r.scale_report.is_used for r in results if r.scale_report] == [False, True, False]
    for other in (agreeing, absurd):
        assert other.scale == plain.scale
        for one, two in zip(plain.units, other.units, strict=True):
            assert np.array_equal(one.shift_mm, two.shift_mm)
            assert np.array_equal(one.turn_deg, two.turn_deg)
            assert np.array_equal(one.covariance, two.covariance)
            assert one.verdict is two.verdict
    assert agreeing.scale_report is not None
    assert agreeing.scale_report.posterior is not None
    assert agreeing.scale_report.plain is not None
    assert agreeing.scale_report.posterior.u < agreeing.scale_report.plain.u
    assert [f.id for f in absurd.findings if "scale" in f.id] == ["cast-scale-unexpected"]
