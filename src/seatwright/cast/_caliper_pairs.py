"""Each distance by itself, before any network: how much it changed, how sure that is, and what checks it."""

import math
from dataclasses import replace

from seatwright.cast._caliper_asked import CaliperAsked
from seatwright.cast._caliper_change import EpochChange
from seatwright.cast._caliper_epochs import EpochNetwork, Figure
from seatwright.cast._caliper_readings import MeanDistance, Worth
from seatwright.cast._caliper_result import PairReport
from seatwright.cast._caliper_verdict import judge_change
from seatwright.findings import Verdict
from seatwright.quantities import Measured

__all__ = ["report_pairs"]

Pair = tuple[str, str]


def report_pairs(
    worth: Worth, asked: CaliperAsked, figure: Figure | None, change: EpochChange | None
) -> tuple[PairReport, ...]:
    """Report every distance that was read in either epoch, in order of first reading."""
    networks = figure.networks if figure is not None else ()
    by_epoch: list[EpochNetwork | None] = [None, None]
    if len(networks) == 2:
        by_epoch = [*networks]
    elif networks:
        by_epoch[0 if worth.reference else 1] = networks[0]
    aside = change.set_aside if change is not None else ()
    return tuple(
        replace(_report_pair(pair, worth, asked, (by_epoch[0], by_epoch[1])), is_set_aside=pair in aside)
        for pair in dict.fromkeys([*worth.reference, *worth.cast])
    )


def _report_pair(
    pair: Pair, worth: Worth, asked: CaliperAsked, networks: tuple[EpochNetwork | None, EpochNetwork | None]
) -> PairReport:
    before, after = worth.reference.get(pair), worth.cast.get(pair)
    change, verdict, within = None, Verdict.CANNOT_TELL, None
    if before is not None and after is not None:
        change = _change(before, after, asked, worth.dof)
        verdict, within = judge_change(change.value, change.u, asked.tolerance_um, dof=worth.dof)
    checks = [_check(pair, network) for network in networks]
    return PairReport(
        first=pair[0],
        second=pair[1],
        reference_mm=before.length_mm if before else None,
        cast_mm=after.length_mm if after else None,
        n_reference=before.n if before else 0,
        n_cast=after.n if after else 0,
        change_um=change,
        verdict=verdict,
        p_within=within,
        redundancy=(checks[0][0], checks[1][0]),
        w=(checks[0][1], checks[1][1]),
        detectable_um=(checks[0][2], checks[1][2]),
    )


def _change(before: MeanDistance, after: MeanDistance, asked: CaliperAsked, dof: float) -> Measured:
    reseat = math.sqrt(2.0) * asked.reseat_um  # both marks' crowns were seated again
    u_um = math.hypot(1e3 * before.u_mm, 1e3 * after.u_mm, reseat)
    return Measured(1e3 * (after.length_mm - before.length_mm), u_um, "µm", dof)


def _check(pair: Pair, network: EpochNetwork | None) -> tuple[float | None, float | None, float | None]:
    if network is None or pair not in network.pairs:
        return None, None, None
    row = network.pairs.index(pair)
    if not network.snooping.is_controlled[row]:
        return 0.0, None, None
    redundancy = float(network.fit.redundancy[row])
    return redundancy, float(network.snooping.w[row]), 1e3 * float(network.snooping.detectable_mm[row])
