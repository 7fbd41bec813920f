"""Which links decide whether it seats: shares of the slack's variance, link by link.

All causes of a link go together as one group. Before a cast check the groups are independent, because whatever two
features share was factored into one cause, and Sobol's indices are given beside the Shapley effects. After it the links
that the check saw are correlated: they count as one group for Sobol's indices, and Shapley effects part them.
"""

import numpy as np

from seatwright.errors import CannotCompute
from seatwright.forecast._chain import Chain
from seatwright.forecast._links import find_link
from seatwright.forecast._result import RankedLink
from seatwright.forecast._seating import Setup
from seatwright.forecast._trials import draw_causes, stream
from seatwright.quantities import FloatArray, ShapleyEffects, SobolIndices, estimate_shapley, estimate_sobol

__all__ = ["rank_links"]


def rank_links(setup: Setup, *, seed: int, n_samples: int) -> tuple[RankedLink, ...]:
    """Rank the links by their Shapley effect on the slack, largest first; empty when the slack does not vary."""
    chain = setup.chain
    columns = chain.columns_by_link()
    if not columns:
        return ()
    loading = chain.loading

    def slack(causes: FloatArray) -> FloatArray:
        return setup.program.solve(causes @ loading.T).slack_mm

    sample = draw_causes(chain, seed, 2 * n_samples)
    halves = (sample[:n_samples], sample[n_samples:])
    together = _links_together(chain, columns)
    units = [[name] for name in columns if name not in together] + ([together] if together else [])
    joint = chain.correlated
    try:
        sobol = estimate_sobol(slack, *halves, [[k for name in unit for k in columns[name]] for unit in units])
        shapley = estimate_shapley(
            slack,
            halves,
            list(columns.values()),
            stream(seed, "orders of links"),
            joint=(joint, chain.covariance_of(joint)) if joint else None,
        )
    except CannotCompute:
        return ()
    return _ranked(list(columns), units, sobol, shapley)


def _links_together(chain: Chain, columns: dict[str, list[int]]) -> list[str]:
    """Return the links whose causes are correlated across links, in the chain's order."""
    joint = set(chain.correlated)
    return [name for name, own in columns.items() if joint & set(own)]


def _ranked(
    names: list[str], units: list[list[str]], sobol: SobolIndices, shapley: ShapleyEffects
) -> tuple[RankedLink, ...]:
    unit_of = {name: k for k, unit in enumerate(units) for name in unit}
    return tuple(
        RankedLink(
            link=names[i],
            title=find_link(names[i]).title,
            words=find_link(names[i]).words,
            share=float(shapley.effect[i]),
            u_share=float(shapley.u_effect[i]),
            first=float(sobol.first[unit_of[names[i]]]),
            total=float(sobol.total[unit_of[names[i]]]),
            u_total=float(sobol.u_total[unit_of[names[i]]]),
            indices_of=tuple(units[unit_of[names[i]]]),
        )
        for i in np.argsort(-shapley.effect, kind="stable")
    )
