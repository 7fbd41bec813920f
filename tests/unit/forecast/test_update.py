"""A measurement conditions the joint law; it does not replace a link."""

import numpy as np
import pytest

from seatwright.case import MaleJoin
from seatwright.errors import ValueOutOfRange
from seatwright.forecast import (
    Choices,
    ForecastResult,
    MeasuredUnit,
    SeatingChance,
    SeatingWord,
    condition_linear,
    forecast_seating,
)
from seatwright.forecast._findings import find_remarks
from seatwright.forecast._misfit import find_measurands, shapley_of_links, share_of_links
from seatwright.forecast._seating import build_setup
from seatwright.forecast._trials import JointDraws, draw_errors
from seatwright.forecast._update import find_surprises

from .seating_cases import RESTS, seat_case

CHOICES = Choices(male_joined={"sleeve-front": MaleJoin.LUTED_ON_CAST, "slide-35": MaleJoin.LUTED_ON_CAST})
CHANCE = SeatingChance(0.9, 0.01, 0.88, 0.92, 0.7, 0.95, SeatingWord.USUALLY, (), 1000, 5.0)
PLACES = {r.tooth: np.array(r.seed_mm) for r in seat_case(rest=RESTS[2:]).region}


def measured(shifts: dict[int, tuple[float, float, float]], *, u_mm: float = 0.008) -> tuple[MeasuredUnit, ...]:
    cov = np.diag([u_mm**2] * 3 + [0.002**2] * 3)
    return tuple(MeasuredUnit(t, np.array(s), np.zeros(3), cov, PLACES[t]) for t, s in shifts.items())


def distance(units: tuple[MeasuredUnit, ...]) -> tuple[float, float]:
    chain = build_setup(seat_case(rest=RESTS[2:]), CHOICES, measured=units).chain
    line = next(m for m in find_measurands(chain, CHOICES) if m.id == "conus-37 to slide-35").coefficients
    return 1000 * float(line @ chain.mean), 1000 * float(line @ chain.covariance @ line) ** 0.5


def test_a_sum_seen_by_one_reading_splits_and_correlates_its_parts() -> None:
    prior = np.diag([30.0**2, 40.0**2, 20.0**2])
    mean, cov = condition_linear(np.zeros(3), prior, np.ones((1, 3)), np.array([60.0]), np.array([[100.0]]))
    assert np.round(mean) == pytest.approx([18, 32, 8])
    sd = np.sqrt(np.diag(cov))
    assert sd == pytest.approx([25.1, 27.3, 18.6], abs=0.05)
    assert cov[0, 1] / (sd[0] * sd[1]) == pytest.approx(-0.70, abs=0.005)
    assert np.ones(3) @ cov @ np.ones(3) == pytest.approx(9.83**2, rel=0.001)


def test_one_quantity_and_one_reading_match_the_closed_form() -> None:
    mean, cov = condition_linear(np.zeros(1), np.eye(1) * 50.0**2, np.eye(1), np.array([80.0]), np.eye(1) * 10.0**2)
    assert mean[0] == pytest.approx(76.923, abs=0.0005)
    assert cov[0, 0] ** 0.5 == pytest.approx(9.806, abs=0.0005)


def test_a_negative_measurement_covariance_is_refused() -> None:
    with pytest.raises(ValueOutOfRange, match="negative"):
        condition_linear(np.zeros(1), np.eye(1), np.eye(1), np.zeros(1), -np.eye(1))


def test_a_cast_check_narrows_the_distance_it_measured() -> None:
    _, before = distance(())
    _, after = distance(measured(dict.fromkeys((37, 35, 33, 43, 44, 45), (0.0, 0.0, 0.0))))
    assert after < 0.7 * before


def test_a_common_motion_of_all_units_teaches_nothing_about_distances() -> None:
    teeth = (37, 35, 33, 43, 44, 45)
    still, u_still = distance(measured(dict.fromkeys(teeth, (0.0, 0.0, 0.0))))
    moved, u_moved = distance(measured(dict.fromkeys(teeth, (0.3, -0.2, 0.1))))
    assert moved == pytest.approx(still, abs=0.5)
    assert u_moved == pytest.approx(u_still, rel=1e-6)


def test_a_measured_shift_moves_the_forecast_by_nearly_as_much() -> None:
    teeth = dict.fromkeys((37, 35, 33, 43, 44, 45), (0.0, 0.0, 0.0))
    along = PLACES[37] - PLACES[35]
    along = along / np.linalg.norm(along)
    still, _ = distance(measured(teeth))
    shifted, _ = distance(measured({**teeth, 37: tuple(0.1 * along)}))
    assert 60 < shifted - still < 105


def test_a_unit_that_carries_nothing_teaches_nothing() -> None:
    before = distance(measured({37: (0.0, 0.0, 0.0), 35: (0.0, 0.0, 0.0)}))
    # 45 carries only a male joined in the mouth: the cast's error there reaches no feature.
    after = distance(measured({37: (0.0, 0.0, 0.0), 35: (0.0, 0.0, 0.0), 45: (0.2, 0.0, 0.0)}))
    assert after == pytest.approx(before, abs=1e-3)


def test_a_check_far_outside_the_prior_is_told_and_an_ordinary_one_is_not() -> None:
    teeth = dict.fromkeys((37, 35, 33, 43, 44, 45), (0.0, 0.0, 0.0))
    ordinary = build_setup(seat_case(), CHOICES, measured=measured(teeth))
    assert min(ordinary.surprises.values()) > 0.01
    # One die of many that floated stands out, though all others agree better than expected.
    floated = measured({**teeth, 44: (0.0, 0.0, 0.25)})
    moved = build_setup(seat_case(), CHOICES, measured=floated)
    assert moved.surprises["44"] < 0.001
    assert moved.surprises["37"] > 0.01
    remarks = find_remarks(seat_case(), CHOICES, moved, CHANCE, ())
    told = [f for f in remarks if f.id == "forecast-cast-check-surprises"]
    assert [f.about for f in told] == ["44"]


