"""Whether a die that the laboratory sent back may be used in its crown, and if not, every reason why.

Owns the criteria of a valid returned die. Knows nothing of margins and techniques.
"""

from dataclasses import dataclass
from enum import StrEnum

from seatwright.case import DieTrial, ReturnedDie, Seating, Unit
from seatwright.evidence import find_evidence

__all__ = ["DieFault", "DieFaultKind", "DieValidity", "check_returned_die"]

_MIRROR_QUADRANT = {1: 2, 2: 1, 3: 4, 4: 3}  # ISO 3950: quadrants of the permanent dentition


class DieFaultKind(StrEnum):
    """Criteria that a returned die can fail."""

    NO_NUMBER = "no-number"
    MIRROR_TOOTH = "mirror-tooth"
    WRONG_NUMBER = "wrong-number"
    OLD_PREPARATION = "old-preparation"
    NOT_TRIED = "not-tried"
    SHORT = "short"
    FORCED = "forced"
    GAP_UNMEASURED = "gap-unmeasured"
    GAP_TOO_WIDE = "gap-too-wide"
    OVER_DITCHED = "over-ditched"
    NO_KEY = "no-key"


@dataclass(frozen=True, slots=True)
class DieFault:
    """One failed criterion, in words."""

    kind: DieFaultKind
    what: str


@dataclass(frozen=True, slots=True)
class DieValidity:
    """Verdict on one returned die; valid when nothing failed."""

    die: str
    engraved: str
    gap_um: float | None
    """Largest gap all round, from the trial when one is logged."""
    faults: tuple[DieFault, ...]

    @property
    def is_valid(self) -> bool:
        """Whether the die may be used."""
        return not self.faults

    @property
    def has_wrong_number(self) -> bool:
        """Whether the die carries another tooth's number."""
        wrong = (DieFaultKind.MIRROR_TOOTH, DieFaultKind.WRONG_NUMBER)
        return any(fault.kind in wrong for fault in self.faults)


def check_returned_die(die: ReturnedDie, trial: DieTrial | None, unit: Unit) -> DieValidity:
    """Check a returned die against the unit it was sent for.

    It is valid only when its number is the unit's, it belongs to the present preparation, seats without force, leaves
    no more than 50 µm all round, is not over-ditched and has a keyed root end. Otherwise it counts as absent.

    Parameters
    ----------
    die : ReturnedDie
    trial : DieTrial or None
        Logged trial of this die in this unit; it overrides the fit stated in the case. A fit that nobody saw or
        measured makes the die invalid until it is tried.
    unit : Unit

    Returns
    -------
    DieValidity
        With every criterion that failed.

    Examples
    --------
    >>> from seatwright.case import Body, UnitKind
    >>> crown = Unit(tooth=43, kind=UnitKind.CROWN, body=Body.NOBLE_ALLOY)
    >>> die = ReturnedDie(id="d1", tooth=43, engraved="33", fit_gap_um=30.0, seating=Seating.FREELY,
    ...                   current_preparation=True, over_ditched=False, keyed_root=True)
    >>> [fault.what for fault in check_returned_die(die, None, crown).faults]
    ['it is engraved 33, the mirror tooth of 43']
    """
    seating = trial.seating if trial else die.seating
    gap_um = trial.gap_um if trial else die.fit_gap_um
    short_by_mm = trial.short_by_mm if trial else die.short_by_mm
    faults = [
        *_check_number(die, unit),
        *_check_seating(seating, short_by_mm),
        *_check_gap(gap_um),
        *_check_condition(die),
    ]
    return DieValidity(die.id, die.engraved.strip(), gap_um, tuple(faults))


def _check_number(die: ReturnedDie, unit: Unit) -> list[DieFault]:
    engraved = die.engraved.strip()
    if not engraved:
        return [DieFault(DieFaultKind.NO_NUMBER, "it carries no tooth number")]
    if engraved == str(unit.tooth):
        return []
    quadrant, position = divmod(unit.tooth, 10)
    if engraved == str(10 * _MIRROR_QUADRANT[quadrant] + position):
        return [DieFault(DieFaultKind.MIRROR_TOOTH, f"it is engraved {engraved}, the mirror tooth of {unit.tooth}")]
    return [DieFault(DieFaultKind.WRONG_NUMBER, f"it is engraved {engraved}, not {unit.tooth}")]


def _check_seating(seating: Seating | None, short_by_mm: float) -> list[DieFault]:
    if seating is None:
        return [DieFault(DieFaultKind.NOT_TRIED, "nobody has tried how it seats")]
    if seating is Seating.SHORT or short_by_mm > 0:
        by = f" by {short_by_mm:g} mm" if short_by_mm > 0 else ""
        return [DieFault(DieFaultKind.SHORT, f"it stops short{by}")]
    if seating is Seating.WITH_FORCE:
        return [DieFault(DieFaultKind.FORCED, "it seats only with force")]
    return []


def _check_gap(gap_um: float | None) -> list[DieFault]:
    limit_um = find_evidence("die_epoxy_gap_limit").require_value()
    if gap_um is None:
        return [DieFault(DieFaultKind.GAP_UNMEASURED, "its gap was never measured")]
    if gap_um > limit_um:
        return [DieFault(DieFaultKind.GAP_TOO_WIDE, f"its gap is {gap_um:g} µm, more than {limit_um:g}")]
    return []


def _check_condition(die: ReturnedDie) -> list[DieFault]:
    faults = []
    if not die.current_preparation:
        faults.append(DieFault(DieFaultKind.OLD_PREPARATION, "it belongs to an earlier preparation"))
    if die.over_ditched:
        faults.append(DieFault(DieFaultKind.OVER_DITCHED, "it is over-ditched"))
    if not die.keyed_root:
        faults.append(DieFault(DieFaultKind.NO_KEY, "its root end has no key to hold it in the stone"))
    return faults
