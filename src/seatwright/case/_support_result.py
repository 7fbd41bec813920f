"""What the support step of a case answers: class, spaces, the rules that had a say, open questions."""

from dataclasses import dataclass
from enum import StrEnum

from seatwright.findings import Finding

__all__ = ["AppliedRule", "EdentulousSpace", "KennedyClass", "SpaceRole", "SupportResult"]


class KennedyClass(StrEnum):
    """Kennedy's four classes."""

    I = "I"  # noqa: E741 - the field's own symbol
    """Free ends on both sides."""
    II = "II"
    """A free end on one side."""
    III = "III"
    """Bounded spaces only."""
    IV = "IV"
    """One bounded space across the midline, and no other."""


class SpaceRole(StrEnum):
    """What a space is to the classification."""

    DECIDING = "deciding"
    MODIFICATION = "modification"


@dataclass(frozen=True, slots=True)
class EdentulousSpace:
    """A run of teeth that the partial replaces, from the patient's right to the left."""

    teeth: tuple[int, ...]
    role: SpaceRole
    is_free_end: bool
    """No standing tooth behind it on at least one side."""
    is_across_midline: bool


@dataclass(frozen=True, slots=True)
class AppliedRule:
    """One of Applegate's rules and what it did here."""

    number: int
    effect: str


@dataclass(frozen=True, slots=True)
class SupportResult:
    """Class of the arch as the partial sees it.

    Attributes
    ----------
    kennedy_class : KennedyClass or None
        None when nothing is to be replaced, no tooth stands, or a question is open.
    n_modifications : int
    spaces : tuple of EdentulousSpace
        From the patient's right to the left; empty while a question is open.
    rules : tuple of AppliedRule
        Applegate's rules that had a say, by number.
    questions : tuple of str
        What must be asked before a class can be given.
    findings : tuple of Finding
    """

    kennedy_class: KennedyClass | None
    n_modifications: int
    spaces: tuple[EdentulousSpace, ...]
    rules: tuple[AppliedRule, ...]
    questions: tuple[str, ...]
    findings: tuple[Finding, ...]

    def shown(self) -> str:
        """Return the class as a person reads it.

        Examples
        --------
        >>> SupportResult(KennedyClass.II, 2, (), (), (), ()).shown()
        'Kennedy class II modification 2'
        """
        if self.kennedy_class is None:
            return "Kennedy class not decided" if self.questions else "no Kennedy class"
        name = f"Kennedy class {self.kennedy_class}"
        return f"{name} modification {self.n_modifications}" if self.n_modifications else name
