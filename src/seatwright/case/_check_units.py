"""Contradictions in units and joins: what a unit stands on, what it must state, what it is joined to. Pure."""

from collections.abc import Iterator
from itertools import pairwise

from seatwright.case._check_teeth import state_of
from seatwright.case._document import Case
from seatwright.case._faults import find_repeated
from seatwright.case._notation import teeth_of_arch
from seatwright.case._terms import CoreKind, JoinKind, UnitKind
from seatwright.case._units import Join, Unit
from seatwright.errors import Fault

__all__ = ["KINDS_WITH_DIE", "check_units"]

KINDS_WITH_DIE = frozenset(UnitKind) - {UnitKind.PONTIC, UnitKind.IMPLANT_SCREWED}
"""Units that need margins and a neck: all but a pontic and a screw-retained implant crown."""

_PRIMARY = frozenset({UnitKind.PRIMARY_TELESCOPE, UnitKind.PRIMARY_CONUS})
_STANDS_ON = {
    UnitKind.CROWN: ("present",),
    UnitKind.PONTIC: ("missing_fixed",),
    UnitKind.PRIMARY_TELESCOPE: ("present", "implants"),
    UnitKind.PRIMARY_CONUS: ("present", "implants"),
    UnitKind.IMPLANT_SCREWED: ("implants",),
    UnitKind.ON_ABUTMENT: ("implants",),
}


def check_units(case: Case) -> Iterator[Fault]:
    """Yield what is wrong with units and joins."""
    if not case.unit:
        yield Fault("unit", "the case has no unit", "add a [[unit]] for each crown, retainer and pontic")
    yield from find_repeated("unit", "tooth", [u.tooth for u in case.unit])
    for i, unit in enumerate(case.unit):
        yield from _check_place(case, unit, f"unit[{i}]")
        yield from _check_fields(unit, f"unit[{i}]")
    yield from find_repeated("join", "id", [j.id for j in case.join])
    for i, join in enumerate(case.join):
        yield from _check_join(case, join, f"join[{i}]")
    yield from _check_two_joins(case)
    yield from _check_pontics(case)


def _check_place(case: Case, unit: Unit, where: str) -> Iterator[Fault]:
    state = state_of(case.teeth, unit.tooth)
    allowed = _STANDS_ON[unit.kind]
    if unit.tooth not in teeth_of_arch(case.arch):
        yield Fault(f"{where}.tooth", f"{unit.tooth} is not a tooth of the {case.arch}", "a case describes one arch")
    elif state and state not in allowed:
        yield Fault(
            f"{where}.kind",
            f"a {unit.kind} cannot stand at {unit.tooth}, which is in teeth.{state}",
            f"it needs {unit.tooth} in teeth.{' or teeth.'.join(allowed)}; correct the list or the kind",
        )


def _check_fields(unit: Unit, where: str) -> Iterator[Fault]:
    if unit.kind in KINDS_WITH_DIE:
        if unit.margin is None:
            yield Fault(
                f"{where}.margin",
                f"{unit.kind} {unit.tooth} has no margins",
                "state all four: facial, mesial, lingual, distal; the worst one decides its die",
            )
        if unit.neck_mm is None:
            yield Fault(
                f"{where}.neck_mm", f"{unit.kind} {unit.tooth} has no neck diameter", "measure the die at its neck, mm"
            )
    if unit.kind is UnitKind.PONTIC and unit.margin_center_mm is not None:
        yield Fault(
            f"{where}.margin_center_mm",
            f"pontic {unit.tooth} has no margin, but says where its middle is",
            "remove it, or correct the kind",
        )
    if unit.kind in _PRIMARY and unit.wall_taper_deg is None:
        yield Fault(
            f"{where}.wall_taper_deg",
            f"{unit.kind} {unit.tooth} has no wall taper",
            "state the angle of its outer wall to its axis: 0 to 2 degrees telescope, 4 to 6 conus",
        )
    if unit.kind not in _PRIMARY and unit.wall_taper_deg is not None:
        yield Fault(
            f"{where}.wall_taper_deg",
            f"{unit.kind} {unit.tooth} is no primary crown, but states a wall taper",
            "remove it, or set kind to primary_telescope or primary_conus",
        )
    if unit.core is not CoreKind.TOOTH and unit.kind not in (*_PRIMARY, UnitKind.CROWN):
        yield Fault(f"{where}.core", f"a {unit.kind} has no {unit.core} under it", "remove core, or correct the kind")
    if unit.abutment_screw_plugged is not None and unit.kind is not UnitKind.ON_ABUTMENT:
        yield Fault(
            f"{where}.abutment_screw_plugged",
            f"{unit.kind} {unit.tooth} has no abutment screw",
            "remove it, or set kind to on_abutment",
        )


