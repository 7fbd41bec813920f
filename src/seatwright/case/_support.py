"""Kennedy class and modifications by Applegate's eight rules. Derived from the tooth states, never guessed.

Looks at the spaces that the partial replaces; a gap filled by a fixed bridge or an implant counts as teeth. Where an
intent that the rules need was not stated, there is no class but a question.
"""

from dataclasses import dataclass
from typing import Final

from seatwright.case._notation import teeth_of_arch, tooth_position
from seatwright.case._support_result import AppliedRule, EdentulousSpace, KennedyClass, SpaceRole, SupportResult
from seatwright.case._terms import Arch
from seatwright.case._units import Teeth
from seatwright.findings import Finding, Severity, Source, SourceKind

__all__ = ["classify_support"]

_SOURCE: Final = Source(
    SourceKind.MEMORY,
    "Applegate OC, The rationale of partial denture choice, J Prosthet Dent 1960;10:891-907, rules 1-8",
)
_THIRD, _SECOND = 8, 7  # definition: position of a molar from the midline


def classify_support(teeth: Teeth, arch: Arch) -> SupportResult:
    """Return Kennedy class, modifications and spaces of an arch by Applegate's rules.

    Parameters
    ----------
    teeth : Teeth
        State of every position. A position that stands in no list is asked for when it is a molar that the rules
        turn on; any other makes the case invalid (`validate_case`).
    arch : Arch

    Returns
    -------
    SupportResult
        With `questions` and no class while an intent is missing.

    Notes
    -----
    A position that is missing and not replaced is passed over, so that the spaces on its two sides are one. When two
    bounded spaces lie equally far back, the one on the patient's right is called the deciding one; class and number
    of modifications do not depend on that. Rule 4 as worded asks that the opposing second molar is missing too; the
    case knows one arch only, so that this is a finding.

    References
    ----------
    .. [1] Kennedy E. Partial denture construction. Dent Items Interest 1925;47:23-35 (from memory).
    .. [2] Applegate OC. The rationale of partial denture choice. J Prosthet Dent 1960;10:891-907 (from memory).

    Examples
    --------
    >>> present = (37, 35, 34, 33, 32, 31, 41, 42, 43, 44, 45)
    >>> teeth = Teeth(present=present, missing_partial=(36, 46, 47), missing_not_replaced=(38, 48))
    >>> classify_support(teeth, Arch.MANDIBLE).shown()
    'Kennedy class II modification 1'
    """
    standing, rules = _count_positions(teeth, arch)
    questions = _open_questions(teeth, arch)
    if questions:
        return SupportResult(None, 0, (), tuple(rules), tuple(f.what for f in questions), tuple(questions))
    runs = _find_runs(standing)
    kennedy, deciding = _decide(runs)
    spaces = tuple(
        EdentulousSpace(
            r.teeth, SpaceRole.DECIDING if r in deciding else SpaceRole.MODIFICATION, r.is_free_end, r.crosses
        )
        for r in runs
        if kennedy is not None
    )
    n_modifications = sum(s.role is SpaceRole.MODIFICATION for s in spaces)
    rules += _rules_of_class(kennedy, spaces)
    return SupportResult(
        kennedy, n_modifications, spaces, tuple(rules), (), tuple(_findings(teeth, kennedy, runs=runs, arch=arch))
    )


@dataclass(frozen=True, slots=True)
class _Run:
    teeth: tuple[int, ...]
    open_right: bool
    open_left: bool
    crosses: bool

    @property
    def is_free_end(self) -> bool:
        return self.open_right or self.open_left

    @property
    def farthest_back(self) -> int:
        return max(tooth_position(t) for t in self.teeth)


def _count_positions(teeth: Teeth, arch: Arch) -> tuple[list[tuple[int, bool]], list[AppliedRule]]:
    """Return (tooth, stands) for the positions that count, and the rules that left some out or in."""
    rules = [AppliedRule(1, "classified on the teeth as planned: a tooth to be extracted stands as missing")]
    counted = []
    for tooth in teeth_of_arch(arch):
        position = tooth_position(tooth)
        if tooth in teeth.missing_not_replaced:
            if position == _THIRD:
                rules.append(AppliedRule(2, f"{tooth} is missing and not replaced: not considered"))
            elif position == _SECOND:
                rules.append(AppliedRule(4, f"{tooth} is missing and not replaced: not considered"))
        elif tooth in teeth.missing_partial:
            counted.append((tooth, False))
        elif tooth in teeth.third_molars_not_abutments:
            rules.append(AppliedRule(3, f"{tooth} is present, but no abutment: not considered"))
        else:
            if tooth in teeth.third_molar_abutments:
                rules.append(AppliedRule(3, f"{tooth} is present and an abutment: considered"))
            counted.append((tooth, True))
    return counted, sorted(rules, key=lambda rule: rule.number)


