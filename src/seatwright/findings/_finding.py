"""What every result is made of: findings with a source."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = [
    "COMMON_PRACTICE",
    "JUDGEMENT",
    "Finding",
    "Severity",
    "Source",
    "SourceKind",
    "sort_findings",
    "worst_severity",
]


class Severity(StrEnum):
    """How much a finding matters, mildest first."""

    NOTE = "note"
    """Worth knowing; nothing to do."""
    CAUTION = "caution"
    """Take care at this step."""
    WARNING = "warning"
    """Likely to spoil the work; change something or decide knowingly."""
    STOP = "stop"
    """Do not go on."""


class SourceKind(StrEnum):
    """Where a number or a rule comes from."""

    STANDARD = "standard"
    PAPER = "paper"
    HANDBOOK = "handbook"
    MAKER = "maker"
    CASE = "case"
    """Stated in the case, its log or the bench file."""
    MEASURED = "measured"
    """Computed here from this case's data."""
    COMMON_PRACTICE = "common practice"
    MEMORY = "from memory"
    JUDGEMENT = "judgement"


@dataclass(frozen=True, slots=True)
class Source:
    """Where something comes from; `reference` names document and clause, or the evidence id."""

    kind: SourceKind
    reference: str = ""

    def shown(self) -> str:
        """Return the source as a person reads it."""
        return f"{self.kind}: {self.reference}" if self.reference else str(self.kind)


COMMON_PRACTICE = Source(SourceKind.COMMON_PRACTICE)
JUDGEMENT = Source(SourceKind.JUDGEMENT)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing the tool noticed.

    Attributes
    ----------
    id : str
        Stable kebab-case name of the rule, such as ``margin-ceramic-butt``.
    severity : Severity
    what : str
        What was found, verdict first, one sentence.
    why : str
        The reason.
    do : str
        What to do about it.
    source : Source
    about : str
        Unit (tooth number), impression, scan or field that it concerns; empty for the whole case.
    """

    id: str
    severity: Severity
    what: str
    why: str = ""
    do: str = ""
    source: Source = COMMON_PRACTICE
    about: str = ""


def worst_severity(findings: tuple[Finding, ...]) -> Severity | None:
    """Return the gravest severity present, or None when there is no finding."""
    order = list(Severity)
    return max((f.severity for f in findings), key=order.index, default=None)


def sort_findings(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings gravest first; equal ones keep their order."""
    order = list(Severity)
    return tuple(sorted(findings, key=lambda f: -order.index(f.severity)))
