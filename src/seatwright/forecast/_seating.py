"""The chance that it seats: exact decision per trial, Monte Carlo interval, and the range over what is poorly known."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from seatwright.case import Case
from seatwright.forecast._bodies import Body, find_bodies
from seatwright.forecast._causes import build_chain
from seatwright.forecast._chain import Chain
from seatwright.forecast._choices import Choices
from seatwright.forecast._features import Feature, find_features, find_path
from seatwright.forecast._levels import list_poorly_known
from seatwright.forecast._program import SeatingProgram, build_program
from seatwright.forecast._result import Contribution, SeatingChance, SeatingWord
from seatwright.forecast._trials import draw_errors, stream
from seatwright.forecast._update import MeasuredUnit, condition_on_units, find_surprises
from seatwright.quantities import count_proportion

__all__ = ["Setup", "build_setup", "estimate_chance", "is_unsupported", "name_chance", "range_over_states"]

_N_STATES = 40  # judgement: enough for the 5 % and 95 % points of a smooth range
_N_STATE_TRIALS = 300  # judgement: at most; standard error below .03 per state, far below the ranges seen
_USUALLY, _RARELY = 2 / 3, 1 / 3  # judgement: words for a chance, no standard defines them


@dataclass(frozen=True, slots=True)
class Setup:
    """A case made ready for trials."""

    features: tuple[Feature, ...]
    bodies: tuple[Body, ...]
    chain: Chain
    program: SeatingProgram
    surprises: Mapping[str, float] = field(default_factory=dict)
    """Per measured body: chance that ordinary good technique puts it as far off as the cast check found it."""


def build_setup(
    case: Case,
    choices: Choices,
    *,
    measured: tuple[MeasuredUnit, ...] = (),
    pool_of: Setup | None = None,
) -> Setup:
    """Return features, bodies, chain (conditioned on measured units) and seating program."""
    bodies = find_bodies(case, choices.die_technique)
    features = find_features(case, bodies, choices)
    chain = build_chain(case, features, bodies, choices)
    surprises = find_surprises(chain, measured)
    if measured:
        chain = condition_on_units(chain, measured)
    like = pool_of.program if pool_of is not None else None
    program = build_program(features, bodies, find_path(case), choices, like=like)
    return Setup(features, bodies, chain, program, surprises)


def estimate_chance(
    case: Case,
    choices: Choices,
    setup: Setup,
    *,
    seed: int,
    n_trials: int,
    measured: tuple[MeasuredUnit, ...] = (),
) -> SeatingChance:
    """Return the chance with its Monte Carlo interval and its range over what is poorly known."""
    errors = draw_errors(setup.chain, seed, n_trials)
    answer = setup.program.solve(errors, sign_only=True)
    fails = answer.slack_mm < 0
    counted = count_proportion(int(n_trials - fails.sum()), n_trials)
    low, high = range_over_states(case, choices, setup, seed=seed, n_trials=n_trials, measured=measured)
    low, high = min(low, counted.value), max(high, counted.value)
    exact = setup.program.solve(errors[:2001]).slack_mm
    binds = answer.weights[fails].mean(axis=0) if fails.any() else np.zeros(len(setup.features))
    order = np.argsort(-binds, kind="stable")
    says = name_chance(counted.value, low, high)
    return SeatingChance(
        value=counted.value,
        u=counted.u,
        mc_low=counted.low,
        mc_high=counted.high,
        low=low,
        high=high,
        says=SeatingWord.CANNOT_TELL if is_unsupported(choices) else says,
        binds=tuple(Contribution(setup.features[i].id, float(binds[i])) for i in order if binds[i] > 0),
        n_trials=n_trials,
        slack_median_um=float(np.median(exact)) * 1000,
    )


def is_unsupported(choices: Choices) -> bool:
    """Return whether the impression is past what any source supports: then no chance can be told."""
    return choices.pour is not None and choices.pour.change is None


def range_over_states(
    case: Case,
    choices: Choices,
    setup: Setup,
    *,
    seed: int,
    n_trials: int,
    measured: tuple[MeasuredUnit, ...] = (),
) -> tuple[float, float]:
    """Return where nine states of knowledge in ten put the chance: every poorly known figure moved over its range."""
    names = list_poorly_known(choices)
    # A Latin hypercube: each link visits every part of its range once.
    rng = stream(seed, "states of knowledge")
    order = np.argsort(rng.random((len(names), _N_STATES)), axis=1)
    positions = 2 * (order + rng.random(order.shape)) / _N_STATES - 1
    chances = []
    for state in positions.T:
        levels = dict(zip(names, state.tolist(), strict=True))
        moved = replace(choices, levels={**choices.levels, **levels})
        there = build_setup(case, moved, measured=measured, pool_of=setup)
        errors = draw_errors(there.chain, seed, min(_N_STATE_TRIALS, n_trials // 4))
        chances.append(float(np.mean(there.program.solve(errors, sign_only=True).slack_mm >= 0)))
    low, high = np.quantile(chances, [0.05, 0.95])
    return float(low), float(high)


def name_chance(value: float, low: float, high: float) -> SeatingWord:
    """Put a chance and its range into one word.

    Examples
    --------
    >>> name_chance(0.92, 0.70, 0.99)
    <SeatingWord.USUALLY: 'usually'>
    >>> name_chance(0.5, 0.02, 0.98)
    <SeatingWord.CANNOT_TELL: 'evidence cannot tell'>
    """
    if low < _RARELY and high > _USUALLY:
        return SeatingWord.CANNOT_TELL
    if value >= _USUALLY:
        return SeatingWord.USUALLY
    if value <= _RARELY:
        return SeatingWord.RARELY
    return SeatingWord.SOMETIMES