def test_a_reading_far_outside_the_prior_is_believed_and_not_shrunk_to_it() -> None:
    teeth = dict.fromkeys((37, 35, 33, 43, 44, 45), (0.0, 0.0, 0.0))

    def height_um(shift_mm: float) -> float:
        chain = build_setup(seat_case(), CHOICES, measured=measured({**teeth, 44: (0.0, 0.0, shift_mm)})).chain
        at = next(i for i, f in enumerate(chain.features) if f.id == "rest-44")
        other = next(i for i, f in enumerate(chain.features) if f.id == "rest-43")
        return 1000 * float(chain.mean[6 * at + 2] - chain.mean[6 * other + 2])

    assert 210 < height_um(0.25) < 260
    # An ordinary one is weighed against the chain.
    assert 10 < height_um(0.03) < 28


def test_surprise_keeps_its_level_when_the_chain_is_true() -> None:
    chain = build_setup(seat_case(rest=RESTS[2:]), CHOICES).chain
    rng = np.random.default_rng(9)
    cov = np.diag([0.008**2] * 3 + [0.002**2] * 3)
    carried = {37: 0, 35: 1, 44: len(chain.features) - 1}
    chances = []
    for _ in range(300):
        drawn = np.zeros(6 * len(chain.features))
        for cause in chain.causes:
            if cause.link in ("pick_up", "whole_cast_scale", "die"):
                drawn += cause.loading * rng.normal(cause.law.mean, cause.law.u)
        noise = rng.multivariate_normal(np.zeros(6), cov, len(carried))
        units = tuple(
            MeasuredUnit(
                t, drawn[6 * i : 6 * i + 3] + e[:3], drawn[6 * i + 3 : 6 * i + 6] + e[3:], cov, chain.features[i].at_mm
            )
            for (t, i), e in zip(carried.items(), noise, strict=True)
        )
        chances.append(min(find_surprises(chain, units).values()))
    # The smallest of three, counted for all three: never more often below a level than the level says.
    assert 0.04 < np.mean(np.array(chances) < 0.1) < 0.16
    assert 0.3 < np.mean(np.array(chances) < 0.5) < 0.62


def test_the_result_tells_before_and_after_and_stays_the_same_for_a_seed() -> None:
    units = measured(dict.fromkeys((37, 35, 33), (0.0, 0.0, 0.0)))

    def run(seen: tuple[MeasuredUnit, ...]) -> ForecastResult:
        return forecast_seating(
            seat_case(rest=RESTS[2:]), CHOICES, np.random.default_rng(2), measured=seen, n_trials=400
        )

    first, without = run(units), run(())
    assert first == run(units)
    assert first.measured == (37, 35, 33)
    assert first.before is not None
    assert first.before.value == without.p_seats.value
    assert first.before_u_um["conus-37 to slide-35: distance"] == pytest.approx(
        next(f.u_um for f in without.features if f.what == "distance")
    )
    assert without.before is None
    assert without.correlations == ()
    assert first.correlations
    # The check sees three links together: Sobol's indices are of the three, Shapley effects part them.
    tied = [r for r in first.ranked if len(r.indices_of) > 1]
    assert {r.link for r in tied} == {"pick_up", "die", "whole_cast_scale"}
    assert sum(r.share for r in first.ranked) == pytest.approx(1)


def test_links_that_a_check_saw_together_share_a_variance_with_a_sign_and_without_one() -> None:
    teeth = dict.fromkeys((37, 35, 33, 43, 44, 45), (0.0, 0.0, 0.0))
    chain = build_setup(seat_case(rest=RESTS[2:]), CHOICES, measured=measured(teeth, u_mm=0.002)).chain
    line = next(m for m in find_measurands(chain, CHOICES) if m.what == "distance").coefficients
    signed, fair = share_of_links(chain, line), shapley_of_links(chain, line)
    assert sum(signed.values()) == pytest.approx(1)
    assert sum(fair.values()) == pytest.approx(1)
    assert min(fair.values()) >= 0
    assert signed != pytest.approx(fair)
    # What the check did not see is independent of it and keeps the same share both ways.
    assert signed["framework"] == pytest.approx(fair["framework"]) if "framework" in signed else True


def test_drawn_errors_have_the_joint_law_that_the_check_left() -> None:
    teeth = dict.fromkeys((37, 35, 33, 43, 44, 45), (0.0, 0.0, 0.0))
    chain = build_setup(seat_case(rest=RESTS[2:]), CHOICES, measured=measured({**teeth, 37: (0.05, 0.0, 0.0)})).chain
    line = next(m for m in find_measurands(chain, CHOICES) if m.what == "distance").coefficients
    n = 40_000
    drawn = draw_errors(chain, 3, n) @ line
    u = float(line @ chain.covariance @ line) ** 0.5
    assert drawn.mean() == pytest.approx(line @ chain.mean, abs=4 * u / n**0.5)
    assert drawn.std() == pytest.approx(u, rel=4 / (2 * n) ** 0.5)
    joint = JointDraws(chain, np.array([line]) @ chain.loading)(np.random.default_rng(1), n)[0]
    assert joint.std() == pytest.approx(u, rel=4 / (2 * n) ** 0.5)
