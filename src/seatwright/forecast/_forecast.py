"""The forecast of one case, put together: chain, misfits, chance of seating, what matters, what to change."""

import numpy as np

from seatwright.case import Case
from seatwright.forecast._answer import (
    forecast_features,
    list_correlations,
    list_inputs,
    list_links,
    list_room,
    name_left_out,
)
from seatwright.forecast._changes import search_changes
from seatwright.forecast._choices import Choices
from seatwright.forecast._findings import find_remarks
from seatwright.forecast._misfit import find_measurands
from seatwright.forecast._result import ForecastResult
from seatwright.forecast._seating import Setup, build_setup, estimate_chance
from seatwright.forecast._sensitivity import rank_links
from seatwright.forecast._update import MeasuredUnit
from seatwright.progress import SILENT, Progress

__all__ = ["forecast_seating"]

_N_RANKED = 768  # judgement: standard errors near .02 for the links that matter
_N_TRIED = 2000  # judgement: standard error of a gain about .01 with common random numbers


def forecast_seating(
    case: Case,
    choices: Choices,
    rng: np.random.Generator,
    *,
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
    measured : tuple of MeasuredUnit
        A cast check's units with covariance, once there is one.
    n_trials : int
        Trials of the seating program; fewer than 4000 also make ranges, ranking and changes coarser.

    Returns
    -------
    ForecastResult

    Raises
    ------
    CaseError
        If a link is missing, a guided attachment has no clearance, nothing must fit, or stated correlations contradict
        each other.

    References
    ----------
    .. [1] JCGM 100:2008, clause 5; JCGM 101:2008, clauses 7 and 8.
    """
    seed = int(rng.integers(2**62))
    progress.report(0.0, "building the chain")
    setup = build_setup(case, choices, measured=measured)
    progress.report(0.1, "propagating the chain")
    features = forecast_features(setup.chain, choices, seed)
    progress.report(0.3, "trying the partial on")
    chance = estimate_chance(case, choices, setup, seed=seed, n_trials=n_trials, measured=measured)
    unmeasured = build_setup(case, choices, pool_of=setup) if measured else None
    before = estimate_chance(case, choices, unmeasured, seed=seed, n_trials=n_trials) if unmeasured else None
    progress.report(0.6, "ranking the links")
    ranked = rank_links(setup, seed=seed, n_samples=min(_N_RANKED, n_trials))
    progress.report(0.8, "trying what could be changed")
    changes = search_changes(case, choices, setup, seed=seed, measured=measured, n_trials=min(_N_TRIED, n_trials))
    progress.report(1.0, "done")
    links = list_links(setup.chain, choices)
    best = next((c for c in changes if c.low is not None), None)
    return ForecastResult(
        seed=seed,
        n_trials=n_trials,
        p_seats=chance,
        features=features,
        ranked=ranked,
        changes=changes,
        links=links,
        inputs=list_inputs(setup.chain),
        correlations=list_correlations(setup.chain),
        room=list_room(setup.features, setup.bodies, choices),
        left_out=name_left_out(case),
        measured=tuple(m.tooth for m in measured),
        before=before,
        before_u_um=_spreads(unmeasured, choices) if unmeasured else {},
        findings=find_remarks(case, choices, setup, chance, links, best=best),
    )


def _spreads(setup: Setup, choices: Choices) -> dict[str, float]:
    covariance = setup.chain.covariance
    return {
        f"{m.id}: {m.what}": 1000 * float(m.coefficients @ covariance @ m.coefficients) ** 0.5
        for m in find_measurands(setup.chain, choices)
    }
