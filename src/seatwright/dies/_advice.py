"""Findings of one unit: why nothing is possible, what to do first, what to watch with the chosen die.

Owns the wording of findings. Knows no step cards.
"""

from collections.abc import Iterator
from dataclasses import replace

from seatwright.case import CoreKind, Intaglio, Stone
from seatwright.dies._evaluate import Evaluation, evaluate
from seatwright.dies._facts import EdgeClass, UnitFacts
from seatwright.dies._result import Effect, Technique
from seatwright.dies._returned import DieFaultKind, DieValidity
from seatwright.dies._rules import Rule, Stage
from seatwright.dies._shrink_fit import bound_ring_stress
from seatwright.evidence import find_evidence
from seatwright.findings import COMMON_PRACTICE, Finding, Severity, Source, SourceKind, sort_findings

__all__ = ["TECHNIQUE_WORDS", "explain_choice", "unit_findings"]

TECHNIQUE_WORDS = {
    Technique.GEL: "light-cured gel with a bent pin",
    Technique.PATTERN_RESIN: "pattern resin with a pin",
    Technique.RETURNED_EPOXY: "the returned epoxy die",
    Technique.MASKED: "ceramic masked with wax, then gel",
    Technique.STONE: "stone with a pin",
    Technique.ANALOG: "the matching analog",
    Technique.NONE: "no die",
}
_CURED_INSIDE = (Technique.GEL, Technique.PATTERN_RESIN, Technique.MASKED)
_FROM_CASE = Source(SourceKind.CASE, "returned die and its trial")


def explain_choice(facts: UnitFacts, evaluation: Evaluation) -> str:
    """Return one sentence: why this technique, or why none."""
    if evaluation.chosen is None:
        blocking = [rule.reason_for(facts) for rule in evaluation.applied if _blocks_all(rule)]
        return f"No die now: {blocking[0] if blocking else 'each technique is vetoed by a row of its own'}."
    hits = evaluation.verdict(evaluation.chosen).hits
    kinds = {rule.id for rule in evaluation.applied if rule.stage is Stage.KIND}
    speaking = [hit for hit in hits if hit.effect is Effect.CHOSEN] or list(hits)
    speaking.sort(key=lambda hit: hit.rule_id not in kinds)
    words = TECHNIQUE_WORDS[evaluation.chosen]
    sentence = f"{_sentence(words)}: {speaking[0].reason}"
    has_refused = any(not die.is_valid for die in facts.dies) and facts.valid_die is None
    return f"{sentence}; the returned die is not valid." if has_refused else f"{sentence}."


def unit_findings(facts: UnitFacts, evaluation: Evaluation) -> tuple[Finding, ...]:
    """Return the findings of one unit, gravest first."""
    found = [
        *_nothing_possible(facts, evaluation),
        *(_refused_die(facts, die) for die in facts.dies if not die.is_valid),
        *_do_first(facts, evaluation),
        *_warnings(facts, evaluation),
        *_treated_inside(facts, evaluation),
        *_core(facts),
        *_partners(facts, evaluation),
        *_not_lifted(facts),
        *_stone_stress(facts, evaluation),
    ]
    return sort_findings(tuple(found))


def _finding(
    facts: UnitFacts,
    name: str,
    severity: Severity,
    *,
    what: str,
    why: str = "",
    do: str = "",
    source: Source = COMMON_PRACTICE,
) -> Finding:
    return Finding(name, severity, f"{facts.tooth}: {what}.", why, do, source, str(facts.tooth))


def _blocks_all(rule: Rule) -> bool:
    """Whether the row vetoes every die that is formed in the crown."""
    formed = (Technique.GEL, Technique.PATTERN_RESIN, Technique.MASKED, Technique.STONE)
    return all(t in rule.cells and rule.cells[t].effect is Effect.VETOED for t in formed)


