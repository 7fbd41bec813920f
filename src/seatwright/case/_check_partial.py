"""Contradictions in rests, clasps and guide planes: what they take hold of, what they must state. Pure."""

import math
from collections.abc import Iterator

from seatwright.case._check_teeth import state_of
from seatwright.case._document import Case
from seatwright.case._faults import find_repeated
from seatwright.case._notation import teeth_of_arch, tooth_position
from seatwright.case._partial import Clasp, GuidePlane, Rest
from seatwright.case._terms import ClaspAlloy, ClaspForm, RestKind, ScanRole, Surface
from seatwright.errors import Fault

__all__ = ["check_partial"]

_UNIT_TOLERANCE = 1e-3  # judgement: three written digits; 0.06 degrees at worst, and the direction is normalized on use
_HOLDING = ("present", "implants", "missing_fixed")
_FRONT = 3  # definition: position of the canine from the midline
_ENDS = (Surface.MESIAL, Surface.DISTAL)


def check_partial(case: Case) -> Iterator[Fault]:
    """Yield what is wrong with rests, clasps and guide planes."""
    has_reference = any(s.role is ScanRole.REFERENCE for s in case.scan)
    holds: dict[str, tuple[Rest | Clasp | GuidePlane, ...]] = {
        "rest": case.rest,
        "clasp": case.clasp,
        "guide_plane": case.guide_plane,
    }
    for name, items in holds.items():
        yield from find_repeated(name, "id", [item.id for item in items])
        for i, item in enumerate(items):
            yield from _check_tooth(case, item, f"{name}[{i}]")
            yield from _check_mark(item, f"{name}[{i}]", has_reference=has_reference)
    yield from find_repeated("relief", "id", [area.id for area in case.relief])
    if case.relief and not has_reference:
        yield Fault("relief", "relief stands in the frame of a reference scan, and there is none", "add the scan")
    for i, rest in enumerate(case.rest):
        yield from _check_rest(rest, f"rest[{i}]")
    for i, clasp in enumerate(case.clasp):
        yield from _check_clasp(clasp, f"clasp[{i}]")
    for i, plane in enumerate(case.guide_plane):
        yield from _check_plane(plane, f"guide_plane[{i}]")


def _noun(item: Rest | Clasp | GuidePlane) -> str:
    return {Rest: "rest", Clasp: "clasp", GuidePlane: "guide plane"}[type(item)]


def _check_tooth(case: Case, item: Rest | Clasp | GuidePlane, where: str) -> Iterator[Fault]:
    if item.tooth not in teeth_of_arch(case.arch):
        yield Fault(f"{where}.tooth", f"{item.tooth} is not a tooth of the {case.arch}", "a case describes one arch")
        return
    state = state_of(case.teeth, item.tooth)
    if state and state not in _HOLDING:
        yield Fault(
            f"{where}.tooth",
            f"{_noun(item)} {item.id} holds on {item.tooth}, which is in teeth.{state}",
            f"name a tooth that stands, or one in teeth.{' or teeth.'.join(_HOLDING)}",
        )


def _check_mark(item: Rest | Clasp | GuidePlane, where: str, *, has_reference: bool) -> Iterator[Fault]:
    field = "tip_mm" if isinstance(item, Clasp) else "at_mm"
    if has_reference and getattr(item, field) is None:
        yield Fault(
            f"{where}.{field}",
            f"{_noun(item)} {item.id} does not say where it is",
            "give x, y and z in the reference scan's frame",
        )


def _check_rest(rest: Rest, where: str) -> Iterator[Fault]:
    front = tooth_position(rest.tooth) <= _FRONT
    if rest.kind is RestKind.OCCLUSAL and front:
        yield Fault(
            f"{where}.kind",
            f"{rest.tooth} has no occlusal surface",
            "an incisor or canine takes a cingulum or incisal rest",
        )
    elif rest.kind is not RestKind.OCCLUSAL and not front:
        yield Fault(
            f"{where}.kind",
            f"a {rest.kind} rest cannot sit on {rest.tooth}",
            "premolars and molars take an occlusal rest",
        )
    elif rest.kind is RestKind.OCCLUSAL and rest.surface not in _ENDS:
        yield Fault(f"{where}.surface", f"an occlusal rest lies on no {rest.surface} side", "say mesial or distal")


def _check_clasp(clasp: Clasp, where: str) -> Iterator[Fault]:
    if clasp.form is ClaspForm.CAST and clasp.alloy is ClaspAlloy.STAINLESS_STEEL:
        yield Fault(f"{where}.form", "a stainless steel arm is wrought, not cast", "correct the form or the alloy")


def _check_plane(plane: GuidePlane, where: str) -> Iterator[Fault]:
    if plane.outward is None:
        return
    length = math.hypot(*plane.outward)
    if abs(length - 1.0) > _UNIT_TOLERANCE:
        yield Fault(
            f"{where}.outward",
            f"its length is {length:.4g}, not 1",
            "divide x, y and z by that length" if length > 0 else "give the direction that points out of the crown",
        )
