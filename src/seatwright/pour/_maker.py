"""The maker's figures in place of the table's: they prevail, and the table stays visible beside them."""

from dataclasses import replace

from seatwright.findings import Source, SourceKind
from seatwright.pour._result import Band, CostBasis
from seatwright.pour._rows import Ladder, Rung

__all__ = ["apply_maker"]


def apply_maker(ladder: Ladder, within_min: float, change_percent: float | None) -> Ladder:
    """Return the ladder with the maker's window in place of the table's: within to its end, at best stretched after.

    Past the maker's end the table's band stands, but never 'within': there the maker and the studies disagree.

    The table's costs stay with their minutes, since a maker's window is no measurement; the maker's own change, where
    stated, replaces them inside the window. Its u is then the table's, or half its size where the table has none
    (judgement).
    """
    kept: list[Rung] = []
    since = 0.0
    for rung in ladder.rungs:
        until = float("inf") if rung.until_min is None else rung.until_min
        if since < within_min:
            inside = min(until, within_min)
            kept.append(_by_maker(replace(rung, band=Band.WITHIN, until_min=inside), change_percent))
        if until > within_min:
            words = f"Past the maker's {within_min:g} min, so not supported by the maker. {rung.how_good}"
            band = Band.STRETCHED if rung.band is Band.WITHIN else rung.band
            kept.append(replace(rung, band=band, how_good=words))
        since = until
    return replace(ladder, id=f"{ladder.id}-by-maker", rungs=tuple(kept))


def _by_maker(rung: Rung, change_percent: float | None) -> Rung:
    maker = Source(SourceKind.MAKER, "window for this material")
    words = f"Maker's window. Without it: {rung.how_good}"
    if change_percent is None:
        return replace(rung, how_good=words, source=maker if rung.bias_percent is None else rung.source)
    u = rung.u_percent if rung.u_percent is not None else abs(change_percent) / 2
    return replace(
        rung,
        bias_percent=change_percent,
        u_percent=u,
        basis=CostBasis.MAKER,
        source=Source(SourceKind.MAKER, "linear change at the end of its window"),
        how_good=f"Maker's window and change; u is ours. Without it: {rung.how_good}",
    )
