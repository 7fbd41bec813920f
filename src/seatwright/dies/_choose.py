"""The public question of this room, which die each unit of the case gets, and its answer.

Owns the loop over units and bars and the order of the answer.
"""

from collections.abc import Iterator, Mapping

from seatwright.case import Case, CaseState, ImpressionRole
from seatwright.dies._advice import explain_choice, unit_findings
from seatwright.dies._bars import plan_bar_stops
from seatwright.dies._cards import make_cards, total_minutes
from seatwright.dies._evaluate import TIE_ORDER, evaluate
from seatwright.dies._facts import UnitFacts, derive_unit_facts
from seatwright.dies._never import say_never
from seatwright.dies._result import DieResult, UnitDie
from seatwright.findings import Finding, Severity, sort_findings

__all__ = ["choose_dies"]

_RIGHT_QUADRANTS = (1, 4)  # ISO 3950: quadrants of the patient's right side


def choose_dies(case: Case, state: CaseState, *, minutes_left: Mapping[str, float] | None = None) -> DieResult:
    """Choose one die for each unit, and say why not the others.

    Parameters
    ----------
    case : Case
    state : CaseState
        Fold of the log; an empty one asks for the plan.
    minutes_left : mapping of impression id to minutes, optional
        Time left for all dies of an impression. It decides between techniques that the table leaves equal; it never
        outweighs a row.

    Returns
    -------
    DieResult
        Units along the arch from the patient's right to the left; `chosen` is None where every technique is vetoed.

    Notes
    -----
    The table is common practice from experience, supported by published figures only where a row says so.
    """
    facts = {unit.tooth: derive_unit_facts(case, state, unit) for unit in case.unit}
    n_dies: dict[str, int] = {}
    for one in facts.values():
        n_dies[one.impression] = n_dies.get(one.impression, 0) + (1 if one.needs_die else 0)
    units = []
    for tooth in sorted(facts, key=_place_along_arch):
        one = facts[tooth]
        left = (minutes_left or {}).get(one.impression)
        share_min = None if left is None else left / max(n_dies[one.impression], 1)
        units.append(_answer(one, share_min))
    bars = tuple(
        plan_bar_stops(bar, tuple(facts[t] for t in (bar.from_tooth, bar.to_tooth) if t in facts)) for bar in case.bar
    )
    findings = (
        *_uncounted(case, state),
        *(finding for unit in units for finding in unit.findings),
        *(finding for bar in bars for finding in bar.findings),
    )
    return DieResult(tuple(units), bars, sort_findings(findings))


def _uncounted(case: Case, state: CaseState) -> Iterator[Finding]:
    """Say which pick-ups are out of the mouth with their crowns not counted yet."""
    for impression in case.impression:
        done = state.impressions.get(impression.id)
        if impression.role is ImpressionRole.PICK_UP and done and done.out_at is not None and not done.counted:
            yield Finding(
                "crowns-not-counted",
                Severity.WARNING,
                f"{impression.id}: crowns not counted yet.",
                "A crown left behind is an airway danger first and a false cast second.",
                "Count the crowns in the tray and check each seat before any die is made.",
                about=impression.id,
            )


def _place_along_arch(tooth: int) -> int:
    """Position from the patient's right (-8) to the left (8)."""
    quadrant, position = divmod(tooth, 10)
    return -position if quadrant in _RIGHT_QUADRANTS else position


def _answer(facts: UnitFacts, share_min: float | None) -> UnitDie:
    minutes = {technique: total_minutes(make_cards(technique, facts)).typical_min for technique in TIE_ORDER}
    evaluation = evaluate(facts, technique_min=minutes, share_min=share_min)
    return UnitDie(
        tooth=facts.tooth,
        impression=facts.impression,
        chosen=evaluation.chosen,
        because=explain_choice(facts, evaluation),
        never=say_never(facts, evaluation.chosen),
        ranked=evaluation.ranked,
        cards=() if evaluation.chosen is None else make_cards(evaluation.chosen, facts),
        findings=unit_findings(facts, evaluation),
    )
