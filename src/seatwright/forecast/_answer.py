"""What the answer shows beside the chance: misfit of each place, links, inputs, room, and what is left out."""

import math

import numpy as np

from seatwright.case import Case
from seatwright.forecast._bodies import Body
from seatwright.forecast._chain import Chain
from seatwright.forecast._choices import Choices
from seatwright.forecast._features import Feature
from seatwright.forecast._levels import read_record, worst_confidence
from seatwright.forecast._links import find_link
from seatwright.forecast._misfit import Measurand, find_measurands, shapley_of_links, share_of_links
from seatwright.forecast._result import (
    CauseInput,
    Contribution,
    Correlation,
    FeatureForecast,
    LeftOut,
    LinkUsed,
    Room,
)
from seatwright.forecast._trials import JointDraws, stream
from seatwright.quantities import (
    Budget,
    FloatArray,
    compare_with_budget,
    effective_dof,
    law_fields,
    propagate_jointly,
    summarize_draws,
)

__all__ = ["forecast_features", "list_correlations", "list_inputs", "list_links", "list_room", "name_left_out"]


def forecast_features(chain: Chain, choices: Choices, seed: int) -> tuple[FeatureForecast, ...]:
    """Return the misfit of each place by the law of propagation and by Monte Carlo, compared."""
    measurands = find_measurands(chain, choices)
    lines = [m.coefficients for m in measurands]
    seconds = {k: len(lines) + i for i, k in enumerate(k for k, m in enumerate(measurands) if m.second is not None)}
    lines += [m.second for m in measurands if m.second is not None]
    draw = JointDraws(chain, np.array(lines) @ chain.loading)
    drawn, _ = propagate_jointly(draw, stream(seed, "misfit"))
    return tuple(
        _one_feature(chain, m, drawn[k], drawn[seconds[k]] if k in seconds else None) for k, m in enumerate(measurands)
    )


def _one_feature(chain: Chain, measurand: Measurand, drawn: FloatArray, second: FloatArray | None) -> FeatureForecast:
    line = measurand.coefficients
    bias, u = float(line @ chain.mean), math.sqrt(float(line @ chain.covariance @ line))
    dof = _effective_dof(chain, line)
    budget = Budget(bias * 1000, u * 1000, dof, line, line)
    seen = summarize_draws(drawn * 1000)
    agrees = compare_with_budget(seen, budget, n_digits=1).agrees
    length = np.abs(drawn) if second is None else np.hypot(drawn, second)
    return FeatureForecast(
        id=measurand.id,
        what=measurand.what,
        bias_um=bias * 1000,
        u_um=u * 1000,
        interval95_um=(seen.low, seen.high),
        p_within=float(np.mean(length <= measurand.allowed_mm)),
        allowed_um=measurand.allowed_mm * 1000,
        contributions=_largest_first(share_of_links(chain, line)),
        shapley=_largest_first(shapley_of_links(chain, line)),
        dof=dof if math.isfinite(dof) else None,
        propagation95_um=budget.interval(),
        propagation_agrees=agrees,
        trusted="both" if agrees else "monte carlo",
    )


def _effective_dof(chain: Chain, line: FloatArray) -> float:
    """Combine link by link: the causes of one link share one spread, so they share its degrees of freedom."""
    if chain.correlation is not None:
        return math.inf
    reach = (line @ chain.loading) * chain.u
    parts, dofs = [], []
    for columns in chain.columns_by_link().values():
        parts.append(float(np.linalg.norm(reach[columns])))
        dofs.append(min(chain.causes[k].law.dof for k in columns))
    return effective_dof(np.array(parts), dofs)


def _largest_first(shares: dict[str, float]) -> tuple[Contribution, ...]:
    return tuple(Contribution(link, share) for link, share in sorted(shares.items(), key=lambda item: -item[1]))


