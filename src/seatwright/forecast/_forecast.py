"""The forecast of one case, put together: chain, misfits, chance of seating, what matters, what to change."""

import math

import numpy as np

from seatwright.case import Case
from seatwright.forecast._causes import Chain
from seatwright.forecast._changes import search_changes
from seatwright.forecast._choices import Choices
from seatwright.forecast._features import Rest
from seatwright.forecast._findings import find_remarks
from seatwright.forecast._links import find_link
from seatwright.forecast._misfit import Measurand, find_measurands, share_of_links
from seatwright.forecast._result import (
    CauseInput,
    Contribution,
    FeatureForecast,
    ForecastResult,
    LinkUsed,
)
from seatwright.forecast._seating import build_setup, estimate_chance
from seatwright.forecast._sensitivity import rank_links
from seatwright.forecast._trials import JointDraws, stream
from seatwright.forecast._update import MeasuredUnit
from seatwright.progress import SILENT, Progress
from seatwright.quantities import (
    Budget,
    FloatArray,
    compare_with_budget,
    law_fields,
    propagate_jointly,
    summarize_draws,
)

__all__ = ["forecast_seating"]


def forecast_seating(
    case: Case,
    choices: Choices,
    rng: np.random.Generator,
    *,
    rests: tuple[Rest, ...] = (),
    measured: tuple[MeasuredUnit, ...] = (),
    n_trials: int = 20_000,
    progress: Progress = SILENT,
) -> ForecastResult:
    """Forecast misfit and seating of a case's partial.

    Parameters
    ----------
    case : Case
    choices : Choices
        What the case document leaves open, with the dies step's techniques and the pour step's band.
    rng : numpy.random.Generator
        One integer is drawn from it: the seed, recorded in the result. The same state gives the same answer, bit for
        bit.
    rests : tuple of Rest
    measured : tuple of MeasuredUnit
        A cast check's units with covariance, once there is one.
    n_trials : int
        Trials of the seating program.

    Returns
    -------
    ForecastResult

    Raises
    ------
    CaseError
        If a link is missing, a guided attachment has no clearance, or nothing must fit.

    References
    ----------
    .. [1] JCGM 100:2008, clause 5; JCGM 101:2008, clauses 7 and 8.
    """
    seed = int(rng.integers(2**62))
    progress.report(0.0, "building the chain")
    setup = build_setup(case, choices, rests=rests, measured=measured)
    progress.report(0.1, "propagating the chain")
    features = _forecast_features(setup.chain, choices, seed)
    progress.report(0.3, "trying the partial on")
    chance, _ = estimate_chance(case, choices, setup, seed=seed, n_trials=n_trials, rests=rests, measured=measured)
    progress.report(0.6, "ranking the links")
    ranked = rank_links(setup, seed=seed)
    progress.report(0.8, "trying what could be changed")
    changes = search_changes(case, choices, setup, seed=seed, rests=rests, measured=measured)
    progress.report(1.0, "done")
    return ForecastResult(
        seed=seed,
        n_trials=n_trials,
        p_seats=chance,
        features=features,
        ranked=ranked,
        changes=changes,
        links=_links_used(setup.chain),
        inputs=_inputs(setup.chain),
        measured=tuple(m.tooth for m in measured),
        findings=find_remarks(case, choices, setup, chance),
    )


def _forecast_features(chain: Chain, choices: Choices, seed: int) -> tuple[FeatureForecast, ...]:
    measurands = find_measurands(chain, choices)
    lines = [m.coefficients for m in measurands]
    seconds = {k: len(lines) + i for i, k in enumerate(k for k, m in enumerate(measurands) if m.second is not None)}
    lines += [m.second for m in measurands if m.second is not None]
    draw = JointDraws(chain.causes, np.array(lines) @ chain.loading)
    drawn, _ = propagate_jointly(draw, stream(seed, "misfit"))
    return tuple(
        _one_feature(chain, m, drawn[k], drawn[seconds[k]] if k in seconds else None) for k, m in enumerate(measurands)
    )


def _one_feature(chain: Chain, measurand: Measurand, drawn: FloatArray, second: FloatArray | None) -> FeatureForecast:
    bias = float(measurand.coefficients @ chain.mean)
    u = math.sqrt(float(measurand.coefficients @ chain.covariance @ measurand.coefficients))
    seen = summarize_draws(drawn * 1000)
    budget = Budget(bias * 1000, u * 1000, math.inf, measurand.coefficients, measurand.coefficients)
    agrees = compare_with_budget(seen, budget, n_digits=1).agrees
    length = np.abs(drawn) if second is None else np.hypot(drawn, second)
    shares = share_of_links(chain, measurand.coefficients)
    ranked = sorted(shares.items(), key=lambda item: -item[1])
    return FeatureForecast(
        id=measurand.id,
        what=measurand.what,
        bias_um=bias * 1000,
        u_um=u * 1000,
        interval95_um=(seen.low, seen.high),
        p_within=float(np.mean(length <= measurand.allowed_mm)),
        allowed_um=measurand.allowed_mm * 1000,
        contributions=tuple(Contribution(link, share) for link, share in ranked),
        propagation_agrees=agrees,
        trusted="both" if agrees else "monte carlo",
    )


def _links_used(chain: Chain) -> tuple[LinkUsed, ...]:
    counts: dict[str, int] = {}
    for cause in chain.causes:
        counts[cause.link] = counts.get(cause.link, 0) + 1
    links = [(find_link(name), n) for name, n in counts.items()]
    return tuple(LinkUsed(k.id, k.title, k.words, k.evidence, k.how_good, n) for k, n in links)


def _inputs(chain: Chain) -> tuple[CauseInput, ...]:
    inputs = []
    for cause in chain.causes:
        moves = {}
        for i, feature in enumerate(chain.features):
            part = cause.loading[6 * i : 6 * i + 6]
            if np.any(part):
                moves[feature.id] = tuple(float(v) for v in part)
        inputs.append(CauseInput(cause.name, cause.link, law_fields(cause.law), cause.unit, moves))
    return tuple(inputs)
