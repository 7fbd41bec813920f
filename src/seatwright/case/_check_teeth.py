"""Contradictions in the tooth states: each position of the arch in exactly one list. Pure."""

from collections.abc import Iterator

from seatwright.case._document import Case
from seatwright.case._notation import teeth_of_arch, tooth_position
from seatwright.case._units import Teeth
from seatwright.errors import Fault

__all__ = ["STATE_LISTS", "check_teeth", "state_of"]

STATE_LISTS = ("present", "implants", "missing_fixed", "missing_partial", "missing_not_replaced")
_INTENT_LISTS = ("third_molar_abutments", "third_molars_not_abutments")
_THIRD = 8  # definition: position of a third molar from the midline


def state_of(teeth: Teeth, tooth: int) -> str:
    """Return the name of the list that a position stands in; empty when it stands in none."""
    return next((name for name in STATE_LISTS if tooth in getattr(teeth, name)), "")


def check_teeth(case: Case) -> Iterator[Fault]:
    """Yield what is wrong with the lists of teeth."""
    yield from _check_lists(case)
    yield from _check_intent(case)
    for tooth in teeth_of_arch(case.arch):
        if not state_of(case.teeth, tooth):
            yield Fault("teeth", f"{tooth} stands in no list", f"name it in one of: {', '.join(STATE_LISTS)}")


def _check_lists(case: Case) -> Iterator[Fault]:
    seen: dict[int, str] = {}
    for name in STATE_LISTS:
        for i, tooth in enumerate(getattr(case.teeth, name)):
            where = f"teeth.{name}[{i}]"
            if tooth not in teeth_of_arch(case.arch):
                yield Fault(where, f"{tooth} is not a tooth of the {case.arch}", "a case describes one arch; remove it")
            elif seen.get(tooth) == name:
                yield Fault(where, f"{tooth} stands twice in this list", "remove one of the two")
            elif tooth in seen:
                yield Fault(where, f"{tooth} stands in teeth.{seen[tooth]} too", "keep it in the one list that is true")
            seen.setdefault(tooth, name)


def _check_intent(case: Case) -> Iterator[Fault]:
    teeth = case.teeth
    for name in _INTENT_LISTS:
        listed = getattr(teeth, name)
        for i, tooth in enumerate(listed):
            where = f"teeth.{name}[{i}]"
            if tooth not in teeth_of_arch(case.arch):
                yield Fault(where, f"{tooth} is not a tooth of the {case.arch}", "a case describes one arch; remove it")
            elif tooth_position(tooth) != _THIRD:
                yield Fault(where, f"{tooth} is no third molar", "this list holds third molars only; remove it")
            elif state_of(teeth, tooth) not in ("present", "implants"):
                yield Fault(where, f"{tooth} does not stand in the arch", "list it as present too, or remove it here")
            elif tooth in listed[:i]:
                yield Fault(where, f"{tooth} stands twice in this list", "remove one of the two")
            elif name == _INTENT_LISTS[1] and tooth in teeth.third_molar_abutments:
                yield Fault(where, f"{tooth} stands in teeth.{_INTENT_LISTS[0]} too", "say either; it cannot be both")
