"""Which links decide whether it seats: variance-based indices of the slack, link by link.

All causes of a link go together as one group. The groups are independent, because whatever two features share was
factored into one cause; a cast check's correlated remainder is one group of its own.
"""

import numpy as np

from seatwright.errors import CannotCompute
from seatwright.forecast._links import find_link
from seatwright.forecast._result import RankedLink
from seatwright.forecast._seating import Setup
from seatwright.forecast._trials import draw_causes
from seatwright.quantities import FloatArray, estimate_sobol

__all__ = ["rank_links"]

_N_SAMPLES = 768  # judgement: standard errors near .02 for the links that matter


def rank_links(setup: Setup, *, seed: int, n_samples: int = _N_SAMPLES) -> tuple[RankedLink, ...]:
    """Rank the links by their total index of the slack, largest first; empty when the slack does not vary."""
    chain = setup.chain
    columns: dict[str, list[int]] = {}
    for k, cause in enumerate(chain.causes):
        if cause.law.u > 0:
            columns.setdefault(cause.link, []).append(k)
    if not columns:
        return ()
    loading = chain.loading

    def slack(causes: FloatArray) -> FloatArray:
        return setup.program.solve(causes @ loading.T).slack_mm

    sample = draw_causes(chain.causes, seed, 2 * n_samples)
    try:
        found = estimate_sobol(slack, sample[:n_samples], sample[n_samples:], list(columns.values()))
    except CannotCompute:
        return ()
    order = np.argsort(-found.total, kind="stable")
    names = list(columns)
    return tuple(
        RankedLink(
            link=names[i],
            title=find_link(names[i]).title,
            words=find_link(names[i]).words,
            first=float(found.first[i]),
            total=float(found.total[i]),
            u_total=float(found.u_total[i]),
        )
        for i in order
    )
