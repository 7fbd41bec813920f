"""One verdict word per unit: what the latest finished step says of it.

Owns the choice of words; computes nothing.
"""

from dataclasses import dataclass

from seatwright.dies import Technique
from seatwright.figures._ink import is_grave
from seatwright.findings import Severity, Verdict, worst_severity
from seatwright.workflows.results import Dossier

__all__ = ["TECHNIQUE_WORDS", "VERDICT_WORDS", "UnitAnswer", "answer_units"]

TECHNIQUE_WORDS = {
    Technique.GEL: "gel",
    Technique.PATTERN_RESIN: "pattern resin",
    Technique.RETURNED_EPOXY: "epoxy die",
    Technique.MASKED: "masked",
    Technique.STONE: "stone",
    Technique.ANALOG: "analog",
    Technique.NONE: "no die",
}
VERDICT_WORDS = {
    Verdict.CONFORMS: "in place",
    Verdict.DOES_NOT_CONFORM: "moved",
    Verdict.CANNOT_TELL: "cannot tell",
}
_VERDICT_SEVERITY = {
    Verdict.CONFORMS: Severity.NOTE,
    Verdict.DOES_NOT_CONFORM: Severity.STOP,
    Verdict.CANNOT_TELL: Severity.CAUTION,
}


@dataclass(frozen=True, slots=True)
class UnitAnswer:
    """What stands beside a unit: a word, a number with its unit or nothing, and how grave it is."""

    tooth: int
    word: str
    number: str
    severity: Severity | None
    spoken: str


def _loud_only(severity: Severity | None) -> Severity | None:
    """Leave a die's cautions to its steps: on the sheet only what asks for a change stands out."""
    return severity if is_grave(severity) else Severity.NOTE


def answer_units(dossier: Dossier) -> dict[int, UnitAnswer]:
    """Return one answer per unit, keyed by tooth: the cast check's where there is one, else the die's."""
    answers: dict[int, UnitAnswer] = {}
    for die in dossier.dies.units:
        word = "none is safe" if die.chosen is None else TECHNIQUE_WORDS[die.chosen]
        severity = Severity.STOP if die.chosen is None else _loud_only(worst_severity(die.findings))
        label = dossier.label(die.tooth)
        answers[die.tooth] = UnitAnswer(die.tooth, word, "", severity, f"{label}: {word}. Never: {die.never}")
    for cast in dossier.casts:
        for unit in cast.result.units:
            tooth = int(unit.tooth)
            word = VERDICT_WORDS[unit.verdict]
            number = unit.shown_shift()
            spoken = f"{dossier.label(tooth)}: {word}, shift {number}"
            answers[tooth] = UnitAnswer(tooth, word, number, _VERDICT_SEVERITY[unit.verdict], spoken)
    return answers
