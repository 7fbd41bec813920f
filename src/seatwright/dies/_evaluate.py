"""The one evaluator of the decision table.

Veto beats all. Then, per technique, the worst word of the margin rows and of the kind rows counts; techniques that are
equal so far are told apart by their conditions, then by the minutes left, then by the documented order.
A warning of a condition row is shown but does not dethrone what the margin chose.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from seatwright.dies._facts import UnitFacts
from seatwright.dies._result import Effect, RuleHit, Technique, TechniqueVerdict
from seatwright.dies._rows_gate import GATE_ROWS
from seatwright.dies._rows_margin import MARGIN_ROWS
from seatwright.dies._rows_unit import CONDITION_ROWS, KIND_ROWS
from seatwright.dies._rules import Rule, RuleRow, Stage

__all__ = ["RULES", "TIE_ORDER", "Evaluation", "evaluate", "rule_table"]

RULES: tuple[Rule, ...] = (*GATE_ROWS, *MARGIN_ROWS, *KIND_ROWS, *CONDITION_ROWS)
"""The whole decision table."""

TIE_ORDER = (
    Technique.RETURNED_EPOXY,
    Technique.GEL,
    Technique.MASKED,
    Technique.PATTERN_RESIN,
    Technique.STONE,
    Technique.ANALOG,
    Technique.NONE,
)
"""Which comes first when nothing else tells two techniques apart: the laboratory's own die, then the quicker resin."""

_GRAVITY = {effect: level for level, effect in enumerate(Effect)}


@dataclass(frozen=True, slots=True)
class Evaluation:
    """What the table says of one unit."""

    chosen: Technique | None
    ranked: tuple[TechniqueVerdict, ...]
    applied: tuple[Rule, ...]
    """Every row whose condition holds, in table order."""

    def verdict(self, technique: Technique) -> TechniqueVerdict:
        """Return what the table says of one technique."""
        return next(v for v in self.ranked if v.technique is technique)


@dataclass(frozen=True, slots=True)
class _Standing:
    technique: Technique
    hits: tuple[RuleHit, ...]
    is_vetoed: bool
    by_margin_and_kind: int
    by_condition: int


def evaluate(
    facts: UnitFacts, *, technique_min: Mapping[Technique, float] | None = None, share_min: float | None = None
) -> Evaluation:
    """Apply the decision table to one unit.

    Parameters
    ----------
    facts : UnitFacts
    technique_min : mapping, optional
        Typical minutes of each technique on this unit.
    share_min : float, optional
        Minutes left for this unit. Of two techniques that the table leaves equal, one that fits goes first; when
        neither fits, the quicker does. Minutes never outweigh a row.

    Returns
    -------
    Evaluation
        `chosen` is None when every technique is vetoed.
    """
    applied = tuple(rule for rule in RULES if rule.applies(facts))
    vetoes_epoxy = any(_effect(rule, Technique.RETURNED_EPOXY, has_epoxy=True) is Effect.VETOED for rule in applied)
    standings = [_stand(technique, applied, facts, has_epoxy=not vetoes_epoxy) for technique in TIE_ORDER]
    minutes = technique_min or {}

    def key(standing: _Standing) -> tuple[float, ...]:
        order = TIE_ORDER.index(standing.technique)
        if standing.is_vetoed:
            return (True, 0, 0, 0, order)
        takes = minutes.get(standing.technique, 0.0)
        late = takes if share_min is not None and takes > share_min else 0.0
        return (False, standing.by_margin_and_kind, standing.by_condition, late, order)

    standings.sort(key=key)
    chosen = None if standings[0].is_vetoed else standings[0].technique
    verdicts = [_verdict(standing, chosen) for standing in standings]
    verdicts.sort(key=lambda verdict: _GRAVITY[verdict.effect])
    return Evaluation(chosen, tuple(verdicts), applied)


def _effect(rule: Rule, technique: Technique, *, has_epoxy: bool) -> Effect | None:
    cell = rule.cells.get(technique)
    return cell.effect_for(has_epoxy=has_epoxy) if cell else None


def _stand(technique: Technique, applied: tuple[Rule, ...], facts: UnitFacts, *, has_epoxy: bool) -> _Standing:
    said = [(rule, effect) for rule in applied if (effect := _effect(rule, technique, has_epoxy=has_epoxy)) is not None]
    hits = sorted(
        (RuleHit(rule.id, effect, rule.reason_for(facts), rule.source) for rule, effect in said),
        key=lambda hit: -_GRAVITY[hit.effect],
    )
    return _Standing(
        technique=technique,
        hits=tuple(hits),
        is_vetoed=any(effect is Effect.VETOED for _, effect in said),
        by_margin_and_kind=_worst(effect for rule, effect in said if rule.stage is not Stage.CONDITION),
        by_condition=_worst(effect for rule, effect in said if rule.stage is Stage.CONDITION),
    )


def _worst(effects: Iterable[Effect]) -> int:
    """Gravity of the worst word; nothing said counts as allowed."""
    return max((_GRAVITY[effect] for effect in effects), default=_GRAVITY[Effect.ALLOWED])


def _verdict(standing: _Standing, chosen: Technique | None) -> TechniqueVerdict:
    if standing.technique is chosen:
        return TechniqueVerdict(standing.technique, Effect.CHOSEN, standing.hits)
    worst = max((hit.effect for hit in standing.hits), key=_GRAVITY.__getitem__, default=Effect.ALLOWED)
    shown = Effect.ALLOWED if worst is Effect.CHOSEN else worst
    return TechniqueVerdict(standing.technique, shown, standing.hits)


def rule_table() -> tuple[RuleRow, ...]:
    """Return the decision table as it is printed.

    Examples
    --------
    >>> [row.rule_id for row in rule_table() if row.stage == "kind"][:2]
    ['primary-telescope', 'primary-conus']
    """
    return tuple(
        RuleRow(
            rule_id=rule.id,
            stage=str(rule.stage),
            condition=rule.condition,
            effects={t: rule.cells[t].shown() if t in rule.cells else "" for t in TIE_ORDER},
            reason=rule.reason,
            do=rule.do,
            source=rule.source.shown(),
            remark=rule.remark,
        )
        for rule in RULES
    )