def _nothing_possible(facts: UnitFacts, evaluation: Evaluation) -> Iterator[Finding]:
    if evaluation.chosen is not None:
        return
    blocking = [rule for rule in evaluation.applied if _blocks_all(rule) and rule.do]
    for rule in blocking:
        why = rule.reason_for(facts)
        yield _finding(
            facts, rule.id, Severity.STOP, what="no die is possible", why=why, do=rule.do, source=rule.source
        )
    if not blocking:
        why = "; ".join(f"{v.technique.value.replace('_', ' ')}: {v.hits[0].reason}" for v in evaluation.ranked)
        steps = _steps_at_hand(facts, evaluation)
        do = f"{_sentence(' and '.join(steps))}." if steps else "Decide together: a duplicate die, or a new impression."
        yield _finding(facts, "every-die-vetoed", Severity.STOP, what="every die is vetoed", why=why, do=do)


def _refused_die(facts: UnitFacts, die: DieValidity) -> Finding:
    kinds = {fault.kind for fault in die.faults}
    unseen = {DieFaultKind.NOT_TRIED, DieFaultKind.GAP_UNMEASURED}
    why = ", ".join(fault.what for fault in die.faults)
    if kinds <= unseen:
        return _finding(
            facts,
            "returned-die-untried",
            Severity.CAUTION,
            what=f"returned die {die.die} counts as absent until it is tried",
            why=why,
            do="Try it in the dry crown, see the gap all round, log the trial.",
            source=_FROM_CASE,
        )
    is_mirror = DieFaultKind.MIRROR_TOOTH in kinds
    name = "returned-die-mirror-tooth" if is_mirror else "returned-die-invalid"
    do = "Do not use it. " + (
        f"Put it aside, look for the die engraved {facts.tooth}, and check {die.engraved} for the same swap."
        if die.has_wrong_number
        else "It counts as absent; ask the laboratory."
    )
    what = f"returned die {die.die} is not valid"
    return _finding(facts, name, Severity.WARNING, what=what, why=why, do=do, source=_FROM_CASE)


def _do_first(facts: UnitFacts, evaluation: Evaluation) -> Iterator[Finding]:
    """Say what the answer would be after steps that the bench can take at once."""
    steps = _steps_at_hand(facts, evaluation)
    needs_type_4 = _needs_type_4(evaluation)
    after = replace(
        facts,
        is_dried=facts.is_dried or facts.is_out,
        open_features=(),
        is_screw_channel_open=False,
        stone=Stone.TYPE_4 if needs_type_4 else facts.stone,
    )
    then = evaluate(after).chosen
    if steps and then is not None and then is not evaluation.chosen:
        yield _finding(
            facts,
            "do-first",
            Severity.WARNING,
            what=f"first {steps[0]}, the better die follows",
            why="the table answers for the crown as it is now",
            do=f"{_sentence(' and '.join(steps))}: then {TECHNIQUE_WORDS[then]}.",
        )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}"


def _needs_type_4(evaluation: Evaluation) -> bool:
    return any(rule.id == "brittle-edge-needs-type-4" for rule in evaluation.applied)


def _steps_at_hand(facts: UnitFacts, evaluation: Evaluation) -> list[str]:
    """Return what the bench can do at once to lift a veto."""
    steps = []
    if facts.is_moist and facts.is_out and facts.valid_die is not None:
        steps.append("dry the inside with pellets and log it")
    if facts.open_features:
        steps.append(f"block out the {', '.join(facts.open_features)}")
    if facts.is_screw_channel_open:
        steps.append("plug the screw channel")
    if _needs_type_4(evaluation):
        steps.append("plan the first pour in Type 4 stone")
    return steps


def _warnings(facts: UnitFacts, evaluation: Evaluation) -> Iterator[Finding]:
    if evaluation.chosen is None:
        return
    warned = {hit.rule_id for hit in evaluation.verdict(evaluation.chosen).hits if hit.effect is Effect.WARNED}
    for rule in evaluation.applied:
        if rule.id in warned or rule.id == "core-in-crown":
            what = f"{TECHNIQUE_WORDS[evaluation.chosen]}, with care"
            why = rule.reason_for(facts)
            yield _finding(facts, rule.id, Severity.CAUTION, what=what, why=why, do=rule.do, source=rule.source)


