"""The pour step: one clock per impression, at one moment.

Owns the order of the questions: how old, how kept, what it costs, what work is left, does it fit, how much stone.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from seatwright.case import Bench, Case, CaseState, Duration, Impression, ImpressionMaterial, StepCard, Storage
from seatwright.evidence import source_of
from seatwright.findings import Finding, Severity
from seatwright.pour._after import check_after, separation_window
from seatwright.pour._cards import AFTER_POUR, is_done, list_own_cards
from seatwright.pour._condition import Look, check_crowns, check_storage
from seatwright.pour._draft import Draft, make_draft
from seatwright.pour._fit import Fit, check_fit, find_fit
from seatwright.pour._mix import plan_mixes
from seatwright.pour._naming import lower_first, spoken
from seatwright.pour._result import (
    Band,
    CostBasis,
    CostStep,
    Feasibility,
    ImpressionClock,
    ImpressionPhase,
    Mix,
    PourResult,
    SpanCost,
)
from seatwright.pour._rows import Counts, find_ladders, minutes_of
from seatwright.pour._spans import Places, cost_over_span
from seatwright.pour._windows import Stretch, judge_at, maker_source, minutes_between, require_zone
from seatwright.pour._work import Job, build_job

__all__ = ["assess_pour"]

_POURING = ("box", "weigh", "mix", "pour")


def assess_pour(
    case: Case,
    state: CaseState,
    bench: Bench,
    *,
    die_cards: Mapping[str, Sequence[StepCard]],
    now: datetime,
    places: Places | None = None,
    cast_volumes_ml: Mapping[str, float] | None = None,
) -> PourResult:
    """Say for every impression: pour by when, work still needed, what waiting costs, how much powder and water.

    Parameters
    ----------
    case, state, bench
        What is planned, what happened, who and what there is. Events after `now` are left out.
    die_cards : mapping of impression id to step cards
        The dies' own cards, per impression; an impression without an entry has none.
    now : datetime
        The moment, with a time zone.
    places : mapping of tooth to coordinates, optional
        Centers in plan or in space, mm, any one frame; a span without them comes from an average arch and says so.
    cast_volumes_ml : mapping of impression id to ml, optional
        Volume of the whole cast, from a scan.

    Returns
    -------
    PourResult
        Times are in UTC. A missed window is a result with findings, never an error.

    Raises
    ------
    ValueOutOfRange
        If a time carries no time zone.

    References
    ----------
    Rows and numbers stand in the evidence tables `impressions` and `gypsum`; durations are common practice.
    """
    require_zone(now)
    drafts = [
        make_draft(case, impression, state.impressions.get(impression.id), bench, now=now, places=places)
        for impression in case.impression
    ]
    volumes = cast_volumes_ml or {}
    tried = {trial.tooth for trial in state.die_trials if minutes_between(trial.at, now) >= 0}
    die_cards = {
        key: tuple(c for c in cards if not (c.id == "die-trial" and c.tooth in tried))
        for key, cards in die_cards.items()
    }
    mixes = {
        d.impression.id: plan_mixes(d.impression, bench, d.spans, name=d.name, scanned_ml=volumes.get(d.impression.id))
        for d in drafts
    }
    jobs = {
        d.impression.id: build_job(
            case,
            d.impression,
            bench,
            mixes=mixes[d.impression.id],
            die_cards=die_cards.get(d.impression.id, ()),
            state=d.state,
        )
        for d in drafts
    }
    clocks = tuple(
        _clock(case, draft, bench, mixes=mixes[draft.impression.id], jobs=jobs, die_cards=die_cards) for draft in drafts
    )
    everything = [f for clock in clocks for f in (*clock.findings, *(f for mix in clock.mixes for f in mix.findings))]
    return PourResult(now.astimezone(UTC), clocks, tuple(_gravest_first(everything)))


def _clock(
    case: Case,
    draft: Draft,
    bench: Bench,
    *,
    mixes: tuple[Mix, ...],
    jobs: Mapping[str, Job],
    die_cards: Mapping[str, Sequence[StepCard]],
) -> ImpressionClock:
    impression, out = draft.impression, draft.out_at
    is_open = draft.phase in (ImpressionPhase.PLANNED, ImpressionPhase.WAITING)
    window_min = draft.window_min
    left_min = window_min - draft.minute
    fit: Fit | None = None
    if is_open:
        fit = find_fit(
            case,
            impression,
            bench,
            mixes=mixes,
            jobs=jobs,
            die_cards=die_cards.get(impression.id, ()),
            state=draft.state,
            left_min=left_min,
        )
    judged = judge_at(draft.history, draft.minute)
    from_min = _pour_from_min(impression)
    findings = tuple(_gravest_first(_findings(draft, fit, from_min)))
    nothing = Duration(0.0, 0.0, 0.0)
    separate_from, separate_by = separation_window(impression, draft.state, draft.phase)
    return ImpressionClock(
        impression=impression.id,
        phase=draft.phase,
        out_at=out,
        age_min=draft.minute if out else None,
        pour_from=out + timedelta(minutes=from_min) if out and is_open else None,
        pour_by=out + timedelta(minutes=window_min) if out else None,
        window_min=window_min,
        minutes_left=left_min if draft.phase is ImpressionPhase.WAITING else None,
        minutes_needed=fit.minutes if fit else nothing,
        people_used=fit.n_people if fit else 0,
        feasibility=fit.feasibility if fit else Feasibility.DONE,
        band=judged.rung.band,
        steps=_cost_steps(draft),
        mixes=mixes,
        cards=_own_cards_left(case, draft, bench, mixes, jobs[impression.id], findings=findings),
        separate_from=separate_from,
        separate_by=separate_by,
        findings=findings,
        bound_min=fit.bound if fit else None,
        decided_by=judged.rule,
        remedies=fit.remedies if fit else (),
    )


def _own_cards_left(
    case: Case, draft: Draft, bench: Bench, mixes: Sequence[Mix], job: Job, *, findings: Sequence[Finding]
) -> tuple[StepCard, ...]:
    """Return the pour's own cards still to do; drying stands with the die where the die's cards bring it.

    A card is read alone, so whatever stops the work stands on each card of the pour.
    """
    in_job = {(card.id, card.tooth) for card in job.cards}
    left = tuple(
        card
        for card in list_own_cards(case, draft.impression, bench, mixes)
        if not is_done(card, draft.state) and ((card.id, card.tooth) in in_job or card.id in AFTER_POUR)
    )
    if draft.phase is not ImpressionPhase.WAITING:
        return left
    if judge_at(draft.history, draft.minute).rung.band is Band.BEYOND:
        stops: tuple[str, ...] = ("Given up: not without the dentist's decision.",)
    else:
        stops = tuple(f"Not yet. {f.what}" for f in findings if f.severity is Severity.STOP)
    return tuple(replace(c, cautions=(*stops, *c.cautions)) if c.id in _POURING else c for c in left)


def _pour_from_min(impression: Impression) -> float:
    """Minutes to wait after the mouth: the maker's, else polyether's customary ones, else none."""
    if impression.maker.pour_from_min is not None:
        return impression.maker.pour_from_min
    return minutes_of("clock_pe_from") if impression.material is ImpressionMaterial.POLYETHER else 0.0


def _cost_steps(draft: Draft) -> tuple[CostStep, ...]:
    steps = []
    for stretch in draft.stretches:
        rung = stretch.judged.rung
        costs = [cost_over_span(span, rung, draft.impression.material) for span in draft.spans]
        spans = tuple(cost for cost in costs if cost is not None)
        steps.append(
            CostStep(
                stretch.since_min,
                stretch.until_min,
                rung.band,
                rung.bias_percent,
                rung.u_percent,
                spans,
                rung.source,
                " ".join([rung.how_good, *_caveats(draft, stretch, spans)]),
                rung.basis,
                stretch.judged.rule,
            )
        )
    return tuple(steps)


def _caveats(draft: Draft, stretch: Stretch, spans: Sequence[SpanCost]) -> list[str]:
    """Return what the figures of a stretch leave out, or rest on besides."""
    said = []
    middle = stretch.since_min + 1.0 if stretch.until_min is None else (stretch.since_min + stretch.until_min) / 2
    bare = draft.history.minutes_in((Storage.OPEN_AIR, Storage.DRY), middle)
    if draft.history.material.is_hydrocolloid and bare > 0 and stretch.judged.rung.bias_percent is not None:
        said.append("Minutes in open air are not in these figures: nobody measured them.")
    if any(cost.basis is CostBasis.WHOLE_CASTS for cost in spans):
        said.append("Across the arch: whole casts of two studies; the age at pouring is not in them.")
    return said


def _too_early(draft: Draft, from_min: float, *, is_waiting: bool) -> Finding:
    what = f"Do not pour the {lower_first(draft.name)} yet: {math.ceil(from_min - draft.minute)} min to wait."
    do = "Make the dies meanwhile."
    if not is_waiting:
        what = f"{draft.name} was poured {spoken(draft.minute)} after the mouth; {spoken(from_min)} are asked for."
        do = "Check the cast's distances before metal."
    is_ours = draft.impression.maker.pour_from_min is None
    why = "Elastic recovery." if is_ours else "The maker asks for it."
    of = source_of("clock_pe_from") if is_ours else maker_source()
    return Finding("pour-too-early", Severity.CAUTION, what, why, do, of, draft.impression.id)


def _findings(draft: Draft, fit: Fit | None, from_min: float) -> list[Finding]:
    found: list[Finding] = []
    impression = draft.impression
    if draft.state is not None:
        judged = judge_at(draft.history, draft.minute)
        look = Look(impression, draft.name, draft.state, draft.phase, draft.history, draft.minute, judged)
        found += [*check_crowns(look), *check_storage(look), *check_after(look, draft.now)]
        if draft.minute < from_min:
            found.append(_too_early(draft, from_min, is_waiting=look.is_waiting))
    if draft.history.maker_within_min is not None and fit is not None:
        found.append(_maker_rules(impression, draft.name, draft.history.maker_within_min))
    if fit is not None:
        found += check_fit(
            impression, fit, draft.stretches, name=draft.name, minute=draft.minute, longest=draft.spans[0]
        )
    return found


def _maker_rules(impression: Impression, name: str, within_min: float) -> Finding:
    table_min = find_ladders(impression.material, Counts.AGE)[0].within_min
    what = f"{name}: the maker's window rules, {spoken(within_min)}, kept as the maker asks."
    if within_min <= table_min:
        return Finding("maker-rules", Severity.NOTE, what, source=maker_source(), about=impression.id)
    why = f"Without the maker the window would be {spoken(table_min)}: independent studies are stricter."
    do = f"Pour within {spoken(table_min)} when you can."
    return Finding("maker-rules", Severity.CAUTION, what, why, do, maker_source(), impression.id)


def _gravest_first(findings: Sequence[Finding]) -> list[Finding]:
    order = list(Severity)
    return sorted(findings, key=lambda f: -order.index(f.severity))