def list_links(chain: Chain, choices: Choices) -> tuple[LinkUsed, ...]:
    """Return the links in use with the records they rest on here and the worst confidence among these."""
    evidence: dict[str, dict[str, None]] = {}
    counts: dict[str, int] = {}
    for cause in chain.causes:
        counts[cause.link] = counts.get(cause.link, 0) + 1
        evidence.setdefault(cause.link, {}).update(dict.fromkeys(cause.evidence))
    return tuple(
        LinkUsed(name, find_link(name).title, find_link(name).words, ids, worst_confidence(ids, choices).value, n)
        for name, n in counts.items()
        if (ids := tuple(evidence[name])) is not None
    )


def list_inputs(chain: Chain) -> tuple[CauseInput, ...]:
    """Return every random input with its law and what it moves."""
    inputs = []
    for cause in chain.causes:
        moves = {}
        for i, feature in enumerate(chain.features):
            part = cause.loading[6 * i : 6 * i + 6]
            if np.any(part):
                moves[feature.id] = tuple(float(v) for v in part)
        dof = cause.law.dof if math.isfinite(cause.law.dof) else None
        inputs.append(CauseInput(cause.name, cause.link, law_fields(cause.law), cause.unit, dof, cause.evidence, moves))
    return tuple(inputs)


def list_correlations(chain: Chain) -> tuple[Correlation, ...]:
    """Return every pair of inputs that is correlated."""
    if chain.correlation is None:
        return ()
    names = [cause.name for cause in chain.causes]
    return tuple(
        Correlation(names[i], names[j], float(chain.correlation[i, j]))
        for i, j in zip(*np.nonzero(np.triu(chain.correlation, 1)), strict=True)
    )


def list_room(features: tuple[Feature, ...], bodies: tuple[Body, ...], choices: Choices) -> tuple[Room, ...]:
    """Return the figures in use that give room to errors: play, give, allowed gaps."""
    abutments = [a for b in sorted({f.body for f in features}) for a in bodies[b].abutments]
    wanted = {
        "fc_play_cement": any(a.has_cement_space for a in abutments),
        "fc_play_mobility": any(not a.is_implant for a in abutments),
        "fc_play_axial": any(not a.is_implant for a in abutments),
        "fc_play_implant": any(a.is_implant for a in abutments),
        "fc_stud_give": any(f.is_guided and not f.is_rigid for f in features),
        "fc_rest_gap": choices.rest_gap_um is None and any(f.has_stop and f.allowed_mm is None for f in features),
        "fc_clasp_depth": any(f.kind == "clasp" for f in features),
        "fc_clasp_height": any(f.kind == "clasp" for f in features),
    }
    records = [read_record(name, choices) for name, used in wanted.items() if used]
    return tuple(Room(r.id, r.quantity, r.require_value(), r.unit, r.confidence.value) for r in records)


def name_left_out(case: Case) -> tuple[LeftOut, ...]:
    """Return the steps outside the chain: none of them moves a male or a rest against its seat before cementation."""
    left = [
        LeftOut(
            "mounting",
            "It moves whole casts against each other: it reaches the bite, not the seat. Held by rods it errs by some "
            "0.26 mm, more than any link here.",
            ("mount_stab",),
        ),
        LeftOut(
            "cementation",
            "Cement lifts a crown by about (film - spacer) / sin(half taper) where the film is thicker than the space. "
            "That comes after the seat, with the partial as guide.",
            ("fc_play_cement",),
        ),
        LeftOut(
            "friction and flexible clasps", "They resist the way in and spring; no placement is forbidden by them."
        ),
        LeftOut(
            "the ridge under an extension base", "It yields by more than every link; an altered cast is the answer."
        ),
    ]
    if case.guide_plane:
        left.append(
            LeftOut("guide planes", "They are relieved or adjusted at try-in; the case states no room for them.")
        )
    if any(bar.id not in {a.bar for a in case.attachment} for bar in case.bar):
        left.append(LeftOut("bars without sleeve or clip", "Nothing of the partial has to fit them."))
    return tuple(left)