def _open_questions(teeth: Teeth, arch: Arch) -> list[Finding]:
    stated = {
        *teeth.present,
        *teeth.implants,
        *teeth.missing_fixed,
        *teeth.missing_partial,
        *teeth.missing_not_replaced,
    }
    intent = {*teeth.third_molar_abutments, *teeth.third_molars_not_abutments}
    order = teeth_of_arch(arch)
    questions = []
    for side in (order, order[::-1]):
        third, second = side[0], side[1]
        questions += [
            _question(
                f"support-molar-{tooth}-unstated",
                f"Is {tooth} present, or missing? And if missing, will the partial replace it?",
                "a free end and a bounded space differ by it",
                f"name {tooth} in one list of teeth: present, missing_partial, missing_not_replaced ...",
                about=str(tooth),
            )
            for tooth in (third, second)
            if tooth not in stated
        ]
        next_counted = next((t for t in side[1:] if t not in teeth.missing_not_replaced), None)
        if third in stated - {*teeth.missing_partial, *teeth.missing_not_replaced} and (
            third not in intent and next_counted in teeth.missing_partial
        ):
            questions.append(
                _question(
                    f"support-third-molar-{third}-intent",
                    f"Will {third} carry the partial?",
                    "the third molar borders a space: bounded if it is an abutment, a free end if not (rule 3)",
                    f"name {third} in teeth.third_molar_abutments or teeth.third_molars_not_abutments",
                    about=str(third),
                )
            )
    return questions


def _question(identifier: str, what: str, why: str, do: str, *, about: str) -> Finding:
    return Finding(identifier, Severity.WARNING, what, why, do, _SOURCE, about)


def _find_runs(counted: list[tuple[int, bool]]) -> list[_Run]:
    runs: list[_Run] = []
    current: list[int] = []
    stood = False
    for tooth, stands in [*counted, (0, True)]:
        if not stands:
            current.append(tooth)
            continue
        if current:
            quadrants = {t // 10 for t in current}
            runs.append(_Run(tuple(current), not stood, tooth == 0, len(quadrants) == 2))
            current = []
        stood = True
    return runs


def _decide(runs: list[_Run]) -> tuple[KennedyClass | None, list[_Run]]:
    """Return the class and the deciding runs (rule 5: the most posterior ones)."""
    if not runs or any(r.open_right and r.open_left for r in runs):
        return None, []
    free_ends = [r for r in runs if r.is_free_end]
    if free_ends:
        return (KennedyClass.I if len(free_ends) == 2 else KennedyClass.II), free_ends
    if len(runs) == 1 and runs[0].crosses:
        return KennedyClass.IV, runs
    back = max(runs, key=lambda r: (r.farthest_back, not r.crosses))
    return KennedyClass.III, [back]


def _rules_of_class(kennedy: KennedyClass | None, spaces: tuple[EdentulousSpace, ...]) -> list[AppliedRule]:
    if kennedy is None:
        return []
    deciding = "; ".join(_name(s.teeth) for s in spaces if s.role is SpaceRole.DECIDING)
    others = [s for s in spaces if s.role is SpaceRole.MODIFICATION]
    rules = [AppliedRule(5, f"the most posterior space decides: {deciding}")]
    if others:
        rules.append(
            AppliedRule(6, f"every other space is a modification: {'; '.join(_name(s.teeth) for s in others)}")
        )
        rules.append(AppliedRule(7, "modifications are counted; their length does not matter"))
    if kennedy is KennedyClass.IV:
        rules.append(AppliedRule(8, "a class IV has no modification"))
    elif any(s.is_across_midline for s in others):
        rules.append(AppliedRule(8, "a space lies behind the one across the midline: not a class IV"))
    return rules


def _findings(teeth: Teeth, kennedy: KennedyClass | None, *, runs: list[_Run], arch: Arch) -> list[Finding]:
    findings = []
    if not runs:
        findings.append(
            Finding(
                "support-no-space", Severity.NOTE, "The partial replaces no tooth: no Kennedy class", source=_SOURCE
            )
        )
    elif kennedy is None:
        findings.append(
            Finding(
                "support-no-tooth",
                Severity.WARNING,
                "No tooth that counts stands in this arch: no Kennedy class",
                "Kennedy's classes need standing teeth",
                "check the lists of teeth; this is a complete denture",
                _SOURCE,
            )
        )
    findings += [
        Finding(
            f"support-second-molar-{tooth}",
            Severity.CAUTION,
            f"{tooth} is missing and not replaced: passed over",
            "rule 4 supposes that the opposing second molar is missing and not replaced either",
            "check the opposing arch: an unopposed second molar over-erupts",
            _SOURCE,
            str(tooth),
        )
        for tooth in teeth_of_arch(arch)
        if tooth in teeth.missing_not_replaced and tooth_position(tooth) == _SECOND
    ]
    return findings


def _name(teeth: tuple[int, ...]) -> str:
    return "-".join(str(t) for t in teeth)