def _check_join(case: Case, join: Join, where: str) -> Iterator[Fault]:
    units = {u.tooth: u for u in case.unit}
    unknown = [t for t in join.units if t not in units]
    for i, tooth in enumerate(join.units):
        if tooth not in units:
            yield Fault(f"{where}.units[{i}]", f"{tooth} is no unit of this case", "add the unit, or remove it here")
        elif tooth in join.units[:i]:
            yield Fault(
                f"{where}.units[{i}]", f"{tooth} stands twice in {join.kind} {join.id}", "remove one of the two"
            )
    if unknown or len(set(join.units)) < len(join.units):
        return
    yield from _check_order(case, join, where)
    kinds = {units[t].kind for t in join.units}
    if kinds == {UnitKind.PONTIC}:
        yield Fault(
            f"{where}.units", f"{join.kind} {join.id} has no retainer", "name the crowns that carry its pontics"
        )
    if join.kind is JoinKind.BRIDGE and UnitKind.PONTIC not in kinds:
        yield Fault(f"{where}.kind", f"bridge {join.id} has no pontic", "crowns joined without a pontic are a splint")


def _check_order(case: Case, join: Join, where: str) -> Iterator[Fault]:
    order = [t for t in teeth_of_arch(case.arch) if t not in case.teeth.missing_not_replaced]
    if any(t not in order for t in join.units):
        return
    places = [order.index(t) for t in join.units]
    steps = {b - a for a, b in pairwise(places)}
    if steps not in ({1}, {-1}):
        ordered = [order[p] for p in sorted(places)]
        gaps = [t for t in order[min(places) : max(places) + 1] if t not in join.units]
        hint = (
            f"{', '.join(map(str, gaps))} lies between: name it too, or make two joins"
            if gaps
            else f"write them in order: {ordered}"
        )
        yield Fault(f"{where}.units", f"the units of {join.kind} {join.id} do not stand side by side in order", hint)


def _check_two_joins(case: Case) -> Iterator[Fault]:
    for kind in JoinKind:
        first: dict[int, str] = {}
        for j, join in enumerate(case.join):
            if join.kind is not kind:
                continue
            for i, tooth in enumerate(join.units):
                if first.get(tooth, join.id) != join.id:
                    yield Fault(
                        f"join[{j}].units[{i}]",
                        f"{tooth} is in two {kind}s: {first[tooth]} and {join.id}",
                        "one body is one join: merge the two, or take the tooth out of one",
                    )
                first.setdefault(tooth, join.id)


def _check_pontics(case: Case) -> Iterator[Fault]:
    in_bridge = {t for j in case.join if j.kind is JoinKind.BRIDGE for t in j.units}
    pontics = {u.tooth for u in case.unit if u.kind is UnitKind.PONTIC}
    for i, unit in enumerate(case.unit):
        if unit.kind is UnitKind.PONTIC and unit.tooth not in in_bridge:
            yield Fault(
                f"unit[{i}]", f"pontic {unit.tooth} is in no bridge", "add a [[join]] of kind bridge with its retainers"
            )
    for i, tooth in enumerate(case.teeth.missing_fixed):
        if tooth not in pontics:
            yield Fault(
                f"teeth.missing_fixed[{i}]",
                f"{tooth} is to be replaced by a fixed bridge, but there is no pontic",
                "add a [[unit]] of kind pontic and its bridge, or move the tooth to another list",
            )