def _treated_inside(facts: UnitFacts, evaluation: Evaluation) -> Iterator[Finding]:
    if facts.intaglio is not Intaglio.CLEAN and evaluation.chosen in _CURED_INSIDE:
        yield _finding(
            facts,
            "separator-mandatory",
            Severity.WARNING,
            what="separator before any resin",
            why=f"the inside is {facts.intaglio.replace('_', '-')}: resin bonds to it and the crown is lost",
            do="Cover the whole inside; clean and treat it anew before cementation.",
        )
    if facts.intaglio is Intaglio.ETCHED and facts.surfaces_with(EdgeClass.GLASS_CERAMIC):
        yield _finding(
            facts,
            "etched-too-early",
            Severity.CAUTION,
            what="etched before the pick-up",
            why="impression, separator and stone soil an etched inside",
            do="Clean and etch after the partial is finished, right before cementation.",
        )


def _core(facts: UnitFacts) -> Iterator[Finding]:
    if facts.core is CoreKind.TOOTH or facts.core_cemented or facts.is_core_in_crown or facts.is_out:
        return
    yield _finding(
        facts,
        "core-not-cemented",
        Severity.WARNING,
        what="its core is not cemented yet",
        why="the pick-up may lift the core inside the crown, and the crown is then hard to core",
        do="Cement the core before the pick-up.",
    )


def _partners(facts: UnitFacts, evaluation: Evaluation) -> Iterator[Finding]:
    if not facts.partners_with_brittle_edge or facts.has_brittle_edge or evaluation.chosen is None:
        return
    teeth = ", ".join(str(tooth) for tooth in facts.partners_with_brittle_edge)
    yield _finding(
        facts,
        "partner-has-brittle-edge",
        Severity.CAUTION,
        what=f"joined to a brittle edge at {teeth}",
        why="a pry here is a pry there",
        do="Lift the whole body at once, along its axis.",
    )


def _not_lifted(facts: UnitFacts) -> Iterator[Finding]:
    if not facts.impression:
        yield _finding(
            facts,
            "unit-not-lifted",
            Severity.CAUTION,
            what="no pick-up impression lifts it",
            do="Name it in the impression's list, or leave it out of the case.",
        )


def _stone_stress(facts: UnitFacts, evaluation: Evaluation) -> Iterator[Finding]:
    edges = [e for e in facts.edges if e.edge_class in (EdgeClass.BUTT, EdgeClass.GLASS_CERAMIC)]
    is_out_of_question = evaluation.verdict(Technique.STONE).effect is Effect.VETOED
    if not edges or facts.neck_mm is None or is_out_of_question:
        return
    is_glass = any(e.edge_class is EdgeClass.GLASS_CERAMIC for e in edges)
    modulus = "cer_e_glass" if is_glass else "cer_e_feldspathic"
    inner_mm = facts.neck_mm / 2
    nu = find_evidence("cer_nu").require_value()
    fit = bound_ring_stress(
        find_evidence("die_stone_expansion_t4").require_value() / 100,
        inner_mm=inner_mm,
        outer_mm=inner_mm + min(e.thickness_mm for e in edges),
        e_ring_mpa=1000 * find_evidence(modulus).require_value(),
        e_core_mpa=1000 * find_evidence("die_stone_e").require_value(),
        nu_ring=nu,
        nu_core=nu,
    )
    yield _finding(
        facts,
        "stone-stress-bound",
        Severity.NOTE,
        what=f"stone could pull {fit.hoop_tension_mpa:.0f} MPa at most round the edge (ceiling {fit.ceiling_mpa:.0f})",
        why="thick-walled cylinder, stone as hard as it ever gets; while it expands it is soft: a number to rank by, "
        "never a gate",
        source=Source(
            SourceKind.JUDGEMENT, f"thick-walled cylinder [{modulus}, cer_nu, die_stone_e, die_stone_expansion_t4]"
        ),
    )
